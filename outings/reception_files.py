"""Files of reception reports: a CSV of any manner to reports, with what was recognised and what was not taken; pure.

A line says when, by which receiver (its call, or else its grid square), on which frequency, and how many decibels over
the noise this station was heard. Columns are known by their names or, without a header, by what stands in them; the
operator may say otherwise.
"""

import datetime
import re
from dataclasses import dataclass

from equipment.numerals import Numeral
from equipment.physics import text_files
from equipment.physics.log_times import moment
from outings import calls, geography
from outings.adif import tables

MOST_BYTES = 4 * 1024 * 1024
MOST_LINES = 50_000
LONGEST_LINE = 2000
MOST_COLUMNS = 60
SAMPLE = 60
SNR_DB = (-60.0, 80.0)
HALF_DAY_S = 43_200

ROLES = {"time": "time", "date": "day", "receiver": "receiver’s call", "grid": "receiver’s grid",
         "frequency": "frequency", "snr": "SNR"}
WORDS = {
    "snr": {"snr", "db", "sn", "report", "signal"},
    "frequency": {"frequency", "freq", "mhz", "khz", "hz", "qrg"},
    "grid": {"grid", "locator", "loc", "gridsquare", "square", "maidenhead"},
    "receiver": {"receiver", "rx", "reporter", "spotter", "listener", "heardby", "receivedby", "call", "callsign",
                 "station"},
    "date": {"date", "day", "datum"},
    "time": {"time", "utc", "timestamp", "datetime", "when", "zeit"},
}
SENDER = {"tx", "sender", "transmitter", "sent", "from", "my", "own"}  # columns about this station
UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6}
NUMBER = re.compile(r"[-+−]?(\d+(?:[.,]\d*)?|[.,]\d+)", re.ASCII)
CLOCK = re.compile(r"([01]\d|2[0-3])([0-5]\d)([0-5]\d)?", re.ASCII)
DAY = re.compile(r"(\d{4})-?(\d\d)-?(\d\d)|(\d\d)(\d\d)(\d\d)", re.ASCII)


class BadFile(ValueError):
    """A file that cannot be used; the message says why."""


@dataclass(frozen=True)
class Report:
    """One report: its line, when (UTC), the receiver's call or else its grid, and how well it heard."""

    line: int
    at: datetime.datetime
    receiver: str
    grid: str
    frequency_hz: int
    band: str
    snr_db: float


@dataclass(frozen=True)
class Read:
    """What a file holds: its reports in order of time, the lines that were not taken with the reason, and its manner.

    columns are its names; used maps roles to columns from 0; twice counts lines that repeat another.
    """

    reports: tuple[Report, ...]
    bad: tuple[tuple[int, str], ...]
    columns: tuple[str, ...]
    used: dict
    separator: str
    lines: int
    twice: int


def read(content, day, chosen=None):
    """Read a CSV of reception reports from bytes.

    Parameters: `day`, the UTC date of times without one; `chosen`, {role: column from 0, or None for no such column}
    where the operator says so. Returns a Read. Raises BadFile where there is no table with the columns needed.
    """
    text = decoded(content)
    separator, rows = table(text)
    header = rows[0][1] if named(rows[0][1]) else None
    body = rows[1:] if header else rows
    if not body:
        raise BadFile("there is no line below the header")
    width = max(len(cells) for _, cells in rows)
    names = names_of(header, width)
    used = columns_of(names, header, body, separator, chosen or {})
    scale = unit_of(names[used["frequency"]]) if header else None
    reports, bad, seen, twice, before = [], [], set(), 0, None
    for line, cells in body:
        try:
            report = report_of(line, cells, used, scale, day, before, separator)
        except ValueError as problem:
            bad.append((line, str(problem)))
            continue
        before = report.at
        key = (report.receiver, report.at, report.frequency_hz)
        if key in seen:
            twice += 1
            continue
        seen.add(key)
        reports.append(report)
    reports.sort(key=lambda report: (report.at, report.line))
    return Read(tuple(reports), tuple(bad), names, used, text_files.SEPARATORS[separator], len(body), twice)


def columns_in(content):
    """The names of a file's columns, numbered where it has no header. BadFile where there is no table."""
    _, rows = table(decoded(content))
    width = max(len(cells) for _, cells in rows)
    return names_of(rows[0][1] if named(rows[0][1]) else None, width)


