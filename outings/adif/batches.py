"""Records of one file put together into contacts, many at a time, column by column; pure.

A log of 100,000 contacts has two million fields. Taken apart once for each distinct text, they are put together without
a step of Python for each: columns are made, compared and joined whole, and a record by itself is looked at only where
something about it is out of the ordinary.

Moments are text in UTC, `2026-11-25 14:05:00`, as both databases take them; `at` is seconds since 1970.
"""

import datetime
from functools import lru_cache
from itertools import zip_longest
from operator import itemgetter

from . import columns, normalise, records, tables

SLOT, VALUE = itemgetter(0), itemgetter(1)
NOTHING = ("", None)  # stands behind the cells of a record, for what it does not give
TAKEN = frozenset({
    *columns.COLUMNS, *columns.CIRCUMSTANCES, "QSO_DATE", "TIME_ON", "QSO_DATE_OFF", "TIME_OFF", "MODE", "SUBMODE",
    "GRIDSQUARE_EXT",
})
YES = ("Y", "y")


class Batch:
    """Records that can become contacts.

    `columns` holds a list for each column of a contact and each circumstance that was given at all, None where a record
    does not give it, and `day` and `at`. Beside it: `numbers` of the records in the file, `places` in it, `came` (their
    fields as packed text), `problems` {position in the batch: [[field, why], ...]}.
    """

    __slots__ = ("came", "columns", "numbers", "places", "problems")

    def __init__(self, numbers, places, came, problems, columns_):
        self.numbers, self.places, self.came, self.problems = numbers, places, came, problems
        self.columns = columns_

    def __len__(self):
        return len(self.numbers)

    def column(self, name):
        """The values of a column, None where a record gives none."""
        return self.columns.get(name) or [None] * len(self)

    def row(self, position):
        """What one record gives: {column or circumstance: value}."""
        return {
            name: values[position] for name, values in self.columns.items() if values[position] is not None
        }

    def some(self, positions):
        """A batch of these records only, in the order of the file."""
        if len(positions) == len(self):
            return self
        positions = sorted(positions)
        if not positions:
            return Batch([], [], [], {}, {})
        return Batch(
            *([values[position] for position in positions] for values in (self.numbers, self.places, self.came)),
            {new: self.problems[old] for new, old in enumerate(positions) if old in self.problems},
            {name: [values[position] for position in positions] for name, values in self.columns.items()},
        )

    def note(self, position, field, why):
        self.problems.setdefault(position, []).append([field, why])


class Collector:
    """Collects records of one file, and gives a Batch of them.

    `reader` are the Columns that know the file; `station_call` stands in where a record names no call of its own.
    """

    def __init__(self, reader, station_call=""):
        self.reader, self.station_call = reader, station_call
        self.names = [*columns.KEYS]
        self.pickers = {}
        self._begin()

    def _begin(self):
        self.numbers, self.places, self.came, self.problems, self.rows = [], [], [], {}, []

    def __len__(self):
        return len(self.rows)

    def add(self, number, place, cells, text):
        """Take a record by its cells, (slot, value) each; False where it has to be looked at carefully."""
        cells.append(NOTHING)
        slots = tuple(map(SLOT, cells))
        try:
            pick = self.pickers[slots]
        except KeyError:
            pick = self.pickers[slots] = self._picker(slots)
        if pick is None:
            return False
        self.rows.append(pick(cells))
        self.numbers.append(number)
        self.places.append(place)
        self.came.append(text)
        return True

    def add_carefully(self, number, place, given, faults=()):
        """Take a record by its fields, (name, letter, value) each. Raises columns.Refused."""
        row, came, problems = self.reader.carefully(given)
        self._take_up(row)
        problems += ([fault.field, fault.reason] for fault in faults)
        if problems:
            self.problems[len(self.rows)] = problems
        self.rows.append([(name, row.get(name)) for name in self.names])
        self.numbers.append(number)
        self.places.append(place)
        self.came.append(records.packed(came))

    def _picker(self, slots):
        """What picks `names` out of the cells of a record with these slots; None where it needs care."""
        given = [slot for slot in slots if slot]
        if len(given) != len(set(given)) or columns.CAREFULLY in given or not set(columns.KEYS) <= set(given):
            return None
        self._take_up(given)
        return itemgetter(*(slots.index(name) if name in slots else -1 for name in self.names))

    def _take_up(self, slots):
        """Pick these slots from now on; rows that were picked before are shorter, and lack them."""
        self.names += [slot for slot in slots if slot in TAKEN and slot not in self.names]

    def batch(self):
        """The records so far; the next ones go into the next batch."""
        columns_of_cells = zip_longest(*self.rows, fillvalue=NOTHING)
        given = {
            name: list(map(VALUE, cells)) for name, cells in zip(self.names, columns_of_cells, strict=bool(self.rows))
        }
        found = Batch(self.numbers, self.places, self.came, self.problems, given)
        self._begin()
        if len(found):
            complete(found, self.station_call)
        return found


def single(reader, given, station_call=""):
    """(row, fields as they came, problems) of one record by itself. Raises columns.Refused."""
    collector = Collector(reader, station_call)
    collector.add_carefully(1, 0, given)
    batch = collector.batch()
    return batch.row(0), records.unpacked(batch.came[0]), batch.problems.get(0, [])


# --- what follows from the fields -----------------------------------------------------------------------------------


