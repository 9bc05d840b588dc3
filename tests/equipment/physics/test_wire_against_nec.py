"""The ground's pull on a horizontal half-wave wire held against NEC-2 (PyNEC, Sommerfeld ground), run here."""

import numpy as np
import pytest

from equipment.physics import lengths
from equipment.physics.waves import wavelength_m
from tests.trying import reference_library

pynec = reference_library("PyNEC")

GROUNDS = {"dry": (4, 0.001), "average": (13, 0.005), "wet": (30, 0.03), "sea": (80, 5.0)}
SEGMENTS = 41
ROOM = 0.004  # of the length: the table is interpolated, and another frequency moves the ground's numbers


def reactance_ohm(length_m, height_m, frequency_hz, ground, radius_m=0.001):
    """Reactance in the middle of a horizontal wire by NEC-2."""
    context = pynec.nec_context()
    context.get_geometry().wire(
        1, SEGMENTS, -length_m / 2, 0, height_m, length_m / 2, 0, height_m, radius_m, 1.0, 1.0
    )
    context.geometry_complete(1)
    context.gn_card(2, 0, *ground, 0, 0, 0, 0)
    context.ex_card(0, 1, SEGMENTS // 2 + 1, 0, 0, 1.0, 0, 0, 0, 0, 0)
    context.fr_card(0, 1, frequency_hz / 1e6, 0)
    context.xq_card(0)
    return complex(context.get_input_parameters(0).get_impedance()[0]).imag


def random_heights():
    rng = np.random.default_rng(20262)
    for _ in range(8):
        yield float(rng.uniform(0.06, 1.3)), float(rng.uniform(7.0, 21.4) * 1e6)


@pytest.mark.parametrize(("height_wavelengths", "frequency_hz"), list(random_heights()))
@pytest.mark.parametrize("ground", GROUNDS)
def test_a_wire_resonates_within_the_stated_range_over_every_ground(ground, height_wavelengths, frequency_hz):
    free = lengths.free_space_half_wave_m(frequency_hz, 0.001)
    low, high = lengths.ground_shift(height_wavelengths)
    height_m = height_wavelengths * wavelength_m(frequency_hz)
    shortest, longest = (
        reactance_ohm(ratio * free, height_m, frequency_hz, GROUNDS[ground]) for ratio in (low - ROOM, high + ROOM)
    )
    assert shortest < 0 < longest


def test_a_wire_on_the_ground_is_refused():
    with pytest.raises(ValueError, match=r"begins at 0\.05"):
        lengths.ground_shift(0.04)
    with pytest.raises(ValueError, match=r"begins at 0\.05"):
        lengths.half_wave_range_m(7.1e6, 0.001, height_m=1.0)


def test_the_range_of_a_half_wave_holds_the_rule_of_thumb_and_the_wire_in_free_space():
    """468/f ft is the published rule; NEC-2 finds 20.553 m for a bare wire of 1.6 mm on 7.1 MHz in free space."""
    low, high = lengths.half_wave_range_m(7.1e6, 0.0008)
    assert low <= 20.091
    assert high == pytest.approx(20.553 * 1.0117, rel=0.002)
    insulated = lengths.half_wave_range_m(7.1e6, 0.0008, (0.96, 0.98), 10)
    assert insulated[0] < low
    assert insulated[1] < high


def test_a_quarter_wave_reaches_from_the_rule_of_thumb_to_the_wire_over_its_image():
    """71.3/f is the published rule; length times frequency is 72 to 73 m MHz on perfect ground by NEC-2."""
    low, high = lengths.quarter_wave_range_m(14.1e6, 0.001)
    assert low * 14.1 == pytest.approx(71.32, rel=1e-3)
    assert 72 < high * 14.1 < 73


def test_an_end_fed_half_wave_holds_the_rule_of_thumb():
    """0.943 to 0.953 of a half-wave in free space by NEC-2; 468/f ft is 0.9516 of it."""
    low, high = lengths.end_fed_range_m(7.1e6)
    assert low < lengths.half_wave_m(7.1e6) < high
    assert high / low == pytest.approx(0.953 / 0.943)
