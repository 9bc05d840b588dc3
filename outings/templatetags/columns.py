"""Template tags that show the value of a contact's or a stint's column in words."""

import datetime

from django import template

from equipment.numerals import Numeral
from equipment.templatetags import units
from equipment.templatetags.units import NBSP

register = template.Library()


@register.simple_tag
def column_value(column, value):
    """The value of a column as a reader takes it: a frequency in MHz, a power in W, a moment in UTC; – for nothing."""
    if value is None or value == "" or value == []:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime.datetime):
        return f"{value.astimezone(datetime.UTC):%Y-%m-%d %H:%M:%S}{NBSP}UTC"
    if isinstance(value, list):
        return ", ".join(listed(entry) for entry in value)
    if column.startswith("frequency"):
        return units.frequency(value)
    if column == "power_w":
        return units.power(value)
    if column.endswith("_deg"):
        return f"{Numeral(value):.5f}°"
    return str(Numeral(value) if isinstance(value, float) else value)


def listed(entry):
    """An entry of a list in words: the values of a pair of names and values, else itself."""
    if isinstance(entry, dict):
        return " ".join(str(value) for value in entry.values() if value)
    return str(entry)
