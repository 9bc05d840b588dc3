"""ADI, the text format of ADIF: a reader that counts bytes as the standard does and survives real files, and a writer.

The reader takes bytes or a memory map and keeps nothing but the current block, so memory stays flat. Most specifiers of
a log repeat (`<BAND:3>20m`), so each distinct text between two `<` is taken apart once and remembered. Where that short
cut cannot be sure (data with `<` in it, a length that does not fit), the record is read again by exact lengths.
"""

import codecs
import mmap
import re
from dataclasses import dataclass, replace

from . import tables
from .records import Fault, Field, Header, NotADIF, Record

SPECIFIER = re.compile(rb"<([^<>:\r\n]{1,200}):([0-9]{1,20})(?::([A-Za-z]))?>")
MARKER = re.compile(rb"<([eE][oO][rRhH])>")
BROKEN = re.compile(rb"<([A-Za-z][A-Za-z0-9_]{0,80})(?::[^<>]{0,40})?>")
BEYOND_ASCII = re.compile(rb"<[^<>:\r\n]{1,200}:([0-9]{1,7})(?::[A-Za-z])?>([^<\x80-\xff]*[\x80-\xff][^<]*)")
SEVERAL_LINES = re.compile(rb"<[^<>:\r\n]{1,200}:([0-9]{1,7})(?::[A-Za-z])?>([^<\n]*\n[^<]*)")
NAME = re.compile(rb"[^\x00-\x1f\x7f<>:,{}]+")
KEYS = frozenset({"CALL", "QSO_DATE", "TIME_ON"})  # a record is lost where one of these is not to be trusted
BLANKS = b" \t\r\n\x00\x1a"
BYTEWISE = "latin-1"
BLOCK = 1 << 17
SMALL_BLOCK = 1 << 12
REMEMBERED = 1 << 16  # distinct field texts
LONGEST = 1 << 20  # bytes of data in one field; more is taken for a wrong length
LONGEST_COUNTED = 1 << 16  # where characters have to be counted one by one
MOST_MISFITS = 10_000
BOM = b"\xef\xbb\xbf"
# What a file may be said to be written in where the guess is wrong; all of them write < > and digits as ASCII does.
ENCODINGS = {
    "utf-8": "UTF-8", "cp1252": "Western Europe: Windows-1252, Latin-1", "cp850": "Western Europe: DOS",
    "cp1250": "Central Europe: Windows-1250", "iso8859_2": "Central Europe: Latin-2", "cp1257": "Baltic: Windows-1257",
    "cp1251": "Cyrillic: Windows-1251", "koi8_u": "Cyrillic: KOI8", "cp1253": "Greek: Windows-1253",
    "cp1254": "Turkish: Windows-1254", "cp932": "Japanese: Shift-JIS", "euc_jp": "Japanese: EUC",
    "gb18030": "Chinese: GB 18030, GBK", "big5hkscs": "Chinese: Big5", "cp949": "Korean: EUC-KR",
}
BYTES_VARY = frozenset({"utf-8", "cp932", "euc_jp", "gb18030", "big5hkscs", "cp949"})  # by character


@dataclass(frozen=True)
class Survey:
    """How a file is written: its encoding, what its lengths count, where its text begins.

    `by_characters`: lengths count characters, not bytes. `breaks_count_two`: line ends were changed from CR LF to LF
    after the lengths had been written, so that each line break within data counts two. `odd_bytes`: not all of its
    bytes are text in that encoding; such are read as `\\x81`, so that none is lost unseen.
    """

    encoding: str
    by_characters: bool = False
    breaks_count_two: bool = False
    start: int = 0
    odd_bytes: bool = False


class _Unsure(Exception):
    """The short cut cannot read this text; exact lengths can."""


class _Remembered(dict):
    """What each distinct text between two `<` means; a text that is new is taken apart."""

    def __init__(self, take_apart):
        super().__init__()
        self.take_apart = take_apart

    def __missing__(self, piece):
        if len(self) >= REMEMBERED:
            self.clear()
        found = self[piece] = self.take_apart(piece)
        return found


