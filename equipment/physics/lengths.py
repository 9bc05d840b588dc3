"""Wire lengths: handbook half and quarter waves, bare and insulated wire, long wires, end-fed half-waves."""

import math
from dataclasses import dataclass
from itertools import pairwise

from equipment.numerals import Numeral

HALF_WAVE_M_MHZ = 142.6464  # 468 ft MHz, the handbooks' rule of thumb
LONG_WIRE_M_MHZ = 149.896229  # half a wavelength in free space, m MHz
LONG_WIRE_END = 0.05  # long-wire formula 492 (n - 0.05)/f ft

# Shortening factor of a bare half-wave wire against half-wave / conductor diameter, and its resonant resistance, ohm.
# NEC-2 in free space.
SHORTENING = (
    (50, 0.9184, 72.4), (100, 0.9339, 72.0), (300, 0.9501, 71.9), (1000, 0.9611, 72.0), (3000, 0.9677, 72.0),
    (10000, 0.9726, 72.1), (30000, 0.9759, 72.2), (100000, 0.9787, 72.3),
)

# How far the ground moves the resonant length of a horizontal half-wave wire: height in wavelengths, and the smallest
# and largest ratio to its length in free space over dry, average and wet ground and sea water (relative permittivity
# and conductivity in S/m: 4 and 0.001, 13 and 0.005, 30 and 0.03, 80 and 5). NEC-2 with Sommerfeld ground, 14.1 MHz,
# wire of 2 mm, computed here.
GROUND_SHIFT = (
    (0.05, 0.9926, 1.0013), (0.07, 0.9918, 0.9947), (0.10, 0.9856, 0.9949), (0.125, 0.9805, 0.9941),
    (0.15, 0.9773, 0.9935), (0.20, 0.9765, 0.9934), (0.25, 0.9819, 0.9952), (0.30, 0.9913, 0.9983),
    (0.35, 1.0014, 1.0025), (0.40, 1.0037, 1.0094), (0.50, 1.0036, 1.0117), (0.60, 0.9991, 1.0005),
    (0.75, 0.9922, 0.9974), (1.00, 1.0020, 1.0061),
)
GROUND_SHIFT_ABOVE = (0.992, 1.008)  # above a wavelength the swings go on and become smaller

# What a half-wave wire measures at its end, over the half-wave in free space, and the resistance there. NEC-2 in free
# space with a counterpoise of 0.05 wavelengths; a shorter counterpoise leaves no length without reactance.
END_FED_SHARE = (0.943, 0.953)
END_FED_OHM = (2200.0, 2800.0)


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


def ground_shift(height_wavelengths):
    """Resonant length of a horizontal half-wave wire over that in free space: (smallest, largest) over all grounds.

    Interpolated in a table made with NEC-2 from 0.05 wavelengths up; 0.992 to 1.008 above one wavelength. ValueError
    below 0.05 wavelengths, where the ground takes most of the power and no model tells the length.
    """
    if height_wavelengths < GROUND_SHIFT[0][0]:
        raise ValueError(
            f"a wire {Numeral(height_wavelengths):.3f} wavelengths high is below this table, which begins at "
            f"{Numeral(GROUND_SHIFT[0][0])}"
        )
    for (h0, low0, high0), (h1, low1, high1) in pairwise(GROUND_SHIFT):
        if height_wavelengths <= h1:
            share = (height_wavelengths - h0) / (h1 - h0)
            return low0 + (low1 - low0) * share, high0 + (high1 - high0) * share
    return GROUND_SHIFT_ABOVE


def half_wave_range_m(frequency_hz, radius_m, insulation=(1.0, 1.0), height_m=None):
    """Where the resonant length of a horizontal half-wave wire lies, m: (shortest, longest).

    The longest is the bare wire's in free space times the insulation's ratio and the ground's; the shortest that, or
    the handbook's 142.6/f times the insulation where it is shorter, since ends, insulators and things near by shorten
    the wire further. insulation: smallest and largest ratio (`insulation_ratio`); height_m None for a height not known.
    ValueError outside the tables.
    """
    free = free_space_half_wave_m(frequency_hz, radius_m)
    shifts = [row[1] for row in GROUND_SHIFT] + [row[2] for row in GROUND_SHIFT]
    low, high = (min(shifts), max(shifts)) if height_m is None else ground_shift(
        height_m * frequency_hz / 1e6 / (2 * LONG_WIRE_M_MHZ)
    )
    return min(insulation) * min(half_wave_m(frequency_hz), free * low), max(insulation) * free * high


