"""A realistic year of portable operation as log files, made from a seed, with totals known beforehand.

Several station calls, an ADI file full of the dirt of real ones, a part in ADX with letters beyond ASCII, an evening
that was logged in local time instead of UTC, repeated and broken records. Everything in it is invented.
"""

import collections
import datetime
import random
from dataclasses import dataclass, field

from outings.adif import adx

PARKS = (  # programme, reference, grid square of the site
    ("QPARK", "QQ-0001", "JO62QM"), ("QPARK", "QQ-0017", "JO61UB"), ("QPARK", "QQ-0204", "JN58SD"),
    ("QSHORE", "QS-042", "JO53FX"), ("", "", "JO52EJ"),
)
CALLS = ("Q1ABC/P", "Q1ABC", "Q100ABC")
SETUPS = (  # band, MHz, mode, submode, report, antenna, watts, mean seconds between contacts
    ("20m", 14.285, "SSB", "USB", "59", "Wire: sloping", "10", 150),
    ("40m", 7.144, "SSB", "LSB", "59", "Wire: flat", "10", 170),
    ("20m", 14.061, "CW", "", "599", "Whip: long", "5", 190),
    ("30m", 10.117, "CW", "", "599", "Wire: sloping", "5", 240),
    ("20m", 14.08, "MFSK", "FT4", "-07", "Whip: long", "5", 70), ("2m", 144.3, "FM", "", "59", "Whip: short", "5", 300),
)
NAMES = ("Kim", "Sam", "Zoë", "Jürgen", "Łukasz", "Noor", "Åsa", "Ana", "Robin", "Mika")
LOCAL_SHIFT_H = 2  # by which the clock of the evening that was logged in local time was ahead of UTC


@dataclass
class Year:
    """Log files, and what an import of all of them, in order, must give.

    `files` are (name, bytes). `contacts` is the number of new contacts, `by_call`, `by_band`, `by_mode` and `by_day`
    count them; `refused`, `twice` and `marked` count records of all files. One evening was logged LOCAL_SHIFT_H hours
    ahead, and so on two days, which become two outings. Its contacts, with the calls `local_time_calls`, were all made
    on the UTC day `local_time_day`: `by_day` and `outings` are the truth, once that is mended, `by_day_as_logged` and
    `outings_as_logged` what the files say.
    """

    files: list = field(default_factory=list)
    contacts: int = 0
    with_grid: int = 0
    refused: int = 0
    twice: int = 0
    marked: int = 0
    outings: int = 0
    outings_as_logged: int = 0
    by_call: dict = field(default_factory=dict)
    by_band: dict = field(default_factory=dict)
    by_mode: dict = field(default_factory=dict)
    by_day: dict = field(default_factory=dict)
    by_day_as_logged: dict = field(default_factory=dict)
    local_time_day: datetime.date | None = None
    local_time_calls: list = field(default_factory=list)
    names_beyond_ascii: int = 0


def a_year(outings=24, seed=1, contacts_each=40):
    """Make the files of a year with so many outings and about so many contacts on each."""
    noise, year = random.Random(seed), Year()
    adi_lines, adx_records = [], []
    day = datetime.date(2025, 1, 11)
    for number in range(outings):
        park, call = PARKS[number % len(PARKS)], CALLS[number % len(CALLS)]
        in_local_time = number == outings // 2
        records = list(_outing(noise, year, day, park, call, contacts_each, hour=20 if in_local_time else 13))
        if in_local_time:
            year.local_time_day, year.local_time_calls = day, [record["CALL"] for record in records]
            records = [_in_local_time(record) for record in records]
        days = collections.Counter(datetime.date.fromisoformat(record["QSO_DATE"]) for record in records)
        for logged, count in days.items():
            year.by_day_as_logged[logged] = year.by_day_as_logged.get(logged, 0) + count
        year.outings_as_logged += len(days)
        for record in records:
            for name, key in (("by_call", call), ("by_band", record["BAND"]), ("by_mode", record["MODE"])):
                counts = getattr(year, name)
                counts[key] = counts.get(key, 0) + 1
        year.contacts += len(records)
        year.outings += 1
        year.by_day[day] = year.by_day.get(day, 0) + len(records)
        if number % 4 == 3:
            adx_records += records
        else:
            adi_lines += [_adi(noise, record) for record in records]
        day += datetime.timedelta(days=noise.randrange(9, 20))
    year.files = [("year.adi", _dirty(noise, year, adi_lines)), ("year.adx", _adx(adx_records))]
    return year


def _in_local_time(record):
    """A record as it is logged by a clock that shows local time."""
    made = datetime.datetime.strptime(record["QSO_DATE"] + record["TIME_ON"], "%Y%m%d%H%M%S")
    logged = made + datetime.timedelta(hours=LOCAL_SHIFT_H)
    return {**record, "QSO_DATE": f"{logged:%Y%m%d}", "TIME_ON": f"{logged:%H%M%S}"}


