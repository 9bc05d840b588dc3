"""How far people stay away with a kit: on the safe side, and honest where it cannot be reckoned."""

import pytest

from equipment.physics import exposure
from equipment.queries.exposure import band_reach, kit_reach
from tests import making

pytestmark = pytest.mark.django_db


def a_kit(*, length_m=2.5, watts=(5.0, 100.0), bands=("40m", "10m")):
    owner = making.an_operator()
    radio = making.a_radio(owner)
    for output in watts:
        making.a_power_setting(radio, f"{output:g} W", output)
    arrangement = making.an_arrangement(making.an_antenna(owner), "whip", element_length_m=length_m, bands=bands)
    return making.a_kit(owner, items=[radio], arrangements=[arrangement])


def test_the_highest_power_counts_and_the_near_field_of_a_short_whip_is_refused():
    found = kit_reach(a_kit(), ["40m", "10m"])
    assert (found.watts, found.radio) == (100.0, "Little radio")
    low, high = found.bands
    assert low.is_short and low.public.formula_m is None
    assert low.public.beyond_m == pytest.approx(exposure.near_field_m(7.0e6))
    assert high.public.beyond_m == high.public.formula_m
    assert high.public.formula_m > 3.5  # NEC-2 near fields for 2.5 m on 28.3 MHz: 3.4 m at the peak
    assert high.antenna == "whip"


def test_of_several_arrangements_the_one_that_reaches_farthest_counts():
    kit = a_kit(bands=("10m",))
    kit.arrangements.add(making.an_arrangement(
        making.an_antenna(kit.owner, "Wire"), "long wire", element_length_m=40.0, bands=("10m",)
    ))
    (found,) = kit_reach(kit).bands
    assert found.antenna == "long wire"
    assert found.gain_dbi > 7


def test_a_wanted_band_that_nothing_covers_is_reckoned_as_a_dipole():
    (found,) = kit_reach(a_kit(), ["15m"]).bands
    assert (found.antenna, found.gain_dbi, found.is_short) == ("", 2.2, False)


def test_a_wire_too_long_for_its_gain_to_be_known_is_not_reckoned_as_less():
    found = kit_reach(a_kit(length_m=300.0, bands=("80m", "10m")))
    assert found.left_out == (("10m", "the gain of a wire of more than 4 wavelengths must be given"),)
    assert [one.band for one in found.bands] == ["80m"]


def test_without_a_power_setting_nothing_is_said_but_the_reason():
    found = kit_reach(a_kit(watts=()))
    assert found.bands == () and "no radio of the kit has a power setting" in found.why_not
    assert kit_reach(a_kit_without_bands()).why_not == "no band is chosen"


def a_kit_without_bands():
    owner = making.an_operator("Q2DEF")
    radio = making.a_radio(owner)
    making.a_power_setting(radio)
    return making.a_kit(owner, items=[radio])


def test_it_takes_two_queries_however_many_bands(django_assert_num_queries):
    kit = a_kit(bands=("80m", "40m", "30m", "20m", "15m", "10m"))
    with django_assert_num_queries(2):
        kit_reach(kit)


def test_a_short_share_of_time_brings_everybody_nearer_but_never_into_the_near_field():
    often, seldom = (band_reach("2m", 100, public_share=share) for share in (1.0, 0.1))
    assert seldom.public.beyond_m < often.public.beyond_m
    assert seldom.controlled.beyond_m == often.controlled.beyond_m
    assert seldom.public.beyond_m >= seldom.public.near_field_m


@pytest.mark.parametrize("band", ["2190m", "submm", "something"])
def test_a_band_outside_the_limits_is_left_out_with_the_reason(band):
    found = kit_reach(a_kit(), [band, "20m"])
    assert [one.band for one in found.bands] == ["20m"]
    assert [name for name, _ in found.left_out] == [band]
