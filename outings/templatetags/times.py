"""Template filters for times, light and directions: UTC first, the local time beside it.

Each takes None and gives an empty string, so that `|default:"–"` works.
"""

import datetime
import math
import zoneinfo

from django import template
from django.utils import timezone

register = template.Library()

NBSP = "\u00a0"
MINUS = "\u2212"
COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def clock_face(moment, clock="24"):
    """Hours and minutes on the clock that the operator prefers."""
    if clock == "12":
        return f"{moment.hour % 12 or 12}:{moment:%M}{NBSP}{'am' if moment.hour < 12 else 'pm'}"
    return f"{moment:%H:%M}"


def in_zone(when, zone):
    """A moment in a named time zone; in UTC where the zone is empty or unknown to this machine."""
    try:
        return when.astimezone(zoneinfo.ZoneInfo(zone))
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, TypeError):
        return when.astimezone(datetime.UTC)


def to_the_minute(when):
    """The nearest minute, as light times deserve."""
    return (when + datetime.timedelta(seconds=30)).replace(second=0, microsecond=0)


@register.filter
def utc_time(when):
    """14:05 UTC."""
    return "" if when is None else f"{when.astimezone(datetime.UTC):%H:%M}{NBSP}UTC"


@register.filter
def utc_clock(when):
    """14:05, for columns that are headed UTC."""
    return "" if when is None else f"{when.astimezone(datetime.UTC):%H:%M}"


@register.filter
def utc_seconds(when):
    """14:05:37 UTC."""
    return "" if when is None else f"{when.astimezone(datetime.UTC):%H:%M:%S}{NBSP}UTC"


@register.filter
def utc_date(when):
    """2026-11-25, the UTC day; a date is taken as it is."""
    if when is None:
        return ""
    if isinstance(when, datetime.datetime):
        when = when.astimezone(datetime.UTC)
    return f"{when:%Y-%m-%d}"


@register.filter
def utc_moment(when):
    """2026-11-25 14:05 UTC."""
    return "" if when is None else f"{when.astimezone(datetime.UTC):%Y-%m-%d %H:%M}{NBSP}UTC"


@register.filter
def local_date(when, zone):
    """The civil date at a place."""
    return "" if when is None else f"{in_zone(when, zone):%Y-%m-%d}"


def local_face(when, zone, clock):
    """Local hours and minutes, with the days by which the date there is off the UTC date: 01:05 (+1 day)."""
    there = in_zone(when, zone)
    days = (there.date() - when.astimezone(datetime.UTC).date()).days
    mark = f"{NBSP}({'+' if days > 0 else MINUS}{abs(days)}{NBSP}day)" if days else ""
    return clock_face(there, clock) + mark


@register.simple_tag(takes_context=True)
def local_clock(context, when, zone):
    """The local time on the clock that the operator prefers."""
    if when is None:
        return ""
    return local_face(when, zone, getattr(context.get("user"), "clock", "24"))


@register.simple_tag(takes_context=True)
def both_times(context, when, zone):
    """UTC first, the local time beside it: 14:05 UTC (16:05 local)."""
    if when is None:
        return ""
    return f"{utc_time(when)} ({local_clock(context, when, zone)} local)"


@register.filter
def nearest_minute(when):
    """A moment rounded to the minute, before another filter shows it: light times deserve no more."""
    return None if when is None else to_the_minute(when)


@register.filter
def hours(value_h):
    """A length of time given in hours: 45 min, 3 h 05 min, 41 h."""
    if value_h is None:
        return ""
    minutes = round(value_h * 60)
    if minutes < 60:
        return f"{minutes}{NBSP}min"
    whole, rest = divmod(minutes, 60)
    return f"{whole}{NBSP}h{NBSP}{rest:02d}{NBSP}min" if whole < 100 else f"{round(value_h)}{NBSP}h"


@register.filter
def minutes(value_min):
    """A length of time given in minutes."""
    return "" if value_min is None else hours(value_min / 60)


@register.filter
def seconds(value_s):
    """A length of time given in seconds."""
    return "" if value_s is None else hours(value_s / 3600)


@register.filter
def signed_seconds(value_s):
    """How far a clock is off: +47 s, −2 min 5 s; within a second it is right."""
    whole = round(abs(value_s))
    if not whole:
        return "right to the second"
    minutes_, rest = divmod(whole, 60)
    text = f"{minutes_}{NBSP}min {rest}{NBSP}s" if minutes_ else f"{rest}{NBSP}s"
    return f"{'+' if value_s > 0 else '−'}{text}"


@register.filter
def until(when, now=None):
    """How long until a moment, from now on: in 2 h 05 min; 2 h 05 min ago."""
    if when is None:
        return ""
    left_h = (when - (now or timezone.now())).total_seconds() / 3600
    if round(left_h * 60) == 0:
        return "now"
    return f"in {hours(left_h)}" if left_h > 0 else f"{hours(-left_h)} ago"


@register.filter
def bearing(value_deg):
    """A direction over the ground: 051° NE."""
    if value_deg is None:
        return ""
    whole = round(value_deg) % 360
    return f"{whole:03d}°{NBSP}{COMPASS[math.floor((value_deg % 360) / 45 + 0.5) % 8]}"


@register.filter
def elevation(value_deg):
    """A height over the horizon to the degree, with a true minus sign."""
    if value_deg is None:
        return ""
    whole = round(value_deg)
    return f"{MINUS if whole < 0 else ''}{abs(whole)}°"
