"""Template tags for judgements: adjusted figures with their intervals in words, and the data of their picture."""

from django import template

from equipment.numerals import Numeral
from equipment.templatetags.units import MINUS, NBSP, number, significant, with_interval

register = template.Library()

UNSURE, SURE = 0.01, 0.99


def ratio(value):
    """A ratio to two digits: 0.084, 0.85, 1.3, 12."""
    return "0" if value == 0 else significant(value, 2)


def difference(value, unit):
    """A difference with its sign: +120 km, −3.4 dB."""
    sign = "+" if value > 0 else MINUS if value < 0 else "±"
    return f"{sign}{significant(abs(value), 2)}{NBSP}{unit}".rstrip(NBSP)


def one(value, measure):
    """An adjusted figure: × 1.3 of a ratio, a signed difference otherwise."""
    if measure.neutral:
        return f"×{NBSP}{ratio(value)}"
    return difference(value, measure.unit)


@register.simple_tag
def effect(line, measure):
    """The adjusted figure of a line, an en dash where there is none."""
    return "–" if line.effect is None else one(line.effect, measure)


@register.simple_tag
def effect_interval(line, measure):
    """Its interval: 0.98 to 2.8; at least 1.4 where it is not bounded above."""
    if line.is_reference:
        return ""
    if not line.is_told:
        return ""
    if line.effect_high is None:
        return f"at least {one(line.effect_low, measure)}"
    if line.effect_low is None:
        return f"at most {one(line.effect_high, measure)}"
    if measure.neutral:
        return f"{ratio(line.effect_low)} to {ratio(line.effect_high)}"
    return f"{difference(line.effect_low, '')} to {difference(line.effect_high, '')}"


@register.simple_tag
def raw_effect(line, measure):
    """The raw ratio or difference to the reference."""
    return "" if line.raw_effect is None or line.is_reference else one(line.raw_effect, measure)


@register.filter
def decibels(value, places=0):
    """A report or a difference in dB, with its sign: −12 dB; `|decibels:1` to the tenth."""
    return f"{'+' if value > 0 else MINUS if value < 0 else ''}{Numeral(abs(value)):.{places}f}{NBSP}dB"


@register.filter
def raw_value(line):
    """The raw value of a line, rounded to what its interval deserves."""
    return "" if line.value is None else with_interval(line.value, line.low, line.high)[0]


@register.filter
def raw_interval(line):
    """The ends of the interval of its raw value."""
    if line.value is None or line.low is None or line.high is None:
        return ""
    _, low, high = with_interval(line.value, line.low, line.high)
    return f"{low} to {high}"


@register.filter
def ratio_with_interval(found):
    """A ratio from common blocks: × 1.2 (0.8 to 1.8)."""
    return "" if found is None else f"×{NBSP}{ratio(found.ratio)} ({ratio(found.low)} to {ratio(found.high)})"


@register.filter
def rate_with_interval(found):
    """A rate that was drawn towards the others: 8.8 (7.0 to 10.8)."""
    if found is None:
        return ""
    value, low, high = with_interval(found.per_h, found.low, found.high)
    return f"{value} ({low} to {high})"


@register.filter
def chance(share):
    """A chance in per cent: 71 %, under 1 %, over 99 %."""
    if share is None:
        return ""
    if share < UNSURE:
        return f"under 1{NBSP}%"
    return f"over 99{NBSP}%" if share > SURE else f"{number(100 * share)}{NBSP}%"


@register.simple_tag
def effects_picture(found, measure):
    """Adjusted figures against the reference with their intervals, for the picture `effects`."""
    return as_effects(measure, [effects_row(line, measure, line.label) for line in found.lines])


@register.simple_tag
def verdicts_picture(story):
    """How a piece of gear stands by its rate, on all bands and on each, for the picture `effects`; None if nowhere."""
    told = [
        verdict for verdict in story.verdicts
        if verdict.key == "rate" and verdict.judged.compares and verdict.line.is_told and not verdict.line.is_reference
    ]
    rows = [effects_row(verdict.line, verdict.measure, verdict.band or "all bands") for verdict in told]
    return as_effects(told[0].measure, rows) if told else None


def as_effects(measure, rows):
    return {"unit": measure.against, "neutral": measure.neutral, "logarithmic": bool(measure.neutral), "rows": rows}


def effects_row(line, measure, label):
    return {
        "label": label, "value": line.effect, "low": line.effect_low, "high": line.effect_high,
        "raw": line.raw_effect, "reference": line.is_reference, "told": line.is_told, "claimed": line.claimed,
        "text": picture_text(line, measure),
    }


def picture_text(line, measure):
    """What stands beside a row of the picture."""
    if line.is_reference:
        return f"the reference, n {line.contacts}"
    if not line.is_told:
        return "cannot be told apart"
    interval = effect_interval(line, measure)
    shown = interval if line.effect is None or line.effect_high is None else f"{effect(line, measure)} ({interval})"
    return f"{shown}, n {line.contacts}"
