"""Template filters for plans: spans of time, references, and how an arrangement is set."""

from django import template
from django.utils.html import format_html

from equipment.templatetags import units as shown
from outings import windows

from . import times

register = template.Library()


@register.filter
def utc_span(start, end):
    """2026-06-21 14:00 to 18:00 UTC; both dates where they differ."""
    if start is None:
        return ""
    if end is None or end == start:
        return times.utc_moment(start)
    if times.utc_date(start) == times.utc_date(end):
        return f"{times.utc_date(start)} {times.utc_clock(start)} to {times.utc_time(end)}"
    return f"{times.utc_date(start)} {times.utc_clock(start)} to {times.utc_moment(end)}"


def local_span(start, end, zone, clock):
    """Sunday 2026-06-21 16:00 to 20:00; both dates where they differ."""
    first = times.in_zone(start, zone)
    text = f"{first:%A} {first:%Y-%m-%d} {times.clock_face(first, clock)}"
    if end is None or end == start:
        return text
    last = times.in_zone(end, zone)
    day = "" if first.date() == last.date() else f"{last:%A} {last:%Y-%m-%d} "
    return f"{text} to {day}{times.clock_face(last, clock)}"


@register.simple_tag(takes_context=True)
def local_window(context, start, end, zone):
    """A span on the clocks of a place, with its offset from UTC."""
    clock = getattr(context.get("user"), "clock", "24")
    return f"{local_span(start, end, zone, clock)} ({zone_text(zone, start, end)})"


def zone_text(zone, start, end=None):
    """Europe/Berlin, UTC+2; UTC+1, then UTC+2 where the clocks change in between."""
    offsets = []
    for moment in (start, end):
        if moment is not None:
            minutes = round(times.in_zone(moment, zone).utcoffset().total_seconds() / 60)
            offsets.append(windows.offset_text(minutes))
    return f"{zone}, {', then '.join(dict.fromkeys(offsets))}"


def utc_on(when, date):
    """19:34 of an instant in UTC; with its date where that is not the date it is listed under."""
    text = times.utc_clock(when)
    return text if times.utc_date(when) == f"{date:%Y-%m-%d}" else f"{times.utc_date(when)} {text}"


@register.simple_tag(takes_context=True)
def times_on(context, when, zone, date):
    """A time pair under the heading of a local date: UTC (with its date where it is another), then local time."""
    when = times.to_the_minute(when)
    local = times.clock_face(times.in_zone(when, zone), getattr(context.get("user"), "clock", "24"))
    return format_html(
        '<span class="times"><time class="utc" datetime="{}">{} UTC</time> <span class="local">{} local</span></span>',
        f"{when:%Y-%m-%dT%H:%MZ}", utc_on(when, date), local,
    )


@register.filter
def degrees(value_deg):
    """A height over the horizon to a tenth of a degree, with a true minus sign."""
    return f"{shown.number(value_deg, 1)}°"


@register.filter
def setting(settings, units):
    """How an arrangement is put up for one band, as one line: element 5.18 m, tap 3, 4 radials of 3 m, ..."""
    parts = []
    if settings.element_length_m is not None:
        parts.append(f"element {shown.wire_length(settings.element_length_m, units)}")
    if settings.coil:
        parts.append(f"coil {settings.coil}")
    if settings.tap:
        parts.append(f"tap {settings.tap}")
    if settings.counterpoise_m is not None:
        parts.append(f"counterpoise {shown.wire_length(settings.counterpoise_m, units)}")
    if settings.radials:
        length_m = settings.radial_length_m
        each = f" of {shown.wire_length(length_m, units)}" if length_m is not None else ""
        parts.append(f"{settings.radials} radial{'' if settings.radials == 1 else 's'}{each}")
    if settings.feedpoint_height_m is not None:
        parts.append(f"feedpoint at {shown.wire_length(settings.feedpoint_height_m, units)}")
    if settings.far_end_height_m is not None:
        parts.append(f"far end at {shown.wire_length(settings.far_end_height_m, units)}")
    if settings.slope_deg is not None:
        parts.append(f"slope {shown.number(settings.slope_deg)}°")
    if settings.orientation:
        parts.append(settings.orientation)
    if settings.azimuth_deg is not None:
        parts.append(f"towards {times.bearing(settings.azimuth_deg)}")
    if settings.ground:
        parts.append(f"on {settings.ground}")
    if settings.transformer:
        parts.append(f"transformer {settings.transformer}")
    if settings.choke:
        parts.append(f"choke {settings.choke}")
    if settings.feedline:
        parts.append(f"feedline {settings.feedline}")
    if settings.needs_tuner:
        parts.append("tuner in line")
    if settings.note:
        parts.append(settings.note)
    return ", ".join(parts)