def complete(batch, station_call):
    """Make the columns of contacts of what the fields gave, and note what does not agree."""
    given = batch.columns
    days, times = given.pop("QSO_DATE"), given["TIME_ON"]
    given["day"] = [day[0] for day in days]
    given["started_at"] = [f"{day[0]} {time[0]}" for day, time in zip(days, times, strict=True)]
    given["at"] = [day[1] + time[1] for day, time in zip(days, times, strict=True)]
    given["seconds_known"] = [time[2] for time in times]
    doubtful, calls = given.get(columns.DOUBTFUL), given["call"]
    if doubtful or "?" in "".join(calls):
        given["pending"] = [
            True if "?" in call or word in YES else None
            for call, word in zip(calls, batch.column(columns.DOUBTFUL), strict=True)
        ]
    if "TIME_OFF" in given:
        given["ended_at"] = [
            end and _end(batch, position, days[position], times[position], end, off_day)
            for position, (end, off_day) in enumerate(zip(given["TIME_OFF"], batch.column("QSO_DATE_OFF"), strict=True))
        ]
    _modes(batch)
    if "frequency_hz" in given:
        _bands(batch)
    if "state" in given and "dxcc" in given:
        _states(batch)
    if "GRIDSQUARE_EXT" in given:
        given["their_grid"] = [
            grid + more[:4].lower() if grid and more and len(grid) == 8 else grid
            for grid, more in zip(batch.column("their_grid"), given["GRIDSQUARE_EXT"], strict=True)
        ]
    if None in batch.column("station_call"):
        given["station_call"] = [
            own or operator or station_call
            for own, operator in zip(batch.column("station_call"), batch.column("operator_call"), strict=True)
        ]
    _missing(batch)


def _modes(batch):
    """MODE and SUBMODE as the standard has them."""
    pairs = zip(batch.column("MODE"), batch.column("SUBMODE"), strict=True)
    found = [mode_for(mode or "", submode or "") if mode or submode else (None, None, "") for mode, submode in pairs]
    batch.columns["mode"], batch.columns["submode"], faults = map(list, zip(*found, strict=True))
    for position, why in _given(faults):
        if not _has_noted(batch, position, "MODE"):
            batch.note(position, "MODE", why)


def _bands(batch):
    """Bands by name or by frequency, and whether these agree."""
    pairs = zip(batch.column("band"), batch.columns["frequency_hz"], strict=True)
    found = [band_for(band or "", hertz) if hertz else (band, "") for band, hertz in pairs]
    bands, faults = zip(*found, strict=True)
    batch.columns["band"] = list(bands)
    for position, why in _given(faults):
        batch.note(position, "FREQ", why)


def _states(batch):
    pairs = zip(batch.columns["dxcc"], batch.columns["state"], strict=True)
    faults = [state_fault(dxcc, state) if dxcc is not None and state else "" for dxcc, state in pairs]
    for position, why in _given(faults):
        batch.note(position, "STATE", why)


def _missing(batch):
    """Note where band or mode is not known."""
    bands, modes = batch.column("band"), batch.column("mode")
    if None in bands or "" in bands:
        for position, band in enumerate(bands):
            if band is None:
                batch.note(position, "BAND", "is missing, and no frequency tells it")
            elif not band:
                batch.note(position, "FREQ", "lies in no band of the standard")
    if None in modes or "" in modes:
        for position, mode in enumerate(modes):
            if not mode and not _has_noted(batch, position, "MODE"):
                batch.note(position, "MODE", "is missing")


def _given(faults):
    """(position, fault) of the faults that are any."""
    return [(position, why) for position, why in enumerate(faults) if why] if any(faults) else ()


def _has_noted(batch, position, field):
    return any(name == field for name, _ in batch.problems.get(position, ()))


def _end(batch, position, day, time, end, off_day):
    """The end of a contact; TIME_OFF without a date, earlier than TIME_ON, is on the next day."""
    clock, seconds, known = end
    ends_at, begins_at = (off_day or day)[1] + seconds, day[1] + time[1]
    if not known:
        begins_at -= begins_at % 60  # without seconds, the same minute is no end before the start
    if ends_at >= begins_at:
        return f"{(off_day or day)[0]} {clock}"
    if off_day:
        batch.note(position, "TIME_OFF", "is before the start of the contact")
        return None
    return f"{_next_day(day[0])} {clock}"


@lru_cache(maxsize=4096)
def _next_day(text):
    return (datetime.date.fromisoformat(text) + datetime.timedelta(days=1)).isoformat()


@lru_cache(maxsize=4096)
def mode_for(mode, submode):
    """`normalise.mode`, as long as the columns are."""
    found, found_submode, wrong = normalise.mode(mode, submode)
    return found[:20], found_submode[:20], wrong


@lru_cache(maxsize=65536)
def band_for(band, frequency_hz):
    """(band, what is wrong) of a band as named, or "", and a frequency; the band as named counts."""
    if not band:
        return tables.band_of(frequency_hz), ""
    if tables.band_holds(band, frequency_hz):
        return band, ""
    return band, f"does not lie in the band {band}"


@lru_cache(maxsize=8192)
def state_fault(dxcc, state):
    """What is wrong with a STATE in its entity; an entity without a list has no codes to check."""
    known = tables.subdivisions(dxcc)
    return f"is no subdivision of the DXCC entity {dxcc}" if known and state.upper() not in known else ""