def _outing(noise, year, day, park, call, contacts_each, hour):
    """The records of one outing, as {field: text}, in order of time."""
    at = datetime.datetime.combine(day, datetime.time(hour, noise.randrange(60)), datetime.UTC)
    worked = set()
    for setup in noise.sample(SETUPS, 3):
        band, mhz, mode, submode, report, antenna, watts, mean_s = setup
        for _ in range(noise.randrange(contacts_each // 4, contacts_each // 2)):
            at += datetime.timedelta(seconds=30 + noise.expovariate(1 / mean_s))
            if at.date() != day:
                return
            theirs = _call(noise, worked)
            record = {
                "CALL": theirs, "QSO_DATE": f"{at:%Y%m%d}", "TIME_ON": f"{at:%H%M%S}", "BAND": band,
                "FREQ": f"{mhz + noise.randrange(-9, 9) / 1000:.3f}", "MODE": mode, "SUBMODE": submode,
                "RST_SENT": report, "RST_RCVD": report, "STATION_CALLSIGN": call, "OPERATOR": "Q1ABC",
                "MY_GRIDSQUARE": park[2], "MY_SIG": park[0], "MY_SIG_INFO": park[1], "MY_RIG": "Pocket five",
                "MY_ANTENNA": antenna, "TX_PWR": watts,
            }
            if noise.random() < 0.7:
                record["GRIDSQUARE"] = f"{noise.choice('JKI')}{noise.choice('NO')}{noise.randrange(100):02d}"
                year.with_grid += 1
            if noise.random() < 0.5:
                record["NAME"] = noise.choice(NAMES)
                year.names_beyond_ascii += not record["NAME"].isascii()
            yield {name: text for name, text in record.items() if text}
        at += datetime.timedelta(minutes=noise.randrange(4, 30))


def _call(noise, worked):
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    while True:
        call = f"Q{noise.randrange(10)}{''.join(noise.choice(letters) for _ in range(noise.randrange(2, 4)))}"
        if noise.random() < 0.1:
            call += "/P"
        if call not in worked:
            worked.add(call)
            return call


def _adi(noise, record):
    """A record as some program or other writes it: names in any case, fields in any layout, lengths in characters."""
    style = noise.randrange(4)
    parts = []
    for name, text in record.items():
        name = name.lower() if style == 1 else name
        letter = ":S" if style == 2 and name in ("CALL", "NAME") else ""
        if name.upper() == "TIME_ON" and style == 3 and text.endswith("00"):
            text = text[:4]
        parts.append(f"<{name}:{len(text)}{letter}>{text}")
    return ("\n" if style == 3 else " ").join(parts) + (" <eor>" if style == 1 else " <EOR>")


def _dirty(noise, year, lines):
    """The ADI file: records out of order, one repeated, some broken, remarks between; UTF-8 with a mark in front."""
    lines = list(lines)
    repeated = noise.randrange(len(lines))
    lines.append(lines[repeated])
    year.twice += 1
    base = "<QSO_DATE:8>20250601 <TIME_ON:4>1200 <BAND:3>20m <MODE:3>SSB "
    lines += [
        base + "<NAME:3>Kim <EOR>",  # no call
        base.replace("20250601", "20250631") + "<CALL:5>Q1ZZZ <EOR>",  # no such day
        base + "<CALL:4>Q1ZZZ <EOR>",  # the length cuts the call off
    ]
    year.refused += 3
    extra = {
        "CALL": "Q5ODD", "QSO_DATE": "20250601", "TIME_ON": "1201", "BAND": "20m", "MODE": "PHONE", "TX_PWR": "5W",
        "STATION_CALLSIGN": "Q1ABC", "MY_GRIDSQUARE": "JO52EJ", "COMMENT": "a <eor> within", "APP_QXLAB_NOTE": "kept",
        "QXFIELD": "of nobody",
    }
    lines.append(" ".join(f"<{name}:{len(text)}>{text}" for name, text in extra.items()) + " <EOR>")
    year.marked += 1
    year.contacts += 1
    year.outings += 1
    year.outings_as_logged += 1
    day = datetime.date(2025, 6, 1)
    for days in (year.by_day, year.by_day_as_logged):
        days[day] = days.get(day, 0) + 1
    for name, key in (("by_call", "Q1ABC"), ("by_band", "20m"), ("by_mode", "")):
        counts = getattr(year, name)
        counts[key] = counts.get(key, 0) + 1
    noise.shuffle(lines)
    text = "Log of a year <someone@example.org>\r\n<ADIF_VER:5>3.0.4 <PROGRAMID:5>QXLAB <EOH>\r\n\r\n"
    text += "\r\n".join(f"{line}\r\n-- a remark" if n % 97 == 0 else line for n, line in enumerate(lines))
    text += "\r\n<CALL:5>Q1CUT <QSO_DATE:8>20250"  # the end is missing
    year.refused += 1
    return b"\xef\xbb\xbf" + text.encode()


def _adx(records):
    writer = adx.Writer()
    pieces = [writer.header("QXLAB", "2", datetime.datetime(2026, 1, 2))]
    for record in records:
        fields = [("NAME_INTL" if name == "NAME" else name, "", text) for name, text in record.items()]
        pieces.append(writer.record(fields))
    return "".join([*pieces, writer.close()]).encode()
