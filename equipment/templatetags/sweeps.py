"""Template filters that show what sweeps found: SWR, impedance, and the stretches that are usable."""

import math

from django import template

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
    return f"{frequency_hz / 1e6:.{decimals}f}{NBSP}MHz"


@register.filter
def mhz(frequency_hz):
    """A frequency to the kHz."""
    return "" if frequency_hz is None else f"{frequency_hz / 1e6:.3f}{NBSP}MHz"


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
    return " and ".join(f"{low / 1e6:.3f}–{high / 1e6:.3f}" for low, high in found.stretches)


@register.filter
def dip_width(found):
    """How wide the dip is beyond the band's edges, too."""
    if found.dip is None:
        return ""
    if found.dip.width_hz is None:
        return f"at least {khz(found.dip.at_least_hz)}, the sweep ends before it"
    return khz(found.dip.width_hz)
