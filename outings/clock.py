"""Moments as operators type them: now, some minutes ago, 1405, yesterday's date and a time; pure, all in UTC."""

import datetime
import re
from dataclasses import dataclass

AGO = re.compile(r"(?:[-−]\s*(\d{1,4})|(\d{1,4})\s*(?:min|minutes?|m)?\s*ago)", re.IGNORECASE)
CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?|(\d{2})(\d{2})(\d{2})?")
DATED = re.compile(r"(\d{4})-?(\d{2})-?(\d{2})[ T]+(\S+)")
HALF_DAY = datetime.timedelta(hours=12)
AHEAD = datetime.timedelta(minutes=1)  # two clocks need not agree to the second


class NotATime(ValueError):
    """The text is no time; the message says what can be typed."""


@dataclass(frozen=True)
class Moment:
    """A moment in UTC, and whether its seconds were given or are unknown."""

    at: datetime.datetime
    seconds_known: bool


def read(typed, now):
    """A moment that is past: empty or `now`; `-20` or `20 min ago`; `1405`, `140530`, `14:05`; `2026-11-24 1405`.

    A time without a date is the latest one that is not ahead of `now`, if that is less than twelve hours ago; otherwise
    it is refused, since it is more likely mistyped than meant. Raises NotATime.
    """
    text = " ".join(typed.split()).strip()
    if text.lower() in ("", "now"):
        return Moment(now.replace(microsecond=0), True)
    if match := AGO.fullmatch(text):
        minutes = int(match[1] or match[2])
        return Moment(now.replace(microsecond=0) - datetime.timedelta(minutes=minutes), True)
    if DATED.fullmatch(text):
        moment = dated(text, now.date())
        if moment.at > now + AHEAD:
            raise NotATime(f"{text} UTC is still ahead.")
        return moment
    moment = on_day(text, now.date())
    if moment.at <= now + AHEAD:
        return moment
    earlier = moment.at - datetime.timedelta(days=1)
    if now - earlier < HALF_DAY:
        return Moment(earlier, moment.seconds_known)
    raise NotATime(
        f"{moment.at:%H:%M} UTC is still ahead; it is {now:%H:%M} UTC. For an earlier day put the date in front, "
        f"such as {earlier:%Y-%m-%d} {moment.at:%H%M}."
    )


def on_day(typed, day):
    """A time of day on a UTC day. Raises NotATime."""
    text = typed.strip().rstrip("Zz")
    match = CLOCK.fullmatch(text)
    if not match:
        raise NotATime("Give a time in UTC as HHMM or HHMMSS, such as 1405.")
    hour, minute, second = match[1] or match[4], match[2] or match[5], match[3] or match[6]
    try:
        face = datetime.time(int(hour), int(minute), int(second or 0), tzinfo=datetime.UTC)
    except ValueError:
        raise NotATime(f"There is no time {text}: hours go to 23, minutes and seconds to 59.") from None
    return Moment(datetime.datetime.combine(day, face), second is not None)


def dated(typed, day):
    """A moment with its date, `2026-11-24 1405`, or a time on a UTC day. Raises NotATime."""
    text = " ".join(typed.split())
    match = DATED.fullmatch(text)
    return on_day(match[4], date(f"{match[1]}-{match[2]}-{match[3]}")) if match else on_day(text, day)


def next_after(typed, start):
    """A moment with its date, or the first such time of day after a start. Raises NotATime."""
    moment = dated(typed, start.date())
    if moment.at <= start and not DATED.fullmatch(" ".join(typed.split())):
        return Moment(moment.at + datetime.timedelta(days=1), moment.seconds_known)
    return moment


def date(typed):
    """A UTC day as `2026-11-24` or `20261124`. Raises NotATime."""
    text = typed.strip()
    match = re.fullmatch(r"(\d{4})-?(\d{2})-?(\d{2})", text)
    try:
        return datetime.date(int(match[1]), int(match[2]), int(match[3]))
    except (TypeError, ValueError):
        raise NotATime("Give the UTC date as year-month-day, such as 2026-11-24.") from None


def filled_down(typed, previous):
    """The next time in a column of a paper log, where a line repeats only what changed.

    Empty is the same minute as the line above; two digits are minutes, in the next hour where they are lower; four or
    six are a time of day, on the next day where the column runs over midnight, that is where the time falls back by
    more than twelve hours. A time that falls back by less is an entry out of order on the same day. Raises NotATime.
    """
    text = typed.strip()
    if not text:
        return Moment(previous.replace(second=0, microsecond=0), False)
    if re.fullmatch(r"\d{2}", text):
        minute = int(text)
        if minute > 59:
            raise NotATime(f"{text} is no minute; give HHMM.")
        at = previous.replace(minute=minute, second=0, microsecond=0)
        if minute < previous.minute:
            at += datetime.timedelta(hours=1)
        return Moment(at, False)
    moment = on_day(text, previous.date())
    if previous - moment.at > HALF_DAY:
        return Moment(moment.at + datetime.timedelta(days=1), moment.seconds_known)
    if moment.at - previous > HALF_DAY:
        return Moment(moment.at - datetime.timedelta(days=1), moment.seconds_known)
    return moment
