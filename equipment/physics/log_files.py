"""Files of pack loggers: a CSV of times, voltages and currents to numbers, with what was recognised in it."""

import datetime
import math
import re
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from equipment.numerals import Numeral

from . import text_files
from .log_times import moment

MOST_BYTES = 4 * 1024 * 1024
MOST_ROWS = 100_000
LONGEST_LINE = 4000
MOST_COLUMNS = 60
MOST_V, MOST_A = 1000.0, 2000.0
LONGEST_S = 60 * 86400.0
ODD_SHARE = 0.05  # of the rows may be no numbers, such as a closing line
SAMPLE = 100

NUMBER = re.compile(r"[-+−]?([0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?", re.ASCII)

MANNERS = (
    (";", "."), (";", ","), ("\t", "."), ("\t", ","), (",", "."), ("|", "."), ("|", ","), (" ", "."), (" ", ","),
    (",", ","),  # with quotes around
)
DAYS = ("date", "datum")

WORDS = {
    "time": {"time", "timestamp", "date", "datetime", "elapsed", "duration", "seconds", "minutes", "hours", "t", "zeit",
             "uhrzeit", "datum", "dauer", "temps", "tiempo", "tempo", "tijd", "s", "sec", "min", "h", "ms"},
    "volts": {"voltage", "volts", "volt", "v", "mv", "u", "vbat", "spannung", "tension", "tensione", "voltaje",
              "spanning"},
    "amps": {"current", "amps", "amp", "ampere", "amperes", "a", "ma", "i", "ibat", "strom", "courant", "corrente",
             "corriente", "stroom"},
}
OTHERS = {"temperature", "temp", "power", "leistung", "watt", "watts", "w", "mw", "capacity", "ah", "mah", "energy",
          "wh", "mwh", "ohm", "resistance", "soc", "cell"}
UNITS = {
    "time": {"ms": 1e-3, "s": 1.0, "sec": 1.0, "seconds": 1.0, "min": 60.0, "minutes": 60.0, "h": 3600.0,
             "hours": 3600.0},
    "volts": {"mv": 1e-3, "v": 1.0, "volts": 1.0, "volt": 1.0},
    "amps": {"ma": 1e-3, "a": 1.0, "amps": 1.0, "amp": 1.0},
}
NAMES = {"time": "time", "volts": "voltage", "amps": "current"}
UNIT_CHOICES = {"time": ("s", "ms", "min", "h"), "volts": ("V", "mV"), "amps": ("A", "mA")}


class BadLog(ValueError):
    """A log that cannot be used; the message says where and why."""


@dataclass(frozen=True)
class Chosen:
    """What the operator says against what was recognised: columns (from 0) and units; None leaves it to the file."""

    time: int | None = None
    volts: int | None = None
    amps: int | None = None
    time_unit: str | None = None
    volts_unit: str | None = None
    amps_unit: str | None = None


@dataclass(frozen=True)
class LogRead:
    """The numbers of a log and what was recognised in its file.

    seconds begin at 0; amps as they stand in the file, empty where there is no current; began is what the file says
    itself (without a zone taken as UTC), else None; columns are their names; used maps time, volts and amps to
    (column, unit).
    """

    seconds: tuple[float, ...]
    volts: tuple[float, ...]
    amps: tuple[float, ...]
    began: datetime.datetime | None
    columns: tuple[str, ...]
    used: dict
    understood: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