def names_of(header, width):
    return tuple((header[i] if header and i < len(header) else "")[:60] or f"column {i + 1}" for i in range(width))


def decoded(content):
    """Bytes as text."""
    if not content.strip():
        raise BadFile("the file is empty")
    if len(content) > MOST_BYTES:
        raise BadFile(f"a file of reports is at most {MOST_BYTES // 2**20} MB")
    try:
        return text_files.decoded(content)
    except text_files.NotText:
        raise BadFile("this is not a text file; save the reports as CSV") from None


def table(text):
    """The separator, and the lines that are not empty as (line number, cells)."""
    lines = [(number, line) for number, line in enumerate(re.split("\r\n|\r|\n", text), 1) if line.strip()]
    if not lines:
        raise BadFile("the file is empty")
    if len(lines) > MOST_LINES:
        raise BadFile(f"the file has {len(lines)} lines; at most {MOST_LINES} are taken")
    sample = lines[:SAMPLE]
    best, found = 0, None
    for separator in text_files.SEPARATORS:
        counts = [len(split(line, separator)) for _, line in sample]
        usual = max(set(counts), key=lambda count: (counts.count(count), count))
        score = counts.count(usual) * (usual > 2) * 100 + min(usual, 20)
        if usual > 2 and score > best:
            best, found = score, separator
    if found is None:
        raise BadFile("no table was found: a line needs a time, a receiver, a frequency and an SNR")
    return found, [(number, split(line, found)) for number, line in lines]


def split(line, separator):
    """The cells of a line; one that is too long or cannot be parted is a single cell."""
    if len(line) > LONGEST_LINE:
        return [line[:60]]
    try:
        return text_files.cells(line, separator)[:MOST_COLUMNS]
    except text_files.Unparted:
        return [line[:60]]


def named(cells):
    """Whether a line is a header: no cell is a number or a time, of which a report has three."""
    return not any(NUMBER.fullmatch(cell) or _is_time(cell, "") for cell in cells)


def role_of(name):
    """Which column a name means; None for another."""
    tokens = re.findall(r"[^\W\d_]+", name.lower())
    joined = "".join(tokens)
    if SENDER & set(tokens):
        return None
    for role, words in WORDS.items():
        if joined in words or words & set(tokens):
            return role
    return None


def columns_of(names, header, body, separator, chosen):
    """{role: column} by the operator, else by name, else by what stands in them. BadFile where one is missing."""
    used = {}
    for role, column in chosen.items():
        if column is not None:
            if not 0 <= column < len(names):
                raise BadFile(f"there is no column {column + 1}")
            used[role] = column
    free = [i for i in range(len(names)) if i not in used.values()]
    if header:
        for column in free:
            role = role_of(names[column])
            if role and role not in used and not (role in chosen and chosen[role] is None):
                used[role] = column
    sample = [cells for _, cells in body[:SAMPLE]]
    for role, fits in GUESSES:
        if role in used or (role in chosen and chosen[role] is None) or (role == "grid" and header):
            continue
        for column in range(len(names)):
            if column in used.values():
                continue
            cells = [row[column] for row in sample if column < len(row) and row[column]]
            if cells and sum(fits(cell, separator) for cell in cells) >= 0.8 * len(cells):
                used[role] = column
                break
    missing = [ROLES[role] for role in ("time", "frequency", "snr") if role not in used]
    if "receiver" not in used and "grid" not in used:
        missing.append("receiver, by call or grid")
    if missing:
        raise BadFile(f"no column was recognised for: {', '.join(missing)}. There are: {', '.join(names)[:200]}")
    if len(set(used.values())) < len(used):
        raise BadFile("the same column was taken twice")
    return used


def number_in(cell, separator):
    """A number; None for what is none. A decimal comma is one unless commas part the columns."""
    text = cell.strip().removesuffix("dB").strip()
    if len(text) > 24 or not NUMBER.fullmatch(text) or ("," in text and separator == ","):
        return None
    return float(text.replace(",", ".").replace("−", "-"))


def _is_band(cell, separator):
    value = number_in(cell, separator)
    return value is not None and frequency_of(value, None) is not None


def _is_grid(cell, _):
    try:
        return bool(geography.canonical_grid(cell)) and len(cell.strip()) >= 4
    except ValueError:
        return False


def _is_call(cell, _):
    try:
        return calls.read(cell).usual
    except ValueError:
        return False


