"""The light of a window of time at a place, as a plan tells it; pure.

Everything between is computed in `sun` and `windows`; here it is put together for the dates that a window touches.
"""

import datetime
from dataclasses import dataclass

from . import sun, windows

AROUND = datetime.timedelta(hours=2)  # shown before and after the window
LONGEST_ROWS = 16
STEPS_MIN = (15, 30, 60, 120, 180, 360, 720)


@dataclass(frozen=True)
class Event:
    """Something that happens in the sky, or with the clocks, at an instant."""

    what: str
    at: datetime.datetime


@dataclass(frozen=True)
class Day:
    """One civil date at the place: dawn, sunrise, highest sun, sunset and dusk as they come, and what is missing."""

    date: datetime.date
    events: tuple[Event, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Height:
    """The sun's height over the horizon at an instant, and the light that it gives."""

    at: datetime.datetime
    elevation_deg: float
    light: str


@dataclass(frozen=True)
class Ending:
    """The light at the end of a window; a crossing that does not come within a day is None."""

    height: Height
    is_day: bool
    next_sunset: datetime.datetime | None
    next_dusk: datetime.datetime | None
    last_sunset: datetime.datetime | None
    next_sunrise: datetime.datetime | None

    @property
    def day_left_h(self):
        """Hours of daylight left at the end: None where the sun is down, or up for another day."""
        return self._hours(self.next_sunset) if self.is_day else None

    @property
    def until_dusk_h(self):
        return self._hours(self.next_dusk) if self.height.elevation_deg > sun.CIVIL_DEG else None

    @property
    def since_sunset_h(self):
        """Hours since the last sunset, where there was one within a day."""
        return None if self.last_sunset is None else -self._hours(self.last_sunset)

    def _hours(self, at):
        return None if at is None else (at - self.height.at).total_seconds() / 3600


@dataclass(frozen=True)
class Daylight:
    """What a plan says about the light: dates, heights over the window, the end, and where days and clocks change."""

    starts_at: datetime.datetime
    ends_at: datetime.datetime
    zone: str
    days: tuple[Day, ...]
    heights: tuple[Height, ...]
    path: tuple[tuple[datetime.datetime, float], ...]
    ending: Ending
    utc_days: tuple[datetime.date, ...]
    utc_midnights: tuple[datetime.datetime, ...]  # inside the window
    next_utc_midnight: datetime.datetime  # the first after the start
    clock_changes: tuple[windows.ClockChange, ...]

    @property
    def clock_sentences(self):
        """Each setting of the clocks on the dates of the window, as a sentence."""
        told = (windows.change_sentence(change) for change in self.clock_changes)
        return [f"{text[0].upper()}{text[1:]}." for text in told]


def of(latitude_deg, longitude_deg, zone, starts_at, ends_at):
    """Put together the light of a window at a place.

    Parameters: place in degrees; `zone`, the name of its time zone; two aware datetimes, the end not before the start.
    Returns a Daylight; the dates are the civil ones of the place. Raises ValueError where the end is before the start.
    """
    if ends_at < starts_at:
        raise ValueError("The end must not be before the beginning.")
    dates = windows.local_dates(starts_at, ends_at, zone)
    lights = [(date, sun.light(latitude_deg, longitude_deg, date, zone)) for date in dates]
    midnights = windows.midnights(starts_at, ends_at)
    first_midnight = datetime.datetime.combine(
        starts_at.astimezone(datetime.UTC).date() + windows.DAY, datetime.time(), datetime.UTC
    )
    return Daylight(
        starts_at=starts_at,
        ends_at=ends_at,
        zone=zone,
        days=tuple(Day(date, events_of(light), notes_of(light)) for date, light in lights),
        heights=heights(latitude_deg, longitude_deg, starts_at, ends_at),
        path=path(latitude_deg, longitude_deg, starts_at - AROUND, ends_at + AROUND),
        ending=ending(latitude_deg, longitude_deg, ends_at),
        utc_days=tuple(windows.utc_days(starts_at, ends_at)),
        utc_midnights=tuple(midnights),
        next_utc_midnight=first_midnight,
        clock_changes=tuple(windows.clock_changes(
            zone, min([starts_at, *(light.starts_at for _, light in lights)]),
            max([ends_at, *(light.ends_at for _, light in lights)]),
        )),
    )


def events_of(light):
    """Dawn, sunrise, the highest sun, sunset and dusk of a date in the order in which they come."""
    events = [Event("sunrise" if crossing.rising else "sunset", crossing.at) for crossing in light.sun]
    events += [Event("dawn" if crossing.rising else "dusk", crossing.at) for crossing in light.civil]
    if light.highest_deg >= sun.SUNRISE_DEG:
        events.append(Event("highest sun", light.highest_at))
    return tuple(sorted(events, key=lambda event: event.at))


def notes_of(light):
    """What does not happen on a date, in sentences."""
    if light.state == sun.UP_ALL_DAY:
        return ("The sun does not set on this date.",)
    notes = []
    if light.state == sun.DOWN_ALL_DAY:
        notes.append("The sun does not rise on this date.")
        if light.civil_state == sun.DOWN_ALL_DAY:
            notes.append("There is no dawn or dusk either: it stays darker than civil twilight.")
    else:
        notes += [
            f"There is no {name} on this date."
            for name, at in (("sunrise", light.sunrise), ("sunset", light.sunset)) if at is None
        ]
    if light.civil_state == sun.UP_ALL_DAY:
        notes.append("It does not get dark: civil twilight lasts through the night.")
    elif light.civil_state == sun.NORMAL:
        notes += [
            f"There is no {name} on this date."
            for name, at in (("dawn", light.dawn), ("dusk", light.dusk)) if at is None
        ]
    return tuple(notes)


def heights(latitude_deg, longitude_deg, starts_at, ends_at):
    """The sun's height at the start, at whole steps between, and at the end: at most sixteen or so."""
    span_min = (ends_at - starts_at).total_seconds() / 60
    step_min = next((step for step in STEPS_MIN if span_min / step <= LONGEST_ROWS - 2), STEPS_MIN[-1])
    moments = [starts_at]
    day = datetime.datetime.combine(starts_at.astimezone(datetime.UTC).date(), datetime.time(), datetime.UTC)
    passed = int((starts_at - day).total_seconds() // (step_min * 60)) + 1
    at = day + datetime.timedelta(minutes=step_min * passed)
    while at < ends_at:
        moments.append(at)
        at += datetime.timedelta(minutes=step_min)
    if ends_at > starts_at:
        moments.append(ends_at)
    return tuple(height(latitude_deg, longitude_deg, moment) for moment in moments)


def height(latitude_deg, longitude_deg, at):
    """The sun's height and light at one instant."""
    elevation_deg = sun.elevation_deg(latitude_deg, longitude_deg, at)
    return Height(at, elevation_deg, sun.light_class(elevation_deg))


def path(latitude_deg, longitude_deg, starts_at, ends_at):
    """The sun's height at even steps, about a hundred of them, for a picture."""
    step = max(datetime.timedelta(minutes=5), (ends_at - starts_at) / 120)
    count = round((ends_at - starts_at) / step)
    moments = [starts_at + index * step for index in range(count + 1)]
    return tuple((at, sun.elevation_deg(latitude_deg, longitude_deg, at)) for at in moments)


def ending(latitude_deg, longitude_deg, at):
    """The light at one instant and what comes next and came last within a day."""
    now = height(latitude_deg, longitude_deg, at)
    is_day = now.elevation_deg >= sun.SUNRISE_DEG
    day_before = sun.crossings(latitude_deg, longitude_deg, at - windows.DAY, at)
    day_after = sun.crossings(latitude_deg, longitude_deg, at, at + windows.DAY)
    dusks = sun.crossings(latitude_deg, longitude_deg, at, at + windows.DAY, sun.CIVIL_DEG)
    return Ending(
        height=now,
        is_day=is_day,
        next_sunset=sun.first(day_after, rising=False),
        next_dusk=sun.first(dusks, rising=False),
        last_sunset=sun.last(day_before, rising=False),
        next_sunrise=sun.first(day_after, rising=True),
    )
