"""Wire lengths: handbook half and quarter waves, bare and insulated wire, long wires, end-fed half-waves."""

import math
from dataclasses import dataclass
from itertools import pairwise

HALF_WAVE_M_MHZ = 142.6464  # 468 ft MHz, the handbooks' rule of thumb
LONG_WIRE_M_MHZ = 149.896229  # half a wavelength in free space, m MHz
LONG_WIRE_END = 0.05  # long-wire formula 492 (n - 0.05)/f ft

# Shortening factor of a bare half-wave wire against half-wave / conductor diameter, and its resonant resistance, ohm.
# NEC-2 in free space.
SHORTENING = (
    (50, 0.9184, 72.4), (100, 0.9339, 72.0), (300, 0.9501, 71.9), (1000, 0.9611, 72.0), (3000, 0.9677, 72.0),
    (10000, 0.9726, 72.1), (30000, 0.9759, 72.2), (100000, 0.9787, 72.3),
)


def half_wave_m(frequency_hz):
    """Handbook length of a half-wave wire, m: 142.6/f (468/f ft). Cut to it, then expect to trim. Published rule."""
    if frequency_hz <= 0:
        raise ValueError("the frequency must be positive")
    return HALF_WAVE_M_MHZ / (frequency_hz / 1e6)


def quarter_wave_m(frequency_hz):
    """Handbook length of a quarter-wave wire, m: 71.3/f (234/f ft)."""
    return half_wave_m(frequency_hz) / 2


def quarter_wave_hz(length_m):
    """Frequency at which a wire is a handbook quarter wave, Hz."""
    if length_m <= 0:
        raise ValueError("the length must be positive")
    return HALF_WAVE_M_MHZ / 2 / length_m * 1e6


def shortening(frequency_hz, radius_m):
    """Shortening factor K of a bare half-wave wire in free space and its resonant resistance, ohm.

    Interpolated in the logarithm of slenderness (half-wave / conductor diameter) in a table made with NEC-2; resonant
    length = K lambda/2. ValueError outside slenderness 50 to 100,000.
    """
    slenderness = LONG_WIRE_M_MHZ / (frequency_hz / 1e6) / (2 * radius_m)
    if not SHORTENING[0][0] <= slenderness <= SHORTENING[-1][0]:
        raise ValueError(f"a half wave {slenderness:.0f} times its diameter is outside the table (50 to 100,000)")
    for (s0, k0, r0), (s1, k1, r1) in pairwise(SHORTENING):
        if slenderness <= s1:
            share = math.log(slenderness / s0) / math.log(s1 / s0)
            return k0 + (k1 - k0) * share, r0 + (r1 - r0) * share
    raise ValueError("unreachable slenderness")


def free_space_half_wave_m(frequency_hz, radius_m):
    """Resonant length of a bare half-wave wire in free space, m: K lambda/2."""
    return shortening(frequency_hz, radius_m)[0] * LONG_WIRE_M_MHZ / (frequency_hz / 1e6)


def insulation_ratio(half_length_m, conductor_radius_m, outer_radius_m, relative_permittivity):
    """Resonant length of an insulated wire over that of the bare wire.

    1/sqrt(1 + (1 - 1/er) ln(b/a)/(ln(2h/a) - 1)): the insulation as added series inductance. ValueError unless
    outer > conductor radius and er >= 1. Source: B. D. Popović and A. Nešić, IEE Proc. H 131 (1984); within 0.002 of
    NEC-2.
    """
    if not outer_radius_m >= conductor_radius_m > 0 or relative_permittivity < 1:
        raise ValueError("the outer radius must exceed the conductor's, and the permittivity be at least 1")
    added = (1 - 1 / relative_permittivity) * math.log(outer_radius_m / conductor_radius_m)
    return 1 / math.sqrt(1 + added / (math.log(2 * half_length_m / conductor_radius_m) - 1))


@dataclass(frozen=True)
class NearestHalfWave:
    """How far a wire stays from the nearest high-impedance length: half-waves, on which band, which multiple."""

    halfwaves: float
    band: str
    multiple: int


def nearest_half_wave(length_m, bands):
    """Distance of a long wire from the high-impedance lengths (n - 0.05) x 149.896/f on any wanted band, half-waves.

    bands: mapping name -> (low, high) in Hz. Zero inside a band. Keep at least 0.1. Source: published long-wire formula
    492 (n - 0.05)/f ft; NEC-2 anti-resonances of a 12.5 m wire lie within 0.014 half-wave for n = 1, 2, 3.
    ValueError without bands or for a length that is not positive.
    """
    if length_m <= 0 or not bands:
        raise ValueError("a length and at least one band are needed")
    best = None
    for name, (low_hz, high_hz) in bands.items():
        low, high = (length_m * f / 1e6 / LONG_WIRE_M_MHZ + LONG_WIRE_END for f in (low_hz, high_hz))
        for multiple in range(max(1, math.floor(low)), math.ceil(high) + 1):
            away = 0.0 if low <= multiple <= high else min(abs(low - multiple), abs(high - multiple))
            if best is None or away < best.halfwaves:
                best = NearestHalfWave(away, name, multiple)
    return best


def avoided_m(low_hz, high_hz, multiples=4):
    """Lengths to avoid on one band, m: pairs (shortest, longest) for n = 1 .. multiples."""
    return tuple(
        tuple((n - LONG_WIRE_END) * LONG_WIRE_M_MHZ / (f / 1e6) for f in (high_hz, low_hz))
        for n in range(1, multiples + 1)
    )


def clear_lengths_m(bands, shortest_m, longest_m, margin_halfwaves=0.1, step_m=0.05):
    """Long-wire lengths that stay clear of half-waves on all bands: tuple of (from, to) in m.

    ValueError for an empty range or more than 100,000 steps.
    """
    steps = round((longest_m - shortest_m) / step_m)
    if not 0 < steps <= 100_000:
        raise ValueError("the longest wire must be longer than the shortest, within a sensible range")
    clear, begun, last = [], None, None
    for index in range(steps + 1):
        length = shortest_m + index * step_m
        if nearest_half_wave(length, bands).halfwaves >= margin_halfwaves:
            begun = length if begun is None else begun
            last = length
        elif begun is not None:
            clear.append((begun, last))
            begun = None
    if begun is not None:
        clear.append((begun, last))
    return tuple(clear)


def through_transformer_ohm(ohm, ratio):
    """Impedance after an ideal transformer of impedance ratio `ratio`:1, complex ohm."""
    if ratio <= 0:
        raise ValueError("the ratio must be positive")
    return ohm / ratio


def feedpoint(watts, ohm):
    """RMS volts, peak volts and RMS amperes at a resistive feedpoint: sqrt(P R), sqrt(2 P R), sqrt(P/R)."""
    if watts < 0 or ohm <= 0:
        raise ValueError("the power must not be negative and the resistance positive")
    volts = math.sqrt(watts * ohm)
    return volts, volts * math.sqrt(2), math.sqrt(watts / ohm)