class Reader:
    """Reads an ADI file: `header` first, then `records()` or, for speed, `rows()`.

    `data` is bytes or a memory map. `resolve(name, letter, value)` turns a field into whatever `rows()` is to give for
    it (default: Field); it is called once for each distinct field text. `encoding` is one of ENCODINGS, if it is known
    better than by a guess. Raises NotADIF for what cannot be ADI.
    """

    def __init__(self, data, resolve=Field, encoding=""):
        self.data, self.end, self.resolve = data, len(data), resolve
        self.survey = look_over(data, encoding)
        self.misfits = 0
        self._breaks_decided = False
        self._remembered, self._tags = _Remembered(self._take_apart), _Remembered(self._read_tag)
        self._line, self._line_at = 1, 0
        self.header = Header()
        self._first = self._read_header()

    # --- records ---

    def records(self):
        """Records with their fields as they stand, one after the other; needs the default `resolve`."""
        for at, found, faults, _ in self.rows():
            yield Record(self.line_of_record(at), tuple(f for f in found if f.value != ""), tuple(faults))

    def rows(self):
        """(offset, [what `resolve` made of each field], faults, how it stands) of each record.

        How it stands: its bytes as the text that they would be in Latin-1, in which each byte is a character, or a list
        of Fields where it was read by exact lengths. It starts with the next `<`.
        """
        data, end, position, size = self.data, self.end, self._first, SMALL_BLOCK
        look_up, marker, barren = self._remembered.__getitem__, "<EOR>", 0
        while position < end:
            parts = str(data[position : position + size], BYTEWISE).split(marker) if position >= barren else [""]
            del parts[-1]
            if not parts and position >= barren:
                if position + size < end and size < LONGEST * 4:
                    size *= 4
                    continue
                barren = position + size  # no end of record in sight: the exact reader decides what this is
            sure = bool(parts)
            for part in parts:
                pieces = part.split("<")
                del pieces[0]
                try:
                    found = list(map(look_up, pieces))
                except _Unsure:
                    sure = False
                    break
                if found:
                    yield position, found, (), part
                position += len(part) + 5
            if sure:
                let_go(data, position)
                size = min(size * 4, BLOCK)
                continue
            at, fields, faults, position, ended = self._exact(position)
            yield from self._given(at, fields, faults, ended)
            size = SMALL_BLOCK
            spelt = str(data[position - 5 : position], BYTEWISE)
            if ended == "EOR" and marker != spelt:
                marker, barren = spelt, 0  # as this file spells it

    def fields_of_record(self, offset):
        """The Fields of the record that `rows` gave with this offset, read by exact lengths."""
        return self._exact(offset)[1]

    def as_text(self, stands):
        """A record as `rows` gave it, as text whose lengths count characters; None where that cannot be said."""
        if stands.isascii():
            text = stands
        elif self.survey.odd_bytes or (self.survey.encoding in BYTES_VARY and not self.survey.by_characters):
            return None
        else:
            text = self._text(stands.encode(BYTEWISE))
        return None if "\x00" in text else text.strip()

    def _given(self, at, fields, faults, ended):
        """A record that was read by exact lengths, in the form that `rows` gives."""
        if not fields and not faults:
            return
        if ended != "EOR":
            why = "the file ends within this record, before its <EOR>" if ended == "END" else "<EOH> stands in a record"
            if not fields:
                return  # remarks after the last record
            faults = [*faults, Fault("", why, spoils=True)]
        yield at, [self.resolve(*field) for field in fields], tuple(faults), fields

    def line_of(self, offset):
        """The line, counted from 1, in which an offset lies; quick for offsets that are asked for in order."""
        if offset < self._line_at:
            self._line, self._line_at = 1, 0
        while self._line_at < offset:
            upto = min(offset, self._line_at + BLOCK)
            self._line += self.data[self._line_at : upto].count(b"\n")
            self._line_at = upto
        return self._line

    def line_of_record(self, offset):
        """The line of the first field of the record that `rows` gave with this offset."""
        at = self.data.find(b"<", offset)
        return self.line_of(offset if at < 0 else at)

    def line_of_field(self, offset, name):
        """The line in which a field of the record that begins at `offset` stands; that of the record if not found."""
        window = self.data[offset : offset + (1 << 16)]
        tag = re.escape(name.encode(self.survey.encoding, "replace"))
        found = re.search(rb"<" + tag + rb":", window, re.IGNORECASE)
        return self.line_of(offset + found.start()) if found else self.line_of_record(offset)

    # --- the short cut ---

    def _take_apart(self, piece):
        """What `CALL:5>Q1ABC ` means; raises _Unsure where exact lengths have to decide."""
        tag, bracket, rest = piece.encode(BYTEWISE).partition(b">")
        name, letter, size = self._tags[tag]
        if not bracket:
            raise _Unsure
        if self.survey.by_characters and not rest.isascii():
            try:
                text = rest.decode(self.survey.encoding)
            except UnicodeDecodeError:
                raise _Unsure from None
            value, after = (part.encode(self.survey.encoding) for part in (text[:size], text[size : size + 1]))
            fits = len(text) >= size
        else:
            value, after = rest[:size], rest[size : size + 1]
            fits = len(rest) >= size
        if not fits or (after and after not in BLANKS) or b"\n" in value or b"\r" in value:
            raise _Unsure
        return self.resolve(name, letter, value.decode("ascii") if value.isascii() else self._text(value))

    def _read_tag(self, tag):
        """(name, type letter, length) of a tag such as `CALL:5`; raises _Unsure for one that is none."""
        name, _, length = tag.partition(b":")
        letter = ""
        if not length.isdigit():
            length, _, kind = length.partition(b":")
            if not length.isdigit() or len(kind) != 1 or not kind.isalpha():
                raise _Unsure
            letter = kind.decode("ascii").upper()
        if len(length) > 7 or not NAME.fullmatch(name):
            raise _Unsure
        return self._name(name), letter, int(length)

    # --- exact lengths ---

    def _exact(self, position):
        """Read one record: (offset of its first field, fields, faults, position after it, what ended it).

        Each step moves on by at least one byte and looks at no more than it takes, but for the one field whose length
        does not fit, which is looked at up to LONGEST bytes.
        """
        data, end = self.data, self.end
        fields, faults, first = [], [], None
        while True:
            at = data.find(b"<", position)
            if at < 0:
                return (position if first is None else first), fields, faults, end, "END"
            marker = MARKER.match(data, at)
            if marker:
                ended = marker[1].upper().decode("ascii")
                return (at if first is None else first), fields, faults, marker.end(), ended
            specifier = SPECIFIER.match(data, at)
            if not specifier or not NAME.fullmatch(specifier[1]):
                broken = BROKEN.match(data, at)
                if broken and (fields or broken[1].decode("ascii").upper() in tables.FIELDS):
                    name = broken[1].decode("ascii").upper()
                    faults.append(Fault(name, "has no readable length", self._text(data[at : at + 60])))
                    first = at if first is None else first
                position = broken.end() if broken else at + 1
                continue
            first = at if first is None else first
            name, letter = self._name(specifier[1]), (specifier[3] or b"").decode("ascii").upper()
            position, value, fault = self._value(name, specifier.end(), int(specifier[2]))
            if fault:
                faults.append(fault)
            if value is not None:
                fields.append(Field(name, letter, value))

    def _value(self, name, start, length):
        """(position after the data, the data as text or None, fault or None) of a field with a stated length."""
        stop = self._stop(start, length)
        if stop is not None and self._fits(stop):
            broken = self.data.find(b"\n", start, stop) >= 0
            if broken and self._one_line(name) and self.data.find(b"<", start, stop) >= 0:
                stop = None  # a length that runs over the next field, and ends at a blank by chance
            elif broken and not self._breaks_decided:
                self._decide_breaks()
                return self._value(name, start, length)
            else:
                return stop, self._text(self.data[start:stop]), None
        if not self._breaks_decided and self.data.find(b"\n", start, min(start + length, self.end)) >= 0:
            self._decide_breaks()
            return self._value(name, start, length)
        self.misfits += 1
        if self.misfits > MOST_MISFITS:
            raise NotADIF(
                f"More than {MOST_MISFITS:,} lengths in this file do not fit their data; nothing in it is certain."
            )
        following = self.data.find(b"<", start, min(start + LONGEST, self.end))
        following = self.end if following < 0 else following
        there = self._text(self.data[start : min(following, start + 200)]).strip()
        reason = f"has the length {length}, which does not fit: {there[:60]!r} stands there"
        if stop is None or stop > following:
            # Too long: what stands before the next field is all there can be.
            value = self._text(self.data[start:following]).rstrip("\r\n\t ")
            return following, value, Fault(name, reason, there, spoils=name in KEYS and not value)
        # Too short: what the length cuts off would be lost, so the whole is not trusted where it identifies a contact.
        return stop, self._text(self.data[start:stop]), Fault(name, reason, there, spoils=name in KEYS)

    def _stop(self, start, length):
        """Where data of this length ends; None where it would run past the end or is longer than any field."""
        if length > LONGEST or start + length > self.end + length // 2 + 1:
            return None
        if not self.survey.by_characters and not self.survey.breaks_count_two:
            return start + length if start + length <= self.end else None
        if length > (LONGEST_COUNTED if self.misfits < 1000 else 1 << 10):
            return None
        if not self.survey.by_characters:
            return start + _shrunk(self.data[start : min(start + length, self.end)], length)
        text = self.data[start : start + 4 * length].decode(self.survey.encoding, "ignore")
        if self.survey.breaks_count_two:
            text = text[: _shrunk(text, length)]
        elif len(text) < length:
            return None
        return start + len(text[:length].encode(self.survey.encoding))

    def _fits(self, stop):
        """Whether data may end here: before a blank, a line end, the next tag, or the end of the file."""
        return stop >= self.end or self.data[stop : stop + 1] in (b"<", b" ", b"\t", b"\r", b"\n", b"\x00", b"\x1a")

    @staticmethod
    def _one_line(name):
        definition = tables.QSO_FIELDS.get(name)
        return definition is not None and "Multiline" not in definition.type

    def _decide_breaks(self):
        """At the first line break within data: were line ends changed after the lengths had been written?"""
        self._breaks_decided = True
        if self.data.find(b"\r\n") < 0 and _breaks_count_two(self.data):
            self.survey = replace(self.survey, breaks_count_two=True)
            self._remembered.clear()

    # --- header ---

    def _read_header(self):
        """Take in the header, if there is one; returns where the records begin."""
        start = self.survey.start
        marker = MARKER.search(self.data, start)
        if marker is None:
            if SPECIFIER.search(self.data, start) is None:
                raise NotADIF("There is no ADIF field in this file.")
            return start  # fields but no <EOR>: the one record is incomplete, which its reading reports
        if marker[1].upper() == b"EOR":
            return start if self.data[start : start + 1] == b"<" else self._after_remarks(start)
        _, fields, faults, position, ended = self._exact(start)
        if ended != "EOH":  # a wrong length in the header ran over its end
            position = marker.end()
        for field in fields:
            self.header.take(*field)
        self.header.faults += faults
        return position

    def _after_remarks(self, start):
        """A header without <EOH>: its text and its header fields end where the first field of a contact stands."""
        position = start
        while specifier := SPECIFIER.search(self.data, position):
            name = self._name(specifier[1])
            if name not in tables.FIELDS or not (tables.FIELDS[name].header or name.startswith("USERDEF")):
                return specifier.start()
            position, value, fault = self._value(name, specifier.end(), int(specifier[2]))
            self.header.take(name, (specifier[3] or b"").decode("ascii").upper(), value or "")
            if fault:
                self.header.faults.append(fault)
        return start

    # --- text ---

    def _name(self, raw):
        return raw.decode(self.survey.encoding, "replace").strip().upper()

    def _text(self, raw):
        raw = bytes(raw)
        text = raw.decode(self.survey.encoding, "backslashreplace")
        return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


