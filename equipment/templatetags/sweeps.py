"""Template filters that show what sweeps found: SWR, impedance, and the stretches that are usable."""

import math

from django import template

from equipment.numerals import Numeral
from equipment.queries.resonance import NO, PART, RESONATES, TUNER, UNKNOWN

from . import units

register = template.Library()

NBSP = units.NBSP


@register.filter
def swr(value):
    """An SWR to the hundredth below 2, to the tenth below 10, whole above; ∞ where all comes back."""
    if value is None:
        return "∞"
    return units.number(value, 2 if value < 1.995 else 1 if value < 9.95 else 0)


@register.filter
def impedance(ohm):
    """A complex impedance as 42 − j12 Ω."""
    if ohm is None:
        return ""
    decimals = max(0, 2 - math.floor(math.log10(max(abs(ohm), 0.1))))
    sign = units.MINUS if round(ohm.imag, decimals) < 0 else "+"
    return f"{units.number(ohm.real, decimals)} {sign}{NBSP}j{units.number(abs(ohm.imag), decimals)}{NBSP}Ω"


@register.filter
def near(frequency_hz, step_hz):
    """The frequency of a dip, to the decimals that points so far apart deserve."""
    decimals = min(4, max(2, math.ceil(-math.log10(max(step_hz, 1.0) / 1e6) - 0.01)))
    return f"{Numeral(frequency_hz / 1e6):.{decimals}f}{NBSP}MHz"


@register.filter
def mhz(frequency_hz):
    """A frequency to the kHz."""
    return "" if frequency_hz is None else f"{Numeral(frequency_hz / 1e6):.3f}{NBSP}MHz"


@register.filter
def khz(width_hz):
    """A width: whole kilohertz, one decimal below ten."""
    if width_hz is None:
        return ""
    value = width_hz / 1e3
    return f"{units.number(value, 1 if value < 9.95 else 0)}{NBSP}kHz"


@register.filter
def usable(found, inside):
    """Where within a band an SWR is at or below a limit: `found` is a Usable, `inside` the InBand that it is of."""
    if not found.stretches:
        return "nowhere"
    if found.width_hz >= (inside.to_hz - inside.from_hz) * 0.9999:
        return "all of it" if inside.is_whole else "all that was swept"
    return " and ".join(f"{Numeral(low / 1e6):.3f}–{Numeral(high / 1e6):.3f}" for low, high in found.stretches)


MARKS = {RESONATES: "good", PART: "good", TUNER: "warn", NO: "bad", UNKNOWN: "warn"}


@register.filter
def mark(resonance):
    """The class of a mark for what is known of an arrangement on a band."""
    return MARKS[resonance.verdict]


@register.filter
def verdict(resonance):
    """What is known in a word, with where it comes from: resonates, measured."""
    if resonance.verdict in (UNKNOWN, TUNER):
        return resonance.verdict
    return f"{resonance.verdict}, {'measured' if resonance.is_measured else 'by a model'}"


@register.filter
def evidence(resonance):
    """What the sweep or the model says, as one line without the verdict."""
    if resonance.is_measured:
        return measured_words(resonance)
    ends = resonance.resonance_range_hz
    if ends:
        return f"near {Numeral(ends[0] / 1e6):.2f} to {Numeral(ends[1] / 1e6):.2f}{NBSP}MHz, {resonance.why}"
    at = resonance.resonance_hz
    return f"near {Numeral(at / 1e6):.2f}{NBSP}MHz, {resonance.why}" if at else resonance.why


def measured_words(found):
    """SWR 1.2 at 7.11 MHz, 2 or less from 7.000 to 7.198; swept on 2026-10-27, at the feedpoint."""
    parts = [f"SWR {swr(found.lowest_swr)} at {Numeral(found.lowest_hz / 1e6):.2f}{NBSP}MHz"]
    if found.is_whole:
        parts.append("2 or less on all of the band")
    elif found.usable_hz:
        spans = " and ".join(f"{Numeral(low / 1e6):.3f} to {Numeral(high / 1e6):.3f}" for low, high in found.usable_hz)
        parts.append(f"2 or less from {spans}{NBSP}MHz")
    elif found.resonance_hz:
        parts.append(f"resonance at {Numeral(found.resonance_hz / 1e6):.2f}{NBSP}MHz")
    part = "" if found.is_swept_whole else "a part of the band was "
    return f"{', '.join(parts)}; {part}{found.why}"


@register.filter
def dip_width(found):
    """How wide the dip is beyond the band's edges, too."""
    if found.dip is None:
        return ""
    if found.dip.width_hz is None:
        return f"at least {khz(found.dip.at_least_hz)}, the sweep ends before it"
    return khz(found.dip.width_hz)