def _is_snr(cell, separator):
    value = number_in(cell, separator)
    return value is not None and SNR_DB[0] <= value <= SNR_DB[1]


def _is_time(cell, _):
    return moment(cell) is not None or bool(CLOCK.fullmatch(cell))


GUESSES = (
    ("time", _is_time), ("grid", _is_grid), ("receiver", _is_call), ("frequency", _is_band), ("snr", _is_snr),
)


def unit_of(name):
    """Hertz that one of a column is, by its name; None where that says nothing."""
    return next((UNITS[token] for token in re.findall(r"[^\W\d_]+", name.lower()) if token in UNITS), None)


def frequency_of(value, scale):
    """Hertz of a frequency: by the unit, else whichever of MHz, kHz and Hz lies in a band. None outside the bands."""
    for one in (scale,) if scale else (1e6, 1e3, 1.0):
        hz = round(value * one) if 0 < value * one < 1e12 else 0
        if hz and tables.band_of(hz):
            return hz
    return None


def report_of(line, cells, used, scale, day, before, separator):
    """One report of a line. ValueError with what is wrong in it."""
    def cell(role):
        column = used.get(role)
        return cells[column].strip() if column is not None and column < len(cells) else ""

    at = moment_of(cell("date"), cell("time"), day, before)
    receiver, grid = calls.normalised(cell("receiver")), ""
    if cell("grid"):
        try:
            grid = geography.canonical_grid(cell("grid"))
        except ValueError:
            if not receiver:
                raise ValueError(f"“{cell('grid')[:20]}” is no grid square") from None
    if receiver:
        try:
            receiver = calls.read(receiver).text
        except calls.NotACall:
            raise ValueError(f"“{receiver[:20]}” is no call sign") from None
    elif not grid:
        raise ValueError("no receiver, neither a call nor a grid square")
    value = number_in(cell("frequency"), separator)
    hz = None if value is None else frequency_of(value, scale)
    if hz is None:
        raise ValueError(f"“{cell('frequency')[:20]}” is no frequency in an amateur band")
    snr = number_in(cell("snr"), separator)
    if snr is None or not SNR_DB[0] <= snr <= SNR_DB[1]:
        low, high = (Numeral(end) for end in SNR_DB)
        raise ValueError(f"“{cell('snr')[:20]}” is no SNR in dB between {low:g} and {high:g}")
    return Report(line, at, receiver or grid, grid, hz, tables.band_of(hz), snr)


def moment_of(date, time, day, before):
    """A moment in UTC; one without a date lies on the day, or on the next where the clock fell back over midnight."""
    if not time:
        raise ValueError("no time")
    found = moment(time)
    ordinal, seconds = found if found else (None, None)
    if found is None:
        clock = CLOCK.fullmatch(time)
        if not clock:
            raise ValueError(f"“{time[:25]}” is no time")
        seconds = int(clock[1]) * 3600 + int(clock[2]) * 60 + int(clock[3] or 0)
    elif ordinal is None and time.count(":") == 1:  # 14:05 is a time of day here
        seconds *= 60
    if ordinal is None and date:
        dated = moment(date)
        ordinal = dated[0] if dated and dated[0] is not None else compact_day(date)
        if ordinal is None:
            raise ValueError(f"“{date[:20]}” is no day")
    if not 0 <= seconds < 2 * 86400 and ordinal is None:
        raise ValueError(f"“{time[:25]}” is no time of a day")
    start = datetime.datetime.fromordinal(ordinal) if ordinal else datetime.datetime.combine(day, datetime.time())
    at = start.replace(tzinfo=datetime.UTC) + datetime.timedelta(seconds=seconds)
    if ordinal is None and before and (before - at).total_seconds() > HALF_DAY_S:
        at += datetime.timedelta(days=1)
    if not 1930 <= at.year <= 2200:
        raise ValueError(f"the year {at.year} cannot be meant")
    return at


def compact_day(text):
    """The ordinal of a day as 20261124 or 261124; None for what is none."""
    found = DAY.fullmatch(text.strip())
    if not found:
        return None
    parts = found.groups()
    year, month, day = parts[:3] if parts[0] else (f"20{parts[3]}", *parts[4:])
    try:
        return datetime.date(int(year), int(month), int(day)).toordinal()
    except ValueError:
        return None
