"""Template tags for evidence: figures with their intervals in words, and the data of the pictures beside the tables."""

from django import template
from django.utils import timezone

from equipment import units as quantities
from equipment.templatetags.units import NBSP, distance_between, number, significant, with_interval
from outings import geography
from outings.templatetags import approximate
from outings.templatetags.times import bearing

register = template.Library()

SERIES = 7  # colours of the map; with more groups the dots have one


@register.filter
def rate_value(rate):
    """Contacts per hour, rounded to what its interval deserves."""
    return "" if rate is None else with_interval(rate.per_h, rate.low, rate.high)[0]


@register.filter
def rate_interval(rate):
    """The ends of a rate's interval: 7.9 to 21.8."""
    if rate is None:
        return ""
    _, low, high = with_interval(rate.per_h, rate.low, rate.high)
    return f"{low} to {high}"


@register.filter
def rate_low(rate):
    return "" if rate is None else with_interval(rate.per_h, rate.low, rate.high)[1]


@register.filter
def rate_high(rate):
    return "" if rate is None else with_interval(rate.per_h, rate.low, rate.high)[2]


def in_units(quantile, units):
    """A quantile of kilometres as texts in the operator's units: value, low, high."""
    return with_interval(*(
        None if km is None else quantities.distance_from_km(km, units)
        for km in (quantile.value, quantile.low, quantile.high)
    ))


@register.filter
def quantile_value(quantile, units=quantities.METRIC):
    """A median distance without its unit."""
    return "" if quantile is None else in_units(quantile, units)[0]


@register.filter
def quantile_low(quantile, units=quantities.METRIC):
    return "" if quantile is None else in_units(quantile, units)[1]


@register.filter
def quantile_high(quantile, units=quantities.METRIC):
    return "" if quantile is None else in_units(quantile, units)[2]


@register.filter
def quantile_interval(quantile, units=quantities.METRIC):
    """The ends of a distance's interval, or that there are too few for one."""
    if quantile is None:
        return ""
    _, low, high = in_units(quantile, units)
    return f"{low} to {high}" if low else "too few for an interval"


@register.filter
def per_watt(quantile, units=quantities.METRIC):
    """Kilometres or miles per watt, to three digits at most."""
    return "" if quantile is None else in_units(quantile, units)[0]


@register.filter
def distance_unit(units):
    """km or mi."""
    return quantities.DISTANCE_NAMES.get(units, "km")


@register.filter
def spread(directions):
    """Where bearings point: "051° NE ± 40°", or "all round" where they spread by more than a quarter of the circle."""
    if directions is None:
        return ""
    if directions.mean_deg is None or directions.spread_deg > 90:
        return "all round"
    return f"{bearing(directions.mean_deg)} ±{NBSP}{directions.spread_deg:.0f}°"


@register.simple_tag
def rates_picture(found):
    """Contacts per hour of each group with intervals, for the picture `rates`."""
    rows = []
    for group in found.groups:
        row = {"label": group.label, "value": None, "low": None, "high": None, "n": group.contacts}
        if group.rate:
            value, low, high = with_interval(group.rate.per_h, group.rate.low, group.rate.high)
            row |= {
                "value": group.rate.per_h, "low": group.rate.low, "high": group.rate.high,
                "text": f"{value} ({low} to {high}), n {group.contacts}",
            }
        rows.append(row)
    return {"unit": "contacts per hour", "none": "no time on the air", "rows": rows}


@register.simple_tag
def distances_picture(found, units=quantities.METRIC):
    """Distances of each group with their medians, for the picture `distances`."""
    rows = []
    for group in found.groups:
        if not group.median:
            continue
        value, low, high = in_units(group.median, units)
        name = quantities.DISTANCE_NAMES.get(units, "km")
        interval = f" ({low} to {high})" if low else ""
        rows.append({
            "label": group.label,
            "values": [round(quantities.distance_from_km(km, units), 1) for km in group.ordered_km],
            "median": shown(group.median.value, units), "low": shown(group.median.low, units),
            "high": shown(group.median.high, units),
            "n": group.with_position, "text": f"{value} {name}{interval}, n {group.with_position}",
        })
    return {"unit": quantities.DISTANCE_NAMES.get(units, "km"), "rows": rows}


def shown(value_km, units):
    """A distance in the operator's units, None where there is none."""
    return None if value_km is None else quantities.distance_from_km(value_km, units)


@register.simple_tag
def map_picture(found, units=quantities.METRIC, near=None):
    """The dots of the map, each at its distance and bearing from the centre, for the picture `map`.

    `near` is what is placed approximately (outings.queries.approximate), None where nothing is.
    """
    centre, several = found.centre, len(found.groups) > SERIES
    # dots of cells share their distances and directions: each is put into words once
    far = {dot.distance_km: distance_between(dot.distance_km, None, units) for dot in found.dots}
    towards = {dot.bearing_deg: bearing(dot.bearing_deg) for dot in found.dots}
    contacts = []
    for dot in found.dots:
        latitude_deg, longitude_deg = geography.destination_on_sphere(
            centre.latitude_deg, centre.longitude_deg, dot.bearing_deg, dot.distance_km
        )
        what = found.groups[dot.group].label if dot.contacts == 1 else f"{dot.contacts} contacts around there"
        contacts.append({
            "label": f"{what}: {far[dot.distance_km]}, {towards[dot.bearing_deg]}",
            "latitude_deg": round(latitude_deg, 3), "longitude_deg": round(longitude_deg, 3),
            "distance_km": round(dot.distance_km, 1), "series": 1 if several else dot.group + 1,
        })
    return {
        "site": {
            "label": centre.label, "latitude_deg": centre.latitude_deg, "longitude_deg": centre.longitude_deg,
        },
        "unit": quantities.DISTANCE_NAMES.get(units, "km"),
        "km_per_unit": quantities.distance_to_km(1, units),
        "contacts": contacts, "around": approximate.dots(near, centre, units),
    }


@register.filter
def on_air_s(stint):
    """Seconds that a stint was on the air, one that runs up to now."""
    return stint.seconds_on_air(timezone.now())


@register.filter
def hours_figure(value_h):
    """Hours on the air as a figure: 0.75, 12.4, 140."""
    if value_h is None:
        return ""
    return significant(value_h, 3) if value_h < 100 else number(value_h)
