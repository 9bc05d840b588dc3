"""Coils of antennas and their taps."""

import pytest

from equipment.models import Coil
from tests import making

pytestmark = pytest.mark.django_db


def test_a_measured_winding_has_an_inductance_and_an_unmeasured_one_has_none():
    """50 mm, 100 mm, 40 turns: 32.30 µH by the exact current sheet (scipy's elliptic integrals)."""
    coil = making.a_coil(diameter_m=0.05, length_m=0.1, turns=40)
    assert coil.inductance_h() == pytest.approx(32.2987e-6, rel=1e-4)
    assert coil.inductance_h(10) < coil.inductance_h() / 4
    assert making.a_coil(coil.antenna, "Unknown", diameter_m=None).inductance_h() is None


def test_a_tap_holds_for_the_whip_that_it_was_found_with_only():
    tap = making.a_coil_tap(whip_length_m=1.5)
    assert tap.holds_for(1.505) is True
    assert tap.holds_for(5.18) is False
    assert tap.holds_for(None) is None


def test_an_antenna_is_copied_with_its_coils_and_their_taps():
    coil = making.a_coil()
    making.a_coil_tap(coil, "20m")
    making.a_coil_tap(coil, "40m")
    twin = coil.antenna.copy()
    copied = twin.coils.get()
    assert (copied.name, copied.inductance_h(), copied.owner) == (coil.name, coil.inductance_h(), coil.owner)
    assert [tap.band for tap in copied.taps.all()] == ["20m", "40m"]
    assert [tap.band for tap in coil.taps.all()] == ["20m", "40m"]


def test_a_coil_is_used_by_the_arrangements_of_its_antenna_that_name_it():
    coil = making.a_coil()
    named = making.an_arrangement(coil.antenna, "named", coil=coil.name)
    making.an_arrangement(coil.antenna, "other", coil="another")
    making.an_arrangement(making.an_antenna(coil.owner, "Other"), "elsewhere", coil=coil.name)
    assert list(coil.arrangements()) == [named]
    assert list(Coil.objects.of(coil.owner).in_use()) == [coil]
