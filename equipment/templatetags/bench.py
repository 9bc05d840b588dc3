"""How answers of the bench are shown: figures in the operator's units, rounded to what their range deserves."""

import json
import math
from dataclasses import dataclass

from django import template
from django.core.serializers.json import DjangoJSONEncoder

from equipment.quantity_kinds import unit_for
from equipment.units import METRIC

from .units import NBSP, number, significant, with_interval

register = template.Library()


@dataclass(frozen=True)
class Shown:
    """A figure as texts."""

    value: str | None
    unit: str
    low: str
    high: str


@register.filter
def shown(figure, units=METRIC):
    """A Figure as texts in the operator's units: value, unit, low, high; no value gives None."""
    if figure.value is None:
        return Shown(None, "", "", "")
    size = max(abs(end) for end in (figure.value, figure.low, figure.high) if end is not None)
    unit = unit_for(figure.kind, size, units)
    ends = [None if end is None else end * unit.factor for end in (figure.low, figure.high)]
    value = figure.value * unit.factor
    if None in ends or ends[0] >= ends[1]:
        return Shown(plainly(value, unit, 4 if figure.kind == "voltage" else 3), unit.name, "", "")
    value, low, high = within(value, *ends, unit)
    return Shown(value, unit.name, *(("", "") if low == high else (low, high)))


def plainly(value, unit, digits):
    """A number to some significant digits, and no more decimals than make sense in its unit."""
    coarse = value and digits - 1 - math.floor(math.log10(abs(value))) > unit.decimals
    return number(value, unit.decimals) if coarse else significant(value, digits)


def within(value, low, high, unit):
    """A figure and its ends as texts, to one digit less than the range is wide and no finer than makes sense."""
    decimals = max(0, min(unit.decimals, 1 - math.floor(math.log10(high - low))))
    return with_interval(value, low, high) if decimals < unit.decimals else tuple(
        number(end, decimals) for end in (value, low, high)
    )


def quantity(value, kind, units=METRIC, digits=3):
    """A quantity as text for a sentence or a cell of a table: 13.2 V."""
    unit = unit_for(kind, value, units)
    return f"{plainly(value * unit.factor, unit, digits)}{NBSP}{unit.name}".rstrip(NBSP)


def spread(low, high, kind, units=METRIC):
    """A range as text for a sentence: 4.8 to 6.7 h; one number where both ends look the same."""
    unit = unit_for(kind, max(abs(low), abs(high)), units)
    if low >= high:
        return quantity(high, kind, units)
    _, first, last = within((low + high) / 2 * unit.factor, low * unit.factor, high * unit.factor, unit)
    if first == last:
        return quantity(high, kind, units)
    return f"{first} to {last}{NBSP}{unit.name}".rstrip(NBSP)


@register.filter
def as_json(data):
    """The JSON of a picture, for an attribute: scripts do not come along when a part of a page is exchanged."""
    return json.dumps(data, cls=DjangoJSONEncoder, separators=(",", ":"))
