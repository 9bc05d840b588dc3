"""Coil taps and whips on bands: what a whip needs on a band, and where a tap lands that was found with another."""

import math
from dataclasses import dataclass

from equipment.numerals import Numeral

from . import whip
from .waves import wavelength_m

CHECKED_RADIUS_M = (0.0005, 0.006)  # held against NEC-2 between these
COIL_SPREAD = 0.05  # of the inductance: real coils of round wire against the current sheet
MOVED_SPREAD = 0.01  # of the frequency of a moved tap: 0.2 % by the model, the rest for the ground and the hands
NONE_NEEDED_OHM = 25.0  # reactance that an SWR of 2 about covers at a quarter-wave whip's 37 ohm


def check_radius(radius_m):
    """ValueError for a radius that the model was never held against NEC-2 with."""
    low, high = CHECKED_RADIUS_M
    if not low <= radius_m <= high:
        low_mm, high_mm = Numeral(2000 * low), Numeral(2000 * high)
        raise ValueError(f"the whip's thickness must lie between {low_mm:g} and {high_mm:g} mm")


def reactance_error_ohm(length_m, radius_m, frequency_hz):
    """How far the whip's reactance by the induced-EMF method may be off, ohm: 3 %, and never below 3 ohm.

    Found against NEC-2 for radii of 0.5 to 6 mm on perfect ground; ValueError for other radii.
    """
    check_radius(radius_m)
    return max(3.0, 0.03 * abs(whip.induced_emf_ohm(length_m, radius_m, frequency_hz).imag))


def quarter_wave_whip_m(frequency_hz, radius_m):
    """Length of a whip that needs no coil on a frequency, m: the inverse of `whip.no_coil_hz`, by bisection."""
    low, high = (share * wavelength_m(frequency_hz) for share in (0.20, 0.25))
    for _ in range(50):
        middle = (low + high) / 2
        if whip.induced_emf_ohm(middle, radius_m, frequency_hz).imag < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@dataclass(frozen=True)
class Need:
    """What a whip needs on a band.

    `verdict` is "none" (it resonates by itself), "coil" or "shorter" (no coil can help). A coil has its inductance
    with the ends of its range; `fitting_m` is the length that would need none in the middle of the band.
    """

    verdict: str
    fitting_m: float
    inductance_h: float | None = None
    low_h: float | None = None
    high_h: float | None = None


def need(length_m, radius_m, low_hz, high_hz):
    """What a whip needs on a band from low_hz to high_hz.

    None where its own resonance lies on the band or its reactance in the middle stays within 25 ohm; a coil below its
    quarter-wave frequency; above that and up to its half-wave frequency no coil can help, and beyond it is no load for
    50 ohm either. The range of the coil is that of the model's reactance (`reactance_error_ohm`).
    """
    middle = (low_hz + high_hz) / 2
    fitting = quarter_wave_whip_m(middle, radius_m)
    own = whip.no_coil_hz(length_m, radius_m)
    if length_m / wavelength_m(middle) > whip.LONGEST_WAVELENGTHS:
        return Need("shorter", fitting)
    reactance = whip.induced_emf_ohm(length_m, radius_m, middle).imag
    if low_hz <= own <= high_hz or abs(reactance) <= NONE_NEEDED_OHM:
        return Need("none", fitting)
    if reactance > 0:
        return Need("shorter", fitting)
    error = reactance_error_ohm(length_m, radius_m, middle)
    low, best, high = ((-reactance + off) / (2 * math.pi * middle) for off in (-error, 0, error))
    return Need("coil", fitting, best, max(low, 0.0), high)


@dataclass(frozen=True)
class Landing:
    """Where a tap resonates with a whip, Hz, with the ends of its range."""

    frequency_hz: float
    low_hz: float
    high_hz: float


def landing_of_found(found_length_m, found_hz, length_m, radius_m):
    """Where a tap that was found with one whip resonates with another; the model's error cancels.

    Source: `whip.moved_taps`, within 0.2 % of NEC-2; 1 % is stated, for ground and hands that are not the model's.
    ValueError where the first whip needs no coil on that frequency.
    """
    (moved,) = whip.moved_taps(found_length_m, length_m, radius_m, [found_hz])
    spread = MOVED_SPREAD if length_m != found_length_m else 0.0
    return Landing(moved.new_hz, moved.new_hz * (1 - spread), moved.new_hz * (1 + spread))


def landing_of_coil(inductance_h, length_m, radius_m, spread=COIL_SPREAD):
    """Where a coil of this inductance resonates with a whip, with the spreads of the coil and of the whip's reactance.

    The reactance may be off by 3 %, as if the coil were off by as much more; the whip's own resonance by 1 %.
    """
    both = spread + 0.03
    middle, low, high = (
        whip.resonance_with_coil_hz(length_m, radius_m, inductance_h * share) for share in (1, 1 + both, 1 - both)
    )
    return Landing(middle, min(low, middle * 0.99), max(high, middle * 1.01))


def band_of(landing, bands, width_share=0.01):
    """The name of the band that a tap lands on: its frequency lies within the edges, or within 1 % beyond them.

    bands: mapping name -> (low, high) in Hz. None between the bands.
    """
    for name, (low, high) in bands.items():
        if low * (1 - width_share) <= landing.frequency_hz <= high * (1 + width_share):
            return name
    return None
