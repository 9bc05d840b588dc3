"""What whips need on bands and where taps land, held against NEC-2 (PyNEC), run here for seeded whips."""

import math

import numpy as np
import pytest

from equipment.physics import taps, whip
from equipment.physics.waves import LIGHT_M_S
from tests.equipment.physics.test_whip_against_nec import nec_impedance

HF = {
    "40m": (7.0e6, 7.3e6), "30m": (10.1e6, 10.15e6), "20m": (14.0e6, 14.35e6), "17m": (18.068e6, 18.168e6),
    "15m": (21.0e6, 21.45e6), "10m": (28.0e6, 29.7e6),
}


def random_pairs():
    """A whip, another one, their radius, and where the first was tapped."""
    rng = np.random.default_rng(20263)
    for _ in range(10):
        first, second, radius = rng.uniform(1.2, 3.0), rng.uniform(1.2, 5.3), rng.uniform(0.001, 0.004)
        yield float(first), float(second), float(radius), float(rng.uniform(0.05, 0.2) * LIGHT_M_S / first)


@pytest.mark.parametrize(("first_m", "second_m", "radius_m", "found_hz"), list(random_pairs()))
def test_a_tap_lands_where_nec_finds_no_reactance_with_the_other_whip(first_m, second_m, radius_m, found_hz):
    """Against NEC-2 it was 0.2 % beforehand; 1 % is what a page states."""
    inductance = -nec_impedance(first_m, radius_m, found_hz).imag / (2 * math.pi * found_hz)
    landing = taps.landing_of_found(first_m, found_hz, second_m, radius_m)

    def reactance(share):
        at = landing.frequency_hz * share
        return nec_impedance(second_m, radius_m, at).imag + 2 * math.pi * at * inductance

    assert reactance(0.995) < 0 < reactance(1.005)
    if first_m != second_m:
        assert landing.low_hz == pytest.approx(landing.frequency_hz * 0.99)


def random_needs():
    rng = np.random.default_rng(20264)
    for _ in range(8):
        length = float(rng.uniform(1.2, 5.3))
        yield length, float(rng.uniform(0.0007, 0.006)), float(rng.uniform(0.05, 0.23) * LIGHT_M_S / length)


@pytest.mark.parametrize(("length_m", "radius_m", "frequency_hz"), list(random_needs()))
def test_the_coil_that_nec_asks_for_lies_in_the_stated_range(length_m, radius_m, frequency_hz):
    found = taps.need(length_m, radius_m, frequency_hz * 0.999, frequency_hz * 1.001)
    needed = -nec_impedance(length_m, radius_m, frequency_hz).imag / (2 * math.pi * frequency_hz)
    assert found.verdict == "coil"
    assert found.low_h <= needed <= found.high_h


@pytest.mark.parametrize(("length_m", "radius_m", "_"), list(random_needs())[:4])
def test_the_length_that_needs_no_coil_has_none_in_nec(length_m, radius_m, _):
    frequency = 0.243 * LIGHT_M_S / length_m
    fitting = taps.quarter_wave_whip_m(frequency, radius_m)
    assert abs(nec_impedance(fitting, radius_m, frequency).imag) <= 3.5


@pytest.mark.parametrize(("band", "verdict"), [
    ("40m", "coil"), ("30m", "coil"), ("20m", "none"), ("17m", "shorter"), ("15m", "shorter"), ("10m", "shorter"),
])
def test_a_17_ft_whip_needs_a_coil_below_20_m_none_on_it_and_no_coil_helps_above(band, verdict):
    """Common practice, no source; confirmed by NEC-2: resonant at 13.99 MHz, no coil helps up to about 27 MHz."""
    found = taps.need(5.18, 0.002, *HF[band])
    assert found.verdict == verdict
    if verdict == "shorter":
        assert taps.need(found.fitting_m, 0.002, *HF[band]).verdict == "none"
        assert found.inductance_h is None


def test_taps_of_a_5_ft_whip_fall_between_the_bands_with_a_17_ft_whip():
    """Going from 1.5 to 5.18 m: the 20 m tap to 7.5 MHz, the 15 m tap to 10.1 MHz (whip and coil in NEC-2)."""
    lands = {
        mhz: taps.landing_of_found(1.5, mhz * 1e6, 5.18, 0.002) for mhz in (7.1, 14.1, 21.2)
    }
    assert [round(landing.frequency_hz / 1e6, 1) for landing in lands.values()] == [4.1, 7.5, 10.1]
    assert [taps.band_of(landing, HF) for landing in lands.values()] == [None, None, "30m"]


def test_the_same_whip_keeps_its_tap():
    landing = taps.landing_of_found(2.5, 14.1e6, 2.5, 0.002)
    assert landing.low_hz == landing.high_hz == pytest.approx(14.1e6, rel=1e-9)


def test_a_coil_known_by_its_turns_lands_less_surely_than_a_tap_that_was_found():
    coil = taps.landing_of_coil(7.874e-6, 5.18, 0.002)
    found = taps.landing_of_found(1.5, 14.1e6, 5.18, 0.002)
    assert coil.low_hz < found.low_hz < found.high_hz < coil.high_hz
    assert coil.low_hz < 7.544e6 < coil.high_hz  # NEC-2 with an ideal coil


@pytest.mark.parametrize("radius_m", [0.0001, 0.01])
def test_a_whip_of_a_thickness_that_was_never_checked_is_refused(radius_m):
    with pytest.raises(ValueError, match="between 1 and 12 mm"):
        taps.reactance_error_ohm(2.5, radius_m, 14.1e6)


def test_a_tap_of_a_whip_that_needs_no_coil_is_refused():
    with pytest.raises(ValueError, match="needs no coil"):
        taps.landing_of_found(5.18, 18.1e6, 2.5, 0.002)
    assert whip.base_coil_h(5.18, 0.002, 18.1e6) is None
