"""A staged log file: its records, put together into batches, whichever format it has."""

import mmap
import os
from contextlib import contextmanager
from dataclasses import dataclass

from outings.adif import adi, adx, batches, columns
from outings.adif.records import NotADIF

XML_START = (b"<?xml", b"<ADX", b"<adx", b"<!DOCT", b"<!--")


@dataclass(slots=True)
class Loss:
    """A record that cannot become a contact: the field to blame, why, and what stands there."""

    line: int
    field: str
    reason: str
    excerpt: str


class Log:
    """The records of one file, whichever format it has. `line_of(place)` gives the line of a record."""

    def __init__(self, data, format_, encoding=""):
        self.columns = columns.Columns()
        self.data, self.format, self.read_bytes = data, format_, 0
        if format_ == "adi":
            self.size_bytes = len(data)
            self.reader = adi.Reader(data, self.columns.resolve, encoding)
            self.header = self.columns.header = self.reader.header
            self.encoding, self.odd_bytes = self.reader.survey.encoding, self.reader.survey.odd_bytes
        else:
            self.size_bytes = data.seek(0, os.SEEK_END)
            data.seek(0)
            self.reader = adx.Reader(data)
            self.header = self.columns.header = self.reader.header
            self.encoding, self.odd_bytes = "utf-8", False

    def batches(self, size, station_call=""):
        """(Batch, [(number, Loss) of each record that cannot become a contact], number of records so far), in turn.

        `size` is how many records at most; there is one batch at least. `station_call` stands in where a record names
        no call of its own.
        """
        collector, lost, number = batches.Collector(self.columns, station_call), [], 0
        for place, cells, faults, stands in self._records():
            number += 1
            text = None if faults or type(stands) is not str else self.reader.as_text(stands)
            if text is None or not collector.add(number, place, cells, text):
                try:
                    self._add_carefully(collector, number, place, stands, faults)
                except columns.Refused as refused:
                    lost.append((number, self._loss(place, refused, stands)))
            if not number % size:
                self.read_bytes = place if self.format == "adi" else self.data.tell()
                yield collector.batch(), lost, number
                lost = []
        yield collector.batch(), lost, number

    def _records(self):
        """(place, cells, faults, how it stands) of each record."""
        if self.format == "adi":
            return self.reader.rows()
        return (
            (record.line, (), record.faults, record.fields)
            for record in self.reader.records() if record.fields or record.faults
        )

    def _add_carefully(self, collector, number, place, stands, faults):
        """Take a record field by field. Raises columns.Refused."""
        for fault in faults:
            if fault.spoils:
                raise Spoilt(fault)
        given = self._fields(place, stands)
        if not given and faults:
            raise Spoilt(faults[0])
        collector.add_carefully(number, place, given, faults)

    def _fields(self, place, stands):
        return self.reader.fields_of_record(place) if isinstance(stands, str) else stands

    def _loss(self, place, refused, stands):
        if isinstance(refused, Spoilt):
            return Loss(self.line_of(place), refused.field, refused.reason, refused.excerpt)
        came = ", ".join(f"{field[0]} {field[2]}" for field in self._fields(place, stands) if field[2])
        return Loss(self.line_of_field(place, refused.field), refused.field, refused.reason, came[:300])

    def line_of(self, place):
        return self.reader.line_of_record(place) if self.format == "adi" else place

    def line_of_field(self, place, name):
        return self.reader.line_of_field(place, name) if self.format == "adi" and name else self.line_of(place)


class Spoilt(columns.Refused):
    """The reader itself found what makes a record useless."""

    def __init__(self, fault):
        super().__init__(fault.field, fault.reason)
        self.excerpt = fault.excerpt


@contextmanager
def opened(imported):
    """The log in a staged file; memory stays flat. Raises NotADIF for what is no log."""
    with open(imported.file.path, "rb") as file:
        start = file.read(4096)
        file.seek(0)
        if not start:
            raise NotADIF("The file is empty.")
        if kind_of(start) == "adx":
            yield Log(file, "adx")
            return
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
            log = Log(data, "adi", imported.choices.get("encoding", ""))
            try:
                yield log
            finally:
                log.reader.data = log.data = b""  # the map can only be closed once nothing refers to it


def kind_of(start):
    """adi or adx, by how a file begins."""
    if start.startswith((b"\xff\xfe<\x00?\x00", b"\xfe\xff\x00<\x00?")):
        return "adx"  # XML in UTF-16
    return "adx" if start.lstrip(adi.BOM + b" \t\r\n").startswith(XML_START) else "adi"
