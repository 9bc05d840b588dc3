"""What is read of a kit: packing list, weight, and the arrangements for each band."""

import datetime

import pytest

from equipment import queries
from tests import making

pytestmark = pytest.mark.django_db


def a_full_kit(owner):
    """A kit with a pack, two radios of which one goes along twice, and two arrangements of one antenna."""
    antenna = making.an_antenna(owner, weight_kg=0.3)
    wire = making.an_arrangement(
        antenna, "wire", element_length_m=12.5, tap="3", coil="air coil", feedpoint_height_m=2.0,
        orientation="sloping", transformer="49:1",
    )
    making.a_band_setting(wire, "40m")
    making.a_band_setting(wire, "20m", tap="5", element_length_m=10.1, tuner=True, note="fold the end back")
    short = making.an_arrangement(antenna, "short", bands=["20m"])
    return making.a_kit(
        owner,
        items=[
            making.a_pack(owner, weight_kg=0.7),
            (making.a_radio(owner, weight_kg=0.25), 2),
            making.a_radio(owner, "Other radio"),
            making.a_feedline(owner, weight_kg=0.1),
        ],
        arrangements=[wire, short],
    )


def test_the_packing_list_goes_by_kind_and_includes_the_antenna_of_an_arrangement():
    kit = a_full_kit(making.an_operator())
    assert [(line.section, line.text, line.quantity, line.weight_kg) for line in queries.packing_list(kit)] == [
        ("Radios", "Little radio", 2, 0.5),
        ("Radios", "Other radio", 1, None),
        ("Antennas", "Wire antenna", 1, 0.3),
        ("Battery packs", "Pack one", 1, 0.7),
        ("Feedlines", "Thin coax", 1, 0.1),
    ]


def test_an_antenna_that_is_listed_is_not_listed_twice():
    owner = making.an_operator()
    antenna = making.an_antenna(owner)
    kit = making.a_kit(owner, items=[antenna], arrangements=[making.an_arrangement(antenna)])
    assert [line.item_id for line in queries.packing_list(kit)] == [antenna.pk]


def test_the_weight_says_how_much_of_the_kit_was_never_weighed():
    kit = a_full_kit(making.an_operator())
    weight = queries.kit_weight(queries.packing_list(kit))
    assert weight.weight_kg == pytest.approx(1.6)
    assert (weight.weighed, weight.unweighed, weight.lines) == (4, 1, 5)


def test_an_empty_kit_weighs_nothing():
    kit = making.a_kit()
    assert queries.packing_list(kit) == []
    assert queries.kit_weight([]).weight_kg == 0


def test_retired_gear_is_marked_on_the_packing_list():
    owner = making.an_operator()
    old = making.a_radio(owner, retired_on=datetime.date(2026, 1, 1))
    [line] = queries.packing_list(making.a_kit(owner, items=[old]))
    assert line.is_retired


def test_each_band_names_the_arrangements_that_cover_it_with_their_settings():
    kit = a_full_kit(making.an_operator())
    covers = queries.settings_by_band(kit, ["20m", "15m"])
    assert [(cover.band, [s.arrangement for s in cover.arrangements]) for cover in covers] == [
        ("20m", ["short", "wire"]), ("15m", []),
    ]
    wire = covers[0].arrangements[1]
    assert (wire.tap, wire.element_length_m, wire.needs_tuner, wire.note) == ("5", 10.1, True, "fold the end back")
    assert (wire.coil, wire.feedpoint_height_m, wire.orientation, wire.antenna) == (
        "air coil", 2.0, "sloping", "Wire antenna"
    )


def test_what_the_band_setting_leaves_open_comes_from_the_arrangement():
    kit = a_full_kit(making.an_operator())
    [cover] = queries.settings_by_band(kit, ["40m"])
    [wire] = cover.arrangements
    assert (wire.tap, wire.element_length_m, wire.needs_tuner) == ("3", 12.5, False)


def test_without_bands_all_that_the_kit_covers_come_from_long_waves_to_short():
    kit = a_full_kit(making.an_operator())
    assert [cover.band for cover in queries.settings_by_band(kit)] == ["40m", "20m"]


def test_retired_arrangements_and_antennas_cover_nothing():
    owner, day = making.an_operator(), datetime.date(2026, 1, 1)
    old = making.an_arrangement(making.an_antenna(owner), bands=["20m"], retired_on=day)
    gone = making.an_arrangement(making.an_antenna(owner, "Whip", retired_on=day), bands=["20m"])
    kit = making.a_kit(owner, arrangements=[old, gone])
    assert queries.settings_by_band(kit) == []


def test_reading_a_kit_takes_as_many_queries_however_much_is_in_it(django_assert_num_queries):
    kit = a_full_kit(making.an_operator())
    with django_assert_num_queries(3):
        queries.packing_list(kit)
    with django_assert_num_queries(1):
        queries.settings_by_band(kit)