def quarter_wave_range_m(frequency_hz, radius_m, insulation=(1.0, 1.0)):
    """Where the resonant length of a vertical quarter-wave wire on good radials lies, m: (shortest, longest).

    From the handbook's 71.3/f to half the free-space half-wave (its image in a perfect ground), both times the
    insulation's ratio.
    """
    return (
        min(insulation) * quarter_wave_m(frequency_hz),
        max(insulation) * free_space_half_wave_m(frequency_hz, radius_m) / 2,
    )


def end_fed_range_m(frequency_hz, insulation=(1.0, 1.0)):
    """Where an end-fed half-wave is resistive at its end, m: (shortest, longest).

    0.943 to 0.953 of a half-wave in free space by NEC-2 (wire of 2 mm, counterpoise 0.05 wavelengths), times the
    insulation's ratio; the handbook's 142.6/f lies inside.
    """
    half = LONG_WIRE_M_MHZ / (frequency_hz / 1e6)
    return tuple(share * ratio * half for share, ratio in zip(
        END_FED_SHARE, (min(insulation), max(insulation)), strict=True
    ))


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


def avoided_m(low_hz, high_hz, multiples=4, margin_halfwaves=0.0):
    """Lengths to avoid on one band, m: pairs (shortest, longest) for n = 1 .. multiples, kept apart by the margin."""
    return tuple(
        (
            (n - LONG_WIRE_END - margin_halfwaves) * LONG_WIRE_M_MHZ / (high_hz / 1e6),
            (n - LONG_WIRE_END + margin_halfwaves) * LONG_WIRE_M_MHZ / (low_hz / 1e6),
        )
        for n in range(1, multiples + 1)
    )


def crowded_m(low_hz, high_hz, shortest_m, longest_m, margin_halfwaves=0.1):
    """Lengths within the margin of a half-wave on one band, m, cut to a range and joined where they touch.

    ValueError for an empty range or more than 10,000 half-waves.
    """
    multiples = math.ceil(longest_m * high_hz / 1e6 / LONG_WIRE_M_MHZ + LONG_WIRE_END + margin_halfwaves)
    if not 0 <= shortest_m < longest_m or multiples > 10_000:
        raise ValueError("the longest wire must be longer than the shortest, within a sensible range")
    joined = []
    for begun, ended in avoided_m(low_hz, high_hz, multiples, margin_halfwaves):
        begun, ended = max(begun, shortest_m), min(ended, longest_m)
        if begun >= ended:
            continue
        if joined and begun <= joined[-1][1]:
            joined[-1] = (joined[-1][0], ended)
        else:
            joined.append((begun, ended))
    return tuple(joined)


def clear_lengths_m(bands, shortest_m, longest_m, margin_halfwaves=0.1, ratios=None):
    """Long-wire lengths that stay clear of half-waves on all bands: tuple of (from, to) in m, exact.

    bands: mapping name -> (low, high) in Hz; ratios: mapping name -> (smallest, largest) by which insulation shortens
    the wire, none for bare wire. ValueError without bands or for an empty range.
    """
    if not bands:
        raise ValueError("a length and at least one band are needed")
    crowded = sorted(
        stretch for name, edges in bands.items()
        for stretch in crowded_insulated_m(edges, shortest_m, longest_m, margin_halfwaves, (ratios or {}).get(name))
    )
    clear, begun = [], shortest_m
    for low, high in crowded:
        if low > begun:
            clear.append((begun, low))
        begun = max(begun, high)
    if begun < longest_m:
        clear.append((begun, longest_m))
    return tuple(clear)


def crowded_insulated_m(edges, shortest_m, longest_m, margin_halfwaves=0.1, ratio=None):
    """`crowded_m` of a wire that its insulation shortens by a ratio (smallest, largest), None for bare wire."""
    least, most = ratio or (1.0, 1.0)
    return tuple(
        (max(low * least, shortest_m), min(high * most, longest_m))
        for low, high in crowded_m(*edges, shortest_m / most, longest_m / least, margin_halfwaves)
        if high * most > shortest_m and low * least < longest_m
    )


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