def read(content, chosen=None):
    """Read a CSV log from bytes. BadLog, with the line where there is one, for anything that cannot be used."""
    chosen = chosen or Chosen()
    text = _decoded(content)
    separator, decimal, rows = _table(text)
    first, header = _beginning(rows, decimal)
    width = Counter(len(cells) for _, cells in rows[first:first + SAMPLE]).most_common(1)[0][0]
    if width > MOST_COLUMNS:
        raise BadLog(f"the file has {width} columns; a log has a few")
    names = header if header and len(header) == width else tuple(f"column {i + 1}" for i in range(width))
    body = [(line, cells) for line, cells in rows[first:] if len(cells) == width]
    above = first - 1 if header else first
    remarks = [f"{above} line{'s' if above > 1 else ''} above the table passed over"] if above else []
    if not header:
        remarks.append("no names above the columns: taken in the order of time, voltage, current")
    columns = _columns(names, header, chosen, body, decimal)
    numbers, odd = _numbers(body, columns, decimal)
    odd += [line for line, cells in rows[first:] if len(cells) != width]
    if odd and len(odd) > max(2, ODD_SHARE * len(rows)):
        raise BadLog(f"line {min(odd)} is not like the others, nor are {len(odd) - 1} more: is this a log of numbers?")
    if odd:
        remarks.append(f"{len(odd)} line{'s' if len(odd) > 1 else ''} left out (the first is line {min(odd)})")
    if len(numbers) < 2:
        raise BadLog("fewer than two lines with a time and a voltage were found")
    used, scales = _units(names, columns, numbers, chosen, remarks)
    hours_and_minutes = _is_clock(numbers) and body[0][1][columns["time"]].count(":") == 1 and numbers[0][1][0] is None
    if hours_and_minutes and chosen.time_unit != "h":
        remarks.append("times like 12:30 are taken as minutes and seconds; choose h if they are hours and minutes")
    stretch = 60.0 if hours_and_minutes and chosen.time_unit == "h" else 1.0
    seconds, began, kept = _times(numbers, scales["time"], stretch, remarks)
    used["time"] = (columns["time"], "clock" if began or _is_clock(numbers) else used["time"][1])
    volts = tuple(_within(numbers[i][2] * scales["volts"], MOST_V, "V", numbers[i][0]) for i in kept)
    amps = ()
    if columns["amps"] is not None:
        amps = tuple(_within(numbers[i][3] * scales["amps"], MOST_A, "A", numbers[i][0]) for i in kept)
    if min(volts) < 0:
        raise BadLog("a voltage is negative: is it the right column?")
    understood = (
        ("Columns parted by", text_files.SEPARATORS[separator]),
        ("Decimals after a", "comma" if decimal == "," else "point"),
        *((NAMES[role].capitalize(), f"{names[column]}, in {unit}") for role, (column, unit) in used.items()),
        ("Readings", str(len(seconds))),
    )
    return LogRead(seconds, volts, amps, began, tuple(names), used, understood, tuple(remarks))


def _decoded(content):
    if not content:
        raise BadLog("the file is empty")
    if len(content) > MOST_BYTES:
        raise BadLog(f"a log file is at most {MOST_BYTES // 2**20} MB; let the logger write less often")
    try:
        return text_files.decoded(content)
    except text_files.NotText:
        raise BadLog("this is not a text file; save the log as CSV") from None


def _split(lines, separator):
    try:
        return [(number, text_files.cells(line, separator)) for number, line in lines]
    except text_files.Unparted as error:
        raise BadLog(f"the file cannot be parted into columns: {error}") from None


def _table(text):
    """The manner of the file, and its rows as (line number, cells)."""
    lines = [(number, line.replace("\x0b", " ")) for number, line in enumerate(re.split("\r\n|\r|\n", text), 1)]
    lines = [(number, line) for number, line in lines if line.strip()]
    if len(lines) > MOST_ROWS:
        raise BadLog(f"the log has {len(lines)} lines; at most {MOST_ROWS} are taken")
    long = next((number for number, line in lines if len(line) > LONGEST_LINE), None)
    if long:
        raise BadLog(f"line {long} is too long for a log")
    sample = lines[-SAMPLE:]  # the end of a file has numbers where its beginning may have words
    best, found = 0, None
    tabbed = any("\t" in line for _, line in sample)
    for separator, decimal in MANNERS:
        if separator == " " and tabbed:
            continue  # a date and a time of day with a space between them stay together
        rows = [cells for _, cells in _split(sample, separator) if len(cells) <= MOST_COLUMNS]
        usual = Counter(map(len, rows)).most_common(1)[0][0] if rows else 0
        score = sum(
            sum(_is_value(cell, decimal) for cell in cells) == len([cell for cell in cells if cell]) and len(cells) > 1
            for cells in rows if len(cells) == usual
        ) * 100 + sum(_is_value(cell, decimal) for cells in rows if len(cells) == usual > 1 for cell in cells)
        if score > best:
            best, found = score, (separator, decimal)
    if found is None:
        raise BadLog("no table of numbers was found: a log is a CSV file with a time, a voltage and a current a line")
    separator, decimal = found
    return separator, decimal, _split(lines, separator)