class Writer:
    """Writes an ADI file piece by piece, as text: `header`, then `record` for each, then `remark` if there is one.

    What it is given must be ASCII and legal; line breaks are single line feeds and are written as CR LF.
    """

    def header(self, program, version, moment, defined=()):
        """The header; it begins with words, since a file that begins with `<` has none. `defined`: UserFields."""
        lines = [f"Log written by {program} {version}", self.field("ADIF_VER", tables.VERSION)]
        lines.append(self.field("CREATED_TIMESTAMP", f"{moment:%Y%m%d %H%M%S}"))
        lines += [self.field("PROGRAMID", program), self.field("PROGRAMVERSION", version)]
        for number, user_field in enumerate(defined, start=1):
            data = user_field.name + ("," + user_field.limits if user_field.limits else "")
            lines.append(self.field(f"USERDEF{number}", data, tables.LETTER_OF_TYPE.get(user_field.type, "S")))
        return "\r\n".join([*lines, "<EOH>", "", ""])

    def record(self, fields):
        """One record of (name, letter, value); the letter is written where it is given."""
        return " ".join([self.field(name, value, letter) for name, letter, value in fields]) + " <EOR>\r\n"

    def remark(self, text):
        """Words after the last record; readers skip them."""
        return text.replace("<", "(").replace(">", ")") + "\r\n"

    @staticmethod
    def field(name, value, letter=""):
        value = value.replace("\n", "\r\n")
        return f"<{name}:{len(value)}:{letter}>{value}" if letter else f"<{name}:{len(value)}>{value}"


