"""ADX, the XML format of ADIF: a streaming reader that refuses XML's traps, and a writer; pure."""

import re
from xml.etree.ElementTree import ParseError
from xml.sax.saxutils import escape, quoteattr

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from . import definitions, tables
from .records import Fault, Field, Header, NotADIF, Record

BLOCK = 1 << 16
LONGEST = 1 << 20  # characters in one field
DEEPEST = 6
FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, section 2.2


class _Elements:
    """Takes the events of the parser and puts records together."""

    def __init__(self):
        self.header, self.parser = Header(), None
        self.path, self.text, self.length = [], [], 0
        self.records, self.fields, self.faults, self.line = [], [], [], 0
        self.attributes, self.header_done = {}, False

    def start(self, tag, attributes):
        name = tag.upper()
        depth = len(self.path)
        if depth == 0 and name != "ADX":
            raise NotADIF(f"This is XML, but no ADX file: its root is {tag[:40]}, not ADX.")
        if depth >= DEEPEST:
            raise NotADIF("This is no ADX file: its elements are nested too deep.")
        self.path.append(name)
        if self.path == ["ADX", "RECORDS", "RECORD"]:
            self.fields, self.faults, self.line = [], [], self.parser.parser.CurrentLineNumber
        elif depth == 4 and self.path[1] == "RECORDS":
            self.faults.append(Fault(self.path[3], f"has an element {tag[:40]} inside", tag[:40]))
        if depth in (2, 3):
            self.text, self.length, self.attributes = [], 0, attributes

    def data(self, text):
        self.length += len(text)
        if self.length > LONGEST:
            raise NotADIF("A field of this file is longer than a million characters.")
        self.text.append(text)

    def end(self, tag):
        path, self.path = self.path, self.path[:-1]
        if path == ["ADX", "RECORDS", "RECORD"]:
            self.records.append(Record(self.line, tuple(self.fields), tuple(self.faults)))
        elif len(path) == 4 and path[1:3] == ["RECORDS", "RECORD"]:
            self._field(path[3])
        elif len(path) == 3 and path[1] == "HEADER":
            self._header_field(path[2])
        if len(path) <= 4:
            self.text, self.length = [], 0

    def close(self):
        pass

    def _value(self):
        return "".join(self.text).replace("\r\n", "\n").replace("\r", "\n")

    def _field(self, name):
        value, attributes = self._value(), {key.upper(): text for key, text in self.attributes.items()}
        letter = attributes.get("TYPE", "").upper()
        if name == "APP":
            parts = attributes.get("PROGRAMID", "").strip(), attributes.get("FIELDNAME", "").strip()
            if not all(parts):
                self.faults.append(Fault("APP", "has no PROGRAMID or no FIELDNAME", value[:80]))
                return
            name = "APP_" + "_".join(parts).upper()
        elif name == "USERDEF":
            name = attributes.get("FIELDNAME", "").strip().upper()
            if not name:
                self.faults.append(Fault("USERDEF", "has no FIELDNAME", value[:80]))
                return
            letter = letter or tables.LETTER_OF_TYPE.get(self.header.type_of(name, ""), "")
        if value != "":
            self.fields.append(Field(name, letter if letter in tables.TYPE_OF_LETTER else "", value))

    def _header_field(self, name):
        value, attributes = self._value(), {key.upper(): text for key, text in self.attributes.items()}
        if name != "USERDEF":
            self.header.take(name, "", value)
            return
        type_ = tables.TYPE_OF_LETTER.get(attributes.get("TYPE", "").upper(), "String")
        limits = (attributes.get("ENUM") or attributes.get("RANGE") or "").strip().strip("{}")
        if definitions.is_name(value.strip()):
            self.header.define(definitions.limited(value.strip(), type_, limits))
        else:
            self.header.faults.append(Fault("USERDEF", f"{value[:40]!r} defines no field", value[:80]))


class Reader:
    """Reads an ADX file: `records()` gives its records; `header` is complete once the first was given.

    `file` is open for reading bytes. Raises NotADIF for what is no ADX, is not well-formed, or plays tricks.
    """

    def __init__(self, file):
        self.file, self.elements = file, _Elements()

    @property
    def header(self):
        return self.elements.header

    def records(self):
        elements = self.elements
        parser = DefusedXMLParser(target=elements, forbid_dtd=True, forbid_entities=True, forbid_external=True)
        elements.parser = parser
        try:
            while block := self.file.read(BLOCK):
                parser.feed(block)
                given, elements.records = elements.records, []
                yield from given
            parser.close()
        except DefusedXmlException:
            raise NotADIF(
                "This XML file has a document type declaration or entities, as an ADX file never has; it was not read."
            ) from None
        except ParseError as error:
            line = getattr(error, "position", (0, 0))[0]
            what = str(error).partition(":")[0]
            raise NotADIF(f"This XML file is damaged or cut off: {what}, in line {line}.") from None
        except NotADIF:
            raise
        except (LookupError, ValueError):
            raise NotADIF("This XML file names an encoding that does not exist, or is not written in it.") from None
        yield from elements.records


def read(file):
    """(header, records) of an ADX file that is open for reading bytes; for small files and tests."""
    reader = Reader(file)
    found = list(reader.records())
    return reader.header, found


class Writer:
    """Writes an ADX file piece by piece, as text: `header`, then `record` for each, then `close`."""

    def header(self, program, version, moment, defined=()):
        """The header, with `defined` UserFields."""
        self.defined = {field.name.upper() for field in defined}
        lines = [
            '<?xml version="1.0" encoding="UTF-8"?>', "<ADX>", "<HEADER>", element("ADIF_VER", tables.VERSION),
            element("CREATED_TIMESTAMP", f"{moment:%Y%m%d %H%M%S}"), element("PROGRAMID", program),
            element("PROGRAMVERSION", version),
        ]
        for number, field in enumerate(defined, start=1):
            limits = ""
            if field.limits:
                limits = f" {'ENUM' if field.choices else 'RANGE'}={quoteattr(field.limits)}"
            letter = tables.LETTER_OF_TYPE.get(field.type, "S")
            lines.append(f'<USERDEF FIELDID="{number}" TYPE="{letter}"{limits}>{escape(field.name.upper())}</USERDEF>')
        return "\n".join([*lines, "</HEADER>", "<RECORDS>", ""])

    def record(self, fields):
        """One record of (name, letter, value)."""
        return "<RECORD>" + "".join([self.field(*field) for field in fields]) + "</RECORD>\n"

    def field(self, name, letter, value):
        if name in tables.QSO_FIELDS:
            return element(name, value)
        if name.startswith("APP_"):
            program, _, own = name[4:].partition("_")
            type_ = f' TYPE="{letter}"' if letter else ""
            return element("APP", value, f" PROGRAMID={quoteattr(program)} FIELDNAME={quoteattr(own)}{type_}")
        return element("USERDEF", value, f" FIELDNAME={quoteattr(name)}")

    def close(self):
        return "</RECORDS>\n</ADX>\n"


def element(name, value, attributes=""):
    """An element with its text; characters that XML cannot hold become question marks."""
    return f"<{name}{attributes}>{escape(FORBIDDEN.sub('?', value))}</{name}>"