def _is_value(cell, decimal):
    return _float(cell, decimal) is not None or moment(cell) is not None


def _float(cell, decimal):
    """A finite number, or None. A unit behind it (13.2 V) is allowed."""
    cell = cell.strip().strip('"')
    if len(cell) > 40:
        return None
    bare = re.sub(r"\s*(mV|V|mA|A|s|ms|min|h)$", "", cell)
    if not NUMBER.fullmatch(bare) or (decimal == "." and "," in bare) or (
        decimal == "," and "." in bare
    ):
        return None
    value = float(bare.replace(",", ".").replace("−", "-"))
    return value if math.isfinite(value) else None


def _beginning(rows, decimal):
    """Where the numbers begin, and the header above them or None."""
    for index, (_, cells) in enumerate(rows[:500]):
        if sum(_is_value(cell, decimal) for cell in cells) >= 2:
            above = rows[index - 1][1] if index else None
            named = above and any(re.search("[^\\W\\d_]", cell) for cell in above)
            header = tuple(cell.strip().lstrip("#").strip()[:60] for cell in above) if named else None
            return index, header
    raise BadLog("no line with a time and a voltage was found")


def _role(name):
    """Which of time, volts and amps a name of a column means, or None."""
    tokens = re.findall(r"[^\W\d_]+", name.lower())
    plain = [token for token in tokens if token not in UNITS["time"] or len(tokens) == 1]
    if any(token in OTHERS for token in tokens):
        return None
    for role in ("volts", "amps", "time"):
        if any(token in WORDS[role] and len(token) > 2 for token in plain):
            return role
    for role in ("volts", "amps", "time"):
        if any(token in WORDS[role] for token in tokens):
            return role
    return None


def _columns(names, header, chosen, body, decimal):
    """Which column is what; what the operator chose stands."""
    roles = [_role(name) if header else None for name in names]
    if roles.count("time") > 1:  # a day beside a clock is added to it
        roles = [None if name.lower() in DAYS else role for name, role in zip(names, roles, strict=True)]
    columns = {}
    for role in WORDS:
        own = getattr(chosen, role)
        if own is not None and not 0 <= own < len(names):
            raise BadLog(f"there is no column {own + 1} for the {NAMES[role]}")
        columns[role] = own if own is not None else next((i for i, found in enumerate(roles) if found == role), None)
    if header is None or (columns["time"] is None and columns["volts"] is None):
        free = [
            i for i in range(len(names)) if i not in columns.values()
            and sum(_is_value(cells[i], decimal) for _, cells in body[:SAMPLE]) * 2 > len(body[:SAMPLE])
        ]
        for role in WORDS:
            if columns[role] is None and free:
                columns[role] = free.pop(0)
    for role in ("time", "volts"):
        if columns[role] is None:
            raise BadLog(f"no column of the {NAMES[role]} was recognised among: {', '.join(names)[:200]}")
    taken = [column for column in columns.values() if column is not None]
    if len(set(taken)) < len(taken):
        raise BadLog("the same column was taken twice")
    days = (i for i, name in enumerate(names) if header and i not in taken and name.lower() in DAYS)
    columns["day"] = next(days, None)
    return columns


def _numbers(body, columns, decimal):
    """Rows as (line, time as number or moment, volts, amps), and the lines that are none."""
    rows, odd = [], []
    for line, cells in body:
        written = cells[columns["time"]]
        if columns["day"] is not None:
            written = f"{cells[columns['day']]} {written}"
        at = _float(written, decimal)
        at = moment(written) if at is None else at
        volts = _float(cells[columns["volts"]], decimal)
        amps = 0.0 if columns["amps"] is None else _float(cells[columns["amps"]], decimal)
        if at is None or volts is None or amps is None or (rows and type(at) is not type(rows[0][1])):
            odd.append(line)
        else:
            rows.append((line, at, volts, amps))
    return rows, odd


