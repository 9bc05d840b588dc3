"""Days and clocks as loggers write them, to numbers; pure."""

import datetime
import re

LONGEST = 40

CLOCK = re.compile(r"(?:([0-9]{1,4}):)?([0-9]{1,4}):([0-9]{1,2})(?:[.,]([0-9]{1,6}))?", re.ASCII)
DATE = re.compile(r"([0-9]{1,4})([-./])([0-9]{1,2})\2([0-9]{1,4})(?:[T ]+(.+?))?", re.ASCII)
ZONE = re.compile(r"\s*(Z|UTC|[+-][0-9]{2}:?[0-9]{2})$", re.ASCII)
HALF = re.compile(r"\s*([AaPp])\.?[Mm]\.?$", re.ASCII)


def moment(cell):
    """A date with or without a clock, or a clock alone, as (day number or None, seconds)."""
    cell = cell.strip().strip('"')
    if len(cell) > LONGEST:
        return None
    zone = ZONE.search(cell)
    shift = 0
    if zone and (":" in cell[: zone.start()]):
        cell = cell[: zone.start()]
        if zone[1] not in ("Z", "UTC"):
            digits = zone[1].replace(":", "")
            shift = (1 if digits[0] == "+" else -1) * (int(digits[1:3]) * 3600 + int(digits[3:5]) * 60)
    dated = DATE.fullmatch(cell)
    clock = (dated[5] if dated else cell) or ""
    seconds = 0.0
    if clock or not dated:
        half = HALF.search(clock)
        parts = CLOCK.fullmatch(clock[: half.start()] if half else clock)
        if parts is None:
            return None
        hours, minutes, last, fraction = parts.groups()
        if hours is None and dated:
            hours, minutes, last = minutes, last, "0"
        elif hours is None:  # 12:30 alone is minutes and seconds unless the operator says hours
            hours = "0"
        hour = int(hours)
        if half:
            hour = hour % 12 + (12 if half[1] in "Pp" else 0)
        seconds = hour * 3600.0 + int(minutes) * 60 + int(last) + float(f"0.{fraction or 0}")
    if not dated:
        return None, seconds - shift
    day = day_of(dated[1], dated[2], dated[3], dated[4])
    return None if day is None else (day, seconds - shift)


def day_of(first, mark, second, third):
    """The ordinal of a day written year first, day first (dots, and slashes where that is possible) or month first."""
    if len(first) == 4:
        orders = [(first, second, third)]
    elif len(third) == 4:
        orders = [(third, second, first)] + ([(third, first, second)] if mark == "/" else [])
    else:
        return None
    for year, month, day in orders:
        try:
            return datetime.date(int(year), int(month), int(day)).toordinal()
        except ValueError:
            continue
    return None
