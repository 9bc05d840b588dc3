"""The check of a kit on pages."""

from django import template

from equipment.queries import kit_check

from .bench import quantity, spread

register = template.Library()

arrives = register.filter("arrives", kit_check.power_words)
at_the_radio = register.filter("at_the_radio", kit_check.at_the_radio)


@register.filter
def whip_loss(pair):
    """What a short whip loses, as a range in dB."""
    return spread(*pair, "decibel")


@register.filter
def ranged(figure):
    """A Figure of an answer as one says it: 0.34 to 0.57 A."""
    if figure.low is None:
        return quantity(figure.value, figure.kind)
    return spread(figure.low, figure.high, figure.kind)