def read(data):
    """(header, records) of an ADI file in bytes; for small files and tests. Raises NotADIF."""
    reader = Reader(data)
    return reader.header, list(reader.records())


def look_over(data, encoding=""):
    """Find out how a file is written. Raises NotADIF for what cannot be ADI: binary data, UTF-16, nothing at all."""
    start = len(BOM) if data[: len(BOM)] == BOM else 0
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00<\x00" in data[:4096]:
        raise NotADIF("This file is written in UTF-16. Save it as UTF-8 or plain text and try again.")
    if b"\x00\x00\x00" in data[:4096] or data[:4] in (b"PK\x03\x04", b"%PDF", b"\x89PNG", b"SQLi", b"\xff\xd8\xff\xe0"):
        raise NotADIF("This is no ADIF file: it holds binary data. Choose a log that ends in .adi, .adif or .adx.")
    if not data[start : start + 1]:
        raise NotADIF("The file is empty.")
    if all(block.isascii() for block in _blocks(data)):
        return Survey("ascii", start=start)
    encoding = encoding or ("utf-8" if _decodes(data, "utf-8") else "cp1252")
    by_characters = encoding in BYTES_VARY and _by_characters(data, encoding)
    return Survey(encoding, by_characters=by_characters, start=start, odd_bytes=not _decodes(data, encoding))


