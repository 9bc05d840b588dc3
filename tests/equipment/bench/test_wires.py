"""How long must the wire be: lengths on the page, what they rest on, and what is refused."""

import pytest

from tests import making

pytestmark = pytest.mark.django_db

ASKED = {"bands": ["40m", "20m"], "wire_m": "1.6", "shortest_m": "5", "longest_m": "30", "typed_in": "metric"}


def page(client, **asked):
    answer = client.get("/bench/wires/", {**ASKED, **asked})
    assert answer.status_code == 200
    return answer.content.decode()


def test_lengths_of_each_band_stand_beside_the_rule_of_thumb(client_of):
    """468/f ft for 7.15 MHz is 19.95 m; a bare wire of 1.6 mm in free space is 2.2 % longer (NEC-2)."""
    text = page(client_of(making.an_operator()))
    assert "19.95\xa0m" in text
    assert "19.93 to 20.65\xa0m" in text
    assert "Where the formula comes from" in text and "When not to trust it" in text
    assert "power lines" in text


def test_insulation_shortens_and_says_where_its_figure_comes_from(client_of):
    client = client_of(making.an_operator())
    text = page(client, insulation="PVC", wire_m="1", outer_m="2.2")
    assert "relative permittivity 2.7 to 4 (from memory of data sheets" in text
    assert "19.93 to 20.65" not in text
    assert "Velocity factor 0.95 of the insulated wire" in page(client, velocity="0,95")


def test_the_height_of_an_arrangement_is_used_and_linked(client_of):
    owner = making.an_operator()
    arrangement = making.an_arrangement(making.an_antenna(owner), feedpoint_height_m=8.0, element_length_m=20.2)
    text = page(client_of(owner), arrangement=arrangement.pk)
    assert f'<a href="{arrangement.get_absolute_url()}">Height above ground: 8\xa0m' in text
    assert "A horizontal wire 8\xa0m high" in text
    assert "Your 20.2\xa0m of sloping from the mast is not clear" in text


def test_a_wire_too_near_the_ground_is_refused_with_the_reason_and_the_other_answers_stand(client_of):
    text = page(client_of(making.an_operator()), height_m="0.5")
    assert "no answer" in text and "which begins at 0.05" in text
    assert "End-fed half-waves" in text and "Clear stretches" in text


def test_lengths_are_shown_in_feet_for_those_who_use_them(client_of):
    text = page(client_of(making.an_operator(units="imperial")), typed_in="imperial", shortest_m="16", longest_m="98",
                wire_m="0.06")
    assert "65\xa0ft" in text
    assert '"unit":"ft"' in text.replace("&quot;", '"')


def test_where_no_length_stays_clear_the_page_says_so(client_of):
    bands = ["40m", "30m", "20m", "17m", "15m", "12m", "10m"]
    text = page(client_of(making.an_operator()), bands=bands, shortest_m="26", longest_m="30")
    assert "No length between 26\xa0m and 30\xa0m stays clear" in text


@pytest.mark.parametrize(("asked", "said"), [
    ({"bands": []}, "Still needed"), ({"wire_m": ""}, "Still needed"), ({"wire_m": "0"}, "cannot be below"),
    ({"insulation": "PVC"}, "Needed to reckon with the insulation"),
    ({"insulation": "PVC", "outer_m": "1"}, "thicker than without"),
    ({"shortest_m": "30"}, "longer than where it begins"),
    ({"velocity": "1.2"}, "cannot be above"), ({"bands": ["nonsense"]}, "Select a valid choice"),
])
def test_what_makes_no_sense_is_named(client_of, asked, said):
    text = page(client_of(making.an_operator()), **asked)
    assert said in text
    assert "Clear stretches" not in text


def test_a_thick_tube_outside_the_table_is_refused(client_of):
    text = page(client_of(making.an_operator()), bands=["2m"], wire_m="30")
    assert "outside the table" in text


def test_the_page_begins_with_bands_ticked_and_none_ticked_stays_none(client_of):
    client = client_of(making.an_operator())
    assert "Clear stretches" in client.get("/bench/wires/").content.decode()
    assert "Still needed" in client.get("/bench/wires/", {"typed_in": "metric", "wire_m": "1"}).content.decode()


def test_arrangements_of_another_operator_fill_nothing(client_of):
    theirs = making.an_arrangement(making.an_antenna(making.an_operator("Q2DEF")), "of another", feedpoint_height_m=7)
    mine = making.an_operator()
    making.an_arrangement(making.an_antenna(mine))
    text = page(client_of(mine), arrangement=theirs.pk)
    assert "Select a valid choice" in text and "of another" not in text


def test_the_page_takes_few_queries_however_many_arrangements(client_of, django_assert_max_num_queries):
    owner = making.an_operator()
    for n in range(6):
        arrangement = making.an_arrangement(making.an_antenna(owner, f"Wire {n}"), feedpoint_height_m=5)
    client = client_of(owner)
    with django_assert_max_num_queries(8):
        page(client, arrangement=arrangement.pk)
