"""A staged log file: its records, put together into columns, whichever format it has."""

import json
import mmap
from contextlib import contextmanager
from dataclasses import dataclass

from outings.adif import adi, adx, columns, tables
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
    """The records of one file.

    `rows(station_call)` gives (place, row, came, problems) of each record, as `columns.Columns.assemble` does; for a
    record that cannot become a contact, row is a Loss. `line_of(place)` gives the line of a record.
    """

    def __init__(self, data, format_, encoding=""):
        self.columns = columns.Columns()
        self.data, self.format, self.read_bytes = data, format_, 0
        if format_ == "adi":
            self.reader = adi.Reader(data, self.columns.resolve, encoding)
            self.header = self.columns.header = self.reader.header
            self.encoding, self.odd_bytes = self.reader.survey.encoding, self.reader.survey.odd_bytes
        else:
            self.reader = adx.Reader(data)
            self.header = self.columns.header = self.reader.header
            self.encoding, self.odd_bytes = "utf-8", False

    def rows(self, station_call=""):
        return self._adi_rows(station_call) if self.format == "adi" else self._adx_rows(station_call)

    def line_of(self, place):
        return self.reader.line_of_record(place) if self.format == "adi" else place

    def line_of_field(self, place, name):
        return self.reader.line_of_field(place, name) if self.format == "adi" and name else self.line_of(place)

    def _adi_rows(self, station_call):
        assemble, refused = self.columns.assemble, columns.Refused
        for place, cells, faults in self.reader.rows():
            self.read_bytes = place
            if not faults:
                try:
                    yield place, *assemble(cells, station_call)
                except refused as error:
                    yield place, self._loss(place, error, cells), (), ()
                continue
            yield self._with_faults(place, cells, faults, station_call)

    def _adx_rows(self, station_call):
        resolve = self.columns.resolve
        for record in self.reader.records():
            cells = [resolve(*field) for field in record.fields]
            if cells or record.faults:
                yield self._with_faults(record.line, cells, record.faults, station_call)

    def _with_faults(self, place, cells, faults, station_call):
        """The row of a record in which the reader found faults already."""
        for fault in faults:
            if fault.spoils:
                return place, Loss(self.line_of(place), fault.field, fault.reason, fault.excerpt), (), ()
        if not cells:
            return place, Loss(self.line_of(place), faults[0].field, faults[0].reason, faults[0].excerpt), (), ()
        try:
            row, came, problems = self.columns.assemble(cells, station_call)
        except columns.Refused as error:
            return place, self._loss(place, error, cells), (), ()
        return place, row, came, [*problems, *([fault.field, fault.reason] for fault in faults)]

    def _loss(self, place, error, cells):
        came = ", ".join(" ".join(json.loads(cell[2])[::2]) for cell in cells if cell[2])
        return Loss(self.line_of_field(place, error.field), error.field, error.reason, came[:300])


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


def family_of(row):
    """The family of modes of a row."""
    return tables.mode_family(row.get("mode", ""), row.get("submode", ""))
