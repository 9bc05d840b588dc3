"""Template tags of an outing's report: the goal in words, the map with day and night, the rose of directions."""

from django import template

from equipment import units as quantities
from outings.queries.performance import SECTORS

from .evidence import map_picture

register = template.Library()

SHORT = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


@register.filter
def goal_text(report):
    """of 40 wanted, 75 %; or nothing without a goal."""
    goal = report.outing.goal_contacts
    return f"of {goal} wanted, {report.share_of_goal:.0%}" if goal else "no goal set"


@register.filter
def minutes_long(seconds):
    """Seconds as minutes or hours and minutes: 42 min, 1 h 05 min."""
    minutes = round(seconds / 60)
    return f"{minutes // 60}\u00a0h\u00a0{minutes % 60:02d}\u00a0min" if minutes >= 60 else f"{minutes}\u00a0min"


@register.simple_tag
def report_map(report, units=quantities.METRIC):
    """The data of the map, with the sun."""
    if report.found.centre is None:
        return None
    latitude_deg, longitude_deg = report.overhead
    sun = {"latitude_deg": round(latitude_deg, 3), "longitude_deg": round(longitude_deg, 3)}
    return {**map_picture(report.found, units, report.near), "sun": sun}


@register.simple_tag
def rose(found):
    """Contacts in each eighth of the compass, for the picture `rose`."""
    return {"rows": [
        {"label": sector.name, "short": short, "value": sector.contacts}
        for sector, short in zip(found.sectors, SHORT, strict=True)
    ]} if len(found.sectors) == len(SECTORS) else {"rows": []}
