"""Template filters that show stored SI quantities in the operator's units, rounded to what they deserve, decimals
after the operator's sign.

Each takes None and gives an empty string, so that `|default:"–"` works. A space before a unit does not break.
"""

import math

from django import template
from django.template.defaultfilters import floatformat

from equipment import numerals
from equipment import units as quantities

register = template.Library()

NBSP = "\u00a0"
MINUS = "\u2212"


def number(value, decimals=0):
    """A number with a fixed count of decimals, thin-space thousands above 9999 and a true minus sign."""
    text = f"{value:,.{decimals}f}".replace(",", "\u202f" if abs(value) >= 10000 else "")
    if float(text.replace("\u202f", "")) == 0:
        text = text.lstrip("-")
    return numerals.localised(text).replace("-", MINUS)


def significant(value, digits=3):
    """A number to a count of significant digits, without an exponent and without trailing decimals beyond them."""
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return number(round(value, decimals), max(decimals, 0))


def trimmed(value, decimals):
    """A number to at most this many decimals, without trailing zeros."""
    text = number(value, decimals)
    return text.rstrip("0").rstrip(numerals.sign()) if numerals.sign() in text else text


def rounded_pair(value, error):
    """Value and error as text, both rounded where the error allows: (5758.8, 57) gives ("5760", "60")."""
    if not error or error <= 0:
        return significant(value, 4), ""
    decimals = -math.floor(math.log10(error))
    error = math.ceil(round(error * 10**decimals, 6)) / 10**decimals
    return number(round(value, decimals), max(decimals, 0)), number(error, max(decimals, 0))


def with_interval(value, low, high):
    """A figure and the ends of its interval as three texts, to one digit less than the interval is wide.

    (13.6, 7.92, 21.8) gives ("14", "8", "22"), (5.661, 4.753, 6.693) gives ("5.7", "4.8", "6.7").
    """
    if low is None or high is None or high <= low:
        return significant(value, 3), "", ""
    decimals = 1 - math.floor(math.log10(high - low))
    return tuple(number(round(figure, decimals), max(decimals, 0)) for figure in (value, low, high))


@register.filter
def wire_length(length_m, units=quantities.METRIC):
    """A length of wire or height: 1.23 m, or feet and inches."""
    if length_m is None:
        return ""
    if units == quantities.IMPERIAL:
        inches = round(abs(length_m) / quantities.INCH_M, 1)
        feet, inches = divmod(inches, 12)
        sign = MINUS if length_m < 0 else ""
        if not feet:
            return f"{sign}{trimmed(inches, 1)}{NBSP}in"
        return f"{sign}{feet:.0f}{NBSP}ft" + (f"{NBSP}{trimmed(inches, 1)}{NBSP}in" if inches >= 0.05 else "")
    return f"{trimmed(length_m, 2)}{NBSP}m"


@register.filter
def altitude(altitude_m, units=quantities.METRIC):
    """A height above the sea, whole metres or feet."""
    if altitude_m is None:
        return ""
    return (
        f"{number(quantities.length_from_m(altitude_m, units))}{NBSP}"
        f"{quantities.LENGTH_NAMES.get(units, 'm')}"
    )


@register.filter
def distance_km(value_km, units=quantities.METRIC):
    """A distance on the ground: whole kilometres or miles, with one decimal below ten."""
    if value_km is None:
        return ""
    value = quantities.distance_from_km(value_km, units)
    return f"{number(value, 1 if abs(value) < 9.95 else 0)}{NBSP}{quantities.DISTANCE_NAMES.get(units, 'km')}"


@register.simple_tag
def distance_between(value_km, error_km, units=quantities.METRIC):
    """A distance rounded to what its error deserves, with the error: 5760 ± 60 km; 0 to 200 km where it may be none."""
    if value_km is None:
        return ""
    name = quantities.DISTANCE_NAMES.get(units, "km")
    value = quantities.distance_from_km(value_km, units)
    if not error_km:
        return distance_km(value_km, units)
    error = quantities.distance_from_km(error_km, units)
    if error >= value:
        return f"0 to {rounded_pair(value + error, error)[0]}{NBSP}{name}"
    shown, give_or_take = rounded_pair(value, error)
    return f"{shown}{NBSP}±{NBSP}{give_or_take}{NBSP}{name}"


@register.filter
def weight(weight_kg, units=quantities.METRIC):
    """A weight: grams below a kilogram, kilograms above; ounces, or pounds and ounces."""
    if weight_kg is None:
        return ""
    if units == quantities.IMPERIAL:
        ounces = round(weight_kg / quantities.OUNCE_KG, 1)
        pounds, ounces = divmod(ounces, 16)
        if not pounds:
            return f"{trimmed(ounces, 1)}{NBSP}oz"
        return f"{pounds:.0f}{NBSP}lb" + (f"{NBSP}{trimmed(ounces, 1)}{NBSP}oz" if ounces >= 0.05 else "")
    if weight_kg < 0.9995:
        return f"{number(weight_kg * 1000)}{NBSP}g"
    return f"{trimmed(weight_kg, 2)}{NBSP}kg"


@register.filter
def power(power_w):
    """A power: milliwatts below one watt, watts above."""
    if power_w is None:
        return ""
    if 0 < power_w < 0.9995:
        return f"{trimmed(power_w * 1000, 2 if power_w < 0.01 else 0)}{NBSP}mW"
    return f"{trimmed(power_w, 2 if power_w < 10 else 1)}{NBSP}W"


@register.filter
def frequency(frequency_hz):
    """A frequency in MHz, at least to the kHz, to the Hz where it was given."""
    if frequency_hz is None:
        return ""
    whole, rest = divmod(round(frequency_hz), 1_000_000)
    digits = f"{rest:06d}"
    return f"{whole}{numerals.sign()}{digits[:3]}{digits[3:].rstrip('0')}{NBSP}MHz"


@register.filter
def volts(value_v):
    """A voltage to the hundredth."""
    return "" if value_v is None else f"{number(value_v, 2)}{NBSP}V"


@register.filter
def amperes(value_a):
    """A current to three significant digits."""
    return "" if value_a is None else f"{significant(value_a)}{NBSP}A"


@register.filter
def ohms(value_ohm):
    """A resistance: milliohms below one ohm."""
    if value_ohm is None:
        return ""
    if 0 < value_ohm < 0.9995:
        return f"{significant(value_ohm * 1000)}{NBSP}mΩ"
    return f"{significant(value_ohm)}{NBSP}Ω"


@register.filter
def ampere_hours(value_ah):
    """A capacity to the hundredth."""
    return "" if value_ah is None else f"{trimmed(value_ah, 2)}{NBSP}Ah"


localised = register.filter("localised", numerals.localised)


@register.filter
def to_places(value, places=-1):
    """A number as Django's `floatformat` rounds it, with the sign in force."""
    return numerals.localised(floatformat(value, places))


@register.filter
def figure(value, digits=3):
    """A plain number to some significant digits."""
    return "" if value is None else significant(value, int(digits))
