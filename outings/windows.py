"""Windows of time at a place: civil times as typed against UTC, where clocks change, and the UTC days they touch; pure.

Times are aware datetimes in UTC unless named local; zones are names of the IANA zone files.
"""

import datetime
import re
import zoneinfo
from dataclasses import dataclass

UTC = "UTC"
FIRST, SECOND = "first", "second"
DAY = datetime.timedelta(days=1)
MINUTE = datetime.timedelta(minutes=1)
TYPED = re.compile(r"([0-9]{1,2})(?:[:.h]([0-9]{2})|([0-9]{2}))?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE | re.ASCII)


class NoSuchTime(ValueError):
    """The clocks go past this local time; the message says so and what to do."""


class TwoSuchTimes(ValueError):
    """This local time comes twice, `first` and `second` in UTC; the message asks for a choice."""

    def __init__(self, message, first, second):
        super().__init__(message)
        self.first, self.second = first, second


@dataclass(frozen=True)
class ClockChange:
    """The clocks of a place are set at `at`; offsets in minutes ahead of UTC before and after."""

    at: datetime.datetime
    before_min: int
    after_min: int


def read_time(typed):
    """Read a time of day as typed: 14:05, 1405, 14.05, 2:05 pm.

    Raises ValueError with a sentence for the person who typed it.
    """
    text = " ".join(typed.split())
    match = TYPED.fullmatch(text)
    if match is None or (match[2] is None and match[3] is None and match[4] is None):
        raise ValueError(f"{text or 'Nothing'} is no time of day: type it as 14:05 or 2:05 pm.")
    hour, minute = int(match[1]), int(match[2] or match[3] or 0)
    if match[4]:
        if not 1 <= hour <= 12:
            raise ValueError(f"{text} is no time of day: am and pm go with hours from 1 to 12.")
        hour = hour % 12 + (12 if match[4].lower() == "p" else 0)
    if hour > 23 or minute > 59:
        raise ValueError(f"{text} is no time of day: hours go to 23 and minutes to 59.")
    return datetime.time(hour, minute)


def to_utc(date, time, zone, which=""):
    """The instant of a civil date and time in a zone.

    `which` is "first" or "second" where the clocks are set back and the time comes twice.
    Raises NoSuchTime where the clocks go past the time, TwoSuchTimes where it comes twice and no choice was made, and
    ValueError for dates beyond the calendar.
    """
    local = datetime.datetime.combine(date, time, zoneinfo.ZoneInfo(zone))
    try:
        first = local.replace(fold=0).astimezone(datetime.UTC)
        second = local.replace(fold=1).astimezone(datetime.UTC)
        back = first.astimezone(local.tzinfo)
    except OverflowError:
        raise ValueError(f"The year {date.year} is beyond the calendar.") from None
    if back.replace(tzinfo=None) != local.replace(tzinfo=None):
        change = next(iter(clock_changes(zone, second - DAY, first + DAY)), None)
        told = f": {change_sentence(change)}" if change else ""
        raise NoSuchTime(
            f"There is no {time:%H:%M} on {date:%Y-%m-%d} in {zone}{told}. Type another time, or type UTC times."
        )
    if first == second:
        return first
    if which not in (FIRST, SECOND):
        raise TwoSuchTimes(
            f"{time:%H:%M} comes twice on {date:%Y-%m-%d} in {zone}, at {first:%H:%M} UTC and again at {second:%H:%M} "
            "UTC, because the clocks are set back. Choose which is meant.", first, second,
        )
    return first if which == FIRST else second


def local(at, zone):
    """The date and time that the clocks of a zone show at an instant, to the minute, without the zone."""
    return at.astimezone(zoneinfo.ZoneInfo(zone)).replace(tzinfo=None, second=0, microsecond=0)


def clock_changes(zone, starts_at, ends_at):
    """Every setting of a place's clocks after one instant and up to another, to the minute."""
    place = zoneinfo.ZoneInfo(zone)

    def offset(at):
        return at.astimezone(place).utcoffset()

    found, left = [], starts_at.replace(second=0, microsecond=0)
    while left < ends_at:
        right = min(left + DAY / 4, ends_at)
        if offset(left) != offset(right):
            low, high = left, right
            while high - low > MINUTE:
                middle = low + (high - low) / 2
                middle = middle.replace(second=0, microsecond=0)
                if middle <= low:
                    break
                if offset(middle) == offset(low):
                    low = middle
                else:
                    high = middle
            found.append(ClockChange(high, _minutes(offset(low)), _minutes(offset(high))))
        left = right
    return found


def _minutes(offset):
    return round(offset.total_seconds() / 60)


def offset_text(minutes):
    """UTC+2, UTC−3:30, UTC."""
    if not minutes:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else '−'}{hours}" + (f":{rest:02d}" if rest else "")


def change_sentence(change):
    """On 2026-03-29 the clocks go from 02:00 to 03:00 (UTC+1 to UTC+2)."""
    before = change.at + datetime.timedelta(minutes=change.before_min)
    after = change.at + datetime.timedelta(minutes=change.after_min)
    day = "" if after.date() == before.date() else f" of {after:%Y-%m-%d}"
    return (
        f"on {before:%Y-%m-%d} the clocks go from {before:%H:%M} to {after:%H:%M}{day} "
        f"({offset_text(change.before_min)} to {offset_text(change.after_min)})"
    )


def midnights(starts_at, ends_at):
    """The changes of the UTC day inside a window: after its start and before its end."""
    at = datetime.datetime.combine(starts_at.astimezone(datetime.UTC).date() + DAY, datetime.time(), datetime.UTC)
    found = []
    while at < ends_at:
        found.append(at)
        at += DAY
    return found


def utc_days(starts_at, ends_at):
    """The UTC days, and so the log days, that a window touches; its end does not belong to it."""
    first = starts_at.astimezone(datetime.UTC).date()
    return [first, *(at.date() for at in midnights(starts_at, ends_at))]


def local_dates(starts_at, ends_at, zone):
    """The civil dates at a place that a window touches, in order, without those that the clocks went past."""
    place = zoneinfo.ZoneInfo(zone)
    date, last = starts_at.astimezone(place).date(), max(starts_at, ends_at - MINUTE).astimezone(place).date()
    found = []
    while date <= last:
        begins = datetime.datetime.combine(date, datetime.time(), place).astimezone(datetime.UTC)
        ends = datetime.datetime.combine(date + DAY, datetime.time(), place).astimezone(datetime.UTC)
        if ends > begins:
            found.append(date)
        date += DAY
    return found


def between_pauses(start, end, pauses):
    """The stretches from `start` to `end` between pauses, as pairs of moments, the earliest first.

    pauses: pairs of moments in the order of their beginnings, the end None where one goes on; they may overlap, or
    reach over the ends. Nothing where `end` is not after `start`.
    """
    at, found = start, []
    for begin, stop in pauses:
        if begin >= end:
            break
        if begin > at:
            found.append((at, begin))
        at = max(at, min(stop or end, end))
    return [*found, (at, end)] if end > at else found