def _decodes(data, encoding):
    """Whether the whole file is text in an encoding."""
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        for block in _blocks(data):
            decoder.decode(block)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _blocks(data):
    """The data block by block."""
    for position in range(0, len(data), BLOCK):
        yield data[position : position + BLOCK]
        let_go(data, position)


def let_go(data, position):
    """Give back the memory of a map up to a position, so that it stays flat; what is read again comes from the file."""
    if hasattr(data, "madvise"):  # not on Windows, nor for bytes
        data.madvise(mmap.MADV_DONTNEED, 0, position - position % mmap.PAGESIZE)


def _shrunk(window, length):
    """How many units of a window have this length when each line feed counts two."""
    newline = b"\n" if isinstance(window, bytes) else "\n"
    taken = window[:length]
    while taken and len(taken) + taken.count(newline) > length:
        over = len(taken) + taken.count(newline) - length
        taken = taken[: -((over + 1) // 2)]
    return len(taken)


def _by_characters(data, encoding):
    """Whether the lengths of a file fit better as counts of characters than as counts of bytes."""
    by_bytes = by_characters = 0
    for found in BEYOND_ASCII.finditer(data):
        length, rest = int(found[1]), found[2]
        by_bytes += _ends_well(rest, length)
        by_characters += _ends_well(rest.decode(encoding, "replace"), length)
    return by_characters > by_bytes


def _breaks_count_two(data):
    """Whether the lengths of texts with bare line feeds fit better when each line feed counts two."""
    as_one = as_two = 0
    for found in SEVERAL_LINES.finditer(data):
        length, rest = int(found[1]), found[2]
        if rest.find(b"\n") < length:  # else the line break comes after the data
            shrunk = _shrunk(rest, length)
            as_one += _ends_well(rest, length)
            as_two += shrunk + rest.count(b"\n", 0, shrunk) == length and _ends_well(rest, shrunk)
    return as_two >= as_one and as_two > 0


def _ends_well(rest, length):
    """Whether data of this length, of what stands before the next tag, ends before a blank, a line end or that tag."""
    return length <= len(rest) and rest[length : length + 1] in (BLANKS if isinstance(rest, bytes) else BLANKS.decode())
