"""Coils and their taps on pages."""

from django import template

from equipment.queries.coils import tap_states
from equipment.units import METRIC

from .bench import quantity
from .units import NBSP, significant

register = template.Library()


@register.filter
def inductance(value_h):
    """An inductance in µH or nH."""
    return "" if value_h is None else quantity(value_h, "inductance")


@register.filter
def thickness(value_m, units=METRIC):
    """A diameter in millimetres or inches."""
    return "" if value_m is None else quantity(value_m, "thickness", units)


@register.filter
def signed_percent(value):
    """A difference in per cent with its sign, to two digits."""
    return f"{'+' if value > 0 else ''}{significant(value, 2)}{NBSP}%"


@register.filter
def round_frequency(frequency_hz):
    """A frequency that was reckoned: MHz to three digits."""
    return quantity(frequency_hz, "frequency")


@register.inclusion_tag("equipment/_taps_of_arrangement.html", takes_context=True)
def taps_of(context, arrangement):
    """The taps of the coil that an arrangement names, and which of them hold for its whip."""
    return {"arrangement": arrangement, "states": tap_states(arrangement), "user": context["user"]}
