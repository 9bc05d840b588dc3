"""The list of the gear and of the kits, read in few queries."""

import datetime

import pytest

from equipment import queries
from tests import making

pytestmark = pytest.mark.django_db


def names(operator, **choice):
    return [item.name for item in queries.gear(operator, **choice)]


def some_gear(owner):
    making.a_radio(owner, "Blue box", weight_kg=0.3, acquired_on=datetime.date(2024, 1, 1), maker="Hilltop")
    making.a_pack(owner, "Pack one", weight_kg=0.7, acquired_on=datetime.date(2023, 1, 1))
    making.an_antenna(owner, "Wire")
    making.a_radio(owner, "Old box", retired_on=datetime.date(2026, 1, 1))


def test_the_list_is_searched_filtered_and_sorted():
    owner = making.an_operator()
    some_gear(owner)
    assert names(owner) == ["Blue box", "Pack one", "Wire"]
    assert names(owner, q="hilltop") == ["Blue box"]
    assert names(owner, kind="radio", state="all") == ["Blue box", "Old box"]
    assert names(owner, state="retired") == ["Old box"]
    assert names(owner, sort="-name") == ["Wire", "Pack one", "Blue box"]
    assert names(owner, sort="kind") == ["Wire", "Pack one", "Blue box"]
    assert names(owner, sort="acquired") == ["Pack one", "Blue box", "Wire"]


def test_what_was_never_weighed_stands_last_either_way():
    owner = making.an_operator()
    some_gear(owner)
    assert names(owner, sort="weight") == ["Blue box", "Pack one", "Wire"]
    assert names(owner, sort="-weight") == ["Pack one", "Blue box", "Wire"]


def test_gear_of_others_is_not_listed():
    some_gear(making.an_operator("Q2DEF"))
    assert names(making.an_operator()) == []


def test_each_kind_adds_what_tells_it_from_others():
    owner = making.an_operator()
    radio = making.a_radio(owner, "A", maker="Hilltop", model="HR-5")
    making.a_power_setting(radio, output_w=0.5)
    making.a_power_setting(radio, "high", 5)
    antenna = making.an_antenna(owner, "B")
    making.an_arrangement(antenna)
    making.an_arrangement(antenna, "old", retired_on=datetime.date(2026, 1, 1))
    making.a_pack(owner, "C", measured_ah=5.6)
    making.a_feedline(owner, "D", line_type="RG-316", length_m=7.5)
    a, b, c, d = queries.gear_rows(queries.gear(owner))
    assert (a.make, a.power_settings, a.most_w) == ("Hilltop HR-5", 2, 5)
    assert b.arrangements == 1
    assert (c.chemistry, c.rated_ah, c.measured_ah) == ("LiFePO4", 6.0, 5.6)
    assert (d.line_type, d.length_m) == ("RG-316", 7.5)


def test_two_hundred_pieces_take_as_many_queries_as_one(django_assert_num_queries):
    owner = making.an_operator()
    making.a_radio(owner, "Radio")
    with django_assert_num_queries(6):
        assert len(queries.gear_rows(queries.gear(owner))) == 1
    for number in range(50):
        making.a_pack(owner, f"Pack {number}")
        making.a_feedline(owner, f"Line {number}")
        making.an_arrangement(making.an_antenna(owner, f"Wire {number}"))
        making.a_power_setting(making.a_radio(owner, f"Radio {number}"))
    with django_assert_num_queries(6):
        assert len(queries.gear_rows(queries.gear(owner))) == 201


def test_kits_are_listed_with_weight_arrangements_and_bands():
    owner = making.an_operator()
    antenna = making.an_antenna(owner, weight_kg=0.4)
    wire = making.an_arrangement(antenna, "wire", bands=["20m", "40m"])
    old = making.an_arrangement(antenna, "old", bands=["80m"], retired_on=datetime.date(2026, 1, 1))
    making.a_kit(owner, items=[(making.a_radio(owner, weight_kg=0.3), 2), making.a_feedline(owner)],
                 arrangements=[wire, old])
    making.a_kit(owner, "Old kit", retired_on=datetime.date(2026, 1, 1))
    [row] = queries.kit_rows(owner)
    assert (row.name, row.pieces, row.arrangements, row.bands) == ("Shore kit", 4, ("wire",), ("40m", "20m"))
    assert (row.weight.weight_kg, row.weight.unweighed) == (pytest.approx(1.0), 1)
    assert [row.name for row in queries.kit_rows(owner, state="all")] == ["Old kit", "Shore kit"]


def test_many_kits_take_as_many_queries_as_one(django_assert_num_queries):
    owner = making.an_operator()
    for number in range(12):
        wire = making.an_arrangement(making.an_antenna(owner, f"Wire {number}"), bands=["20m"])
        making.a_kit(owner, f"Kit {number}", items=[making.a_radio(owner, f"Radio {number}")], arrangements=[wire])
        with django_assert_num_queries(4):
            assert len(queries.kit_rows(owner)) == number + 1


def test_what_is_due_is_said_for_antennas_and_packs_in_use():
    owner = making.an_operator()
    antenna = making.an_antenna(owner)
    swept = making.an_arrangement(antenna, "swept")
    making.a_sweep(swept)
    making.an_arrangement(antenna, "new way")
    making.an_arrangement(antenna, "old way", retired_on="2026-01-01")
    withdrawn = making.an_arrangement(antenna, "gone way")
    making.a_sweep(withdrawn).withdraw(owner)
    making.a_pack(owner)
    making.an_antenna(owner, "No way yet")
    rows = {row.name: row for row in queries.gear_rows(queries.gear(owner))}
    assert rows["Wire antenna"].due == ("A sweep: gone way, new way were never swept.",)
    assert rows["No way yet"].due == ()
    assert any("capacity test" in one for one in rows["Pack one"].due)
    assert any("voltage" in one for one in rows["Pack one"].due)
