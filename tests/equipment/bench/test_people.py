"""How far away do people stay: distances, the near field, what it rests on, and what is refused."""

import math

import pytest

from tests import making

pytestmark = pytest.mark.django_db

ASKED = {"watts": "100", "bands": ["20m"], "mode": "carrier", "public_percent": "100", "ground": "2.56"}


def asked(client, **fields):
    answer = client.get("/bench/people/", {**ASKED, **fields})
    assert answer.status_code == 200
    return answer.context["answers"], answer.content.decode()


def row(answers, band):
    return next(row for row in answers[0].tables[0].rows if row[0] == band)


def test_a_distance_of_the_published_formula_where_it_holds(client_of):
    """sqrt(P G F/(4 pi S)), 0.2 mW/cm² for everybody and 1 mW/cm² controlled on 144 MHz (47 CFR 1.1310, OET 65)."""
    client = client_of(making.an_operator())
    answers, text = asked(client, bands=["2m"], watts="1500", gain_dbi="24", rules="United States")
    public, controlled = (math.sqrt(1500 * 10**2.4 * 2.56 / (4 * math.pi * s * 10)) for s in (0.2, 1.0))
    assert public == pytest.approx(642 * 0.3048, rel=2e-3)  # the bulletin's own table
    cells = row(answers, "2m")
    assert float(cells[1].split("\xa0")[0]) == pytest.approx(public, abs=0.11)
    assert float(cells[2].split("\xa0")[0]) == pytest.approx(controlled, abs=0.11)
    assert "47 CFR 1.1310" in text and "97-01" in text and "Supplement B" in text


def test_inside_the_near_field_of_a_short_whip_the_figure_is_refused(client_of):
    """NEC-2: 2.8 m for 100 W into 2.5 m on 7.1 MHz, where the formula says 0.97 m; the near field ends at 6.7 m."""
    answers, text = asked(client_of(making.an_operator()), bands=["40m"], length_m="2.5")
    cells = row(answers, "40m")
    assert cells[4] == cells[5] == "refused"
    assert cells[1] == cells[2] == "6.9\xa0m"
    assert "not on the safe side" in text
    assert "0.9" not in " ".join(cells)


def test_a_longer_antenna_inside_its_near_field_is_flagged(client_of):
    answers, text = asked(client_of(making.an_operator()), bands=["40m"], length_m="20")
    assert "(near field)" in row(answers, "40m")[4]
    assert "does not hold: keep people beyond the edge" in text.replace("\n", " ")


def test_mode_and_time_count_for_everybody_and_mode_only_for_those_who_know(client_of):
    client = client_of(making.an_operator())
    full, _ = asked(client, bands=["6m"], watts="1500")
    half, _ = asked(client, bands=["6m"], watts="1500", public_percent="25")
    voice, _ = asked(client, bands=["6m"], watts="1500", mode="voice SSB")

    def ends(answers):
        return [float(cell.split("\xa0")[0]) for cell in row(answers, "6m")[1:3]]

    assert ends(half)[0] == pytest.approx(ends(full)[0] / 2, abs=0.11) and ends(half)[1] == ends(full)[1]
    assert ends(voice)[0] == pytest.approx(ends(full)[0] * math.sqrt(0.2), abs=0.11)


def test_the_page_says_what_it_assumes_and_that_the_operator_must_evaluate(client_of):
    _, text = asked(client_of(making.an_operator()))
    for said in (
        "It is not a compliance evaluation", "the evaluation that the regulator of the place requires",
        "100\xa0W at the antenna, no loss taken off", "the largest that a dipole can have", "it burns, at any power",
    ):
        assert said in text


def test_the_stricter_of_two_rules_is_taken_unless_told_otherwise(client_of):
    """ICNIRP 2020 allows 76.8 V/m on 7 MHz, 47 CFR 1.1310 117.7 V/m: half as far again."""
    client = client_of(making.an_operator())
    reached = {}
    for rules in ("the stricter of both", "United States", "ICNIRP 2020"):
        answers, text = asked(client, bands=["40m"], watts="3000", gain_dbi="10", length_m="20", rules=rules)
        reached[rules] = float(row(answers, "40m")[1].split("\xa0")[0])
        assert ("from memory" in text) == (rules != "United States")
    assert reached["the stricter of both"] == reached["ICNIRP 2020"]
    assert reached["ICNIRP 2020"] / reached["United States"] == pytest.approx(117.7 / 76.8, rel=0.02)


def test_an_arrangement_and_a_radio_fill_in(client_of):
    owner = making.an_operator()
    arrangement = making.an_arrangement(making.an_antenna(owner), element_length_m=20.2)
    setting = making.a_power_setting(making.a_radio(owner), "high", 20.0)
    _, text = asked(client_of(owner), watts="", arrangement=arrangement.pk, setting=setting.pk)
    assert "Power: 20\xa0W, high of Little radio" in text
    assert "Length of wire or whip: 20.2\xa0m" in text


def test_distances_are_shown_in_feet_rounded_up(client_of):
    answers, _ = asked(client_of(making.an_operator(units="imperial")), length_m="8", bands=["40m"])
    assert row(answers, "40m")[3] == "22.5\xa0ft"  # 6.82 m is 22.4 ft


@pytest.mark.parametrize(("fields", "said"), [
    ({"watts": ""}, "Still needed"), ({"watts": "0"}, "cannot be below"), ({"watts": "5000"}, "cannot be above"),
    ({"public_percent": "120"}, "cannot be above"), ({"mode": "shouting"}, "Select a valid choice"),
    ({"length_m": "250"}, "more than 4 wavelengths must be given"), ({"bands": []}, "Still needed"),
])
def test_what_makes_no_sense_is_named_or_refused(client_of, fields, said):
    typed = {"typed_in": "metric", **fields}
    _, text = asked(client_of(making.an_operator()), **typed)
    assert said in text


def test_the_page_takes_few_queries(client_of, django_assert_max_num_queries):
    owner = making.an_operator()
    setting = making.a_power_setting(making.a_radio(owner))
    for n in range(5):
        arrangement = making.an_arrangement(making.an_antenna(owner, f"Wire {n}"), element_length_m=10.0)
    client = client_of(owner)
    with django_assert_max_num_queries(12):
        asked(client, arrangement=arrangement.pk, setting=setting.pk, bands=["40m", "20m"])