def _is_clock(numbers):
    return isinstance(numbers[0][1], tuple)


def _units(names, columns, numbers, chosen, remarks):
    """The unit of each column as {role: (column, unit)}, and what one of it is in seconds, volts and amperes."""
    used, scales = {}, {}
    position = {"volts": 2, "amps": 3}
    for role in WORDS:
        column = columns[role]
        if column is None:
            continue
        own = getattr(chosen, f"{role}_unit")
        # a unit stands at the end of a name, so the last word counts
        tokens = [token for token in re.findall(r"[^\W\d_]+", names[column].lower()) if token in UNITS[role]]
        unit = own or (tokens[-1] if tokens else None)
        if unit is None or unit.lower() not in UNITS[role]:
            unit = UNIT_CHOICES[role][0]
            usual = median(abs(row[position[role]]) for row in numbers) if role != "time" else 0
            if usual > (100 if role == "volts" else 50):
                unit = UNIT_CHOICES[role][1]
                remarks.append(f"no unit of the {NAMES[role]} is given; its size says {unit}")
        scales[role] = UNITS[role][unit.lower()]
        shown = next((name for name in UNIT_CHOICES[role] if UNITS[role][name.lower()] == scales[role]), unit)
        used[role] = (column, shown)
    return used, scales


def _times(numbers, scale, stretch, remarks):
    """Seconds from the first reading, the moment it was taken if the file tells, and which rows are kept."""
    began, raw = None, []
    if _is_clock(numbers):
        if numbers[0][1][0] is not None:
            raw = [(day or 0) * 86400.0 + seconds for _, (day, seconds), _, _ in numbers]
            began = _utc(raw[0])
        else:
            days = 0
            for _, (_, written), _, _ in numbers:
                seconds = written * stretch
                if raw and seconds + days < raw[-1] - 43_200:
                    days += 86_400
                raw.append(seconds + days)
    else:
        raw = [at for _, at, _, _ in numbers]
        if min(raw) > 1e11:
            scale = 1e-3
        elif min(raw) > 1e9:
            scale = 1.0
        raw = [at * scale for at in raw]
        if min(raw) > 1e9:
            began = _utc(raw[0] + datetime.date(1970, 1, 1).toordinal() * 86400.0)
    kept, last = [], None
    for index, at in enumerate(raw):
        if last is not None and at < last:
            raise BadLog(f"line {numbers[index][0]}: the time goes back")
        if last is None or at > last:
            kept.append(index)
            last = at
    if len(kept) < len(raw):
        remarks.append(f"{len(raw) - len(kept)} reading(s) at the same time as the one before left out")
    if len(kept) < 2:
        raise BadLog("the time does not go on")
    seconds = tuple(raw[index] - raw[0] for index in kept)
    if seconds[-1] > LONGEST_S:
        raise BadLog(f"the log lasts {seconds[-1] / 86400:.0f} days: is the unit of the time right?")
    gaps = [b - a for a, b in pairwise(seconds)]
    if max(gaps) > 60 + 10 * median(gaps):
        remarks.append(f"the longest gap between two readings is {max(gaps):.0f} s")
    return seconds, began, kept


def _utc(seconds):
    day, rest = divmod(seconds, 86400.0)
    try:
        start = datetime.datetime.combine(datetime.date.fromordinal(int(day)), datetime.time(), datetime.UTC)
    except (ValueError, OverflowError) as error:
        raise BadLog("the date in the file cannot be") from error
    return start + datetime.timedelta(seconds=rest)


def _within(value, most, unit, line):
    if abs(value) > most:
        raise BadLog(f"line {line}: {Numeral(value):.4g} {unit} is more than a pack can have; is the unit right?")
    return value
