"""What both file formats give: fields, records, headers, and what was found wrong on the way; pure."""

import re
from dataclasses import dataclass, field
from typing import NamedTuple

from . import definitions, tables


class NotADIF(ValueError):
    """The file as a whole cannot be read; the message says why, in words for the operator."""


class Field(NamedTuple):
    """One field of a record: its name in capitals, its type letter ("" if none was given), its text."""

    name: str
    letter: str
    value: str


class Fault(NamedTuple):
    """Something wrong within a record: which field, why, what stands there; `spoils` where the record is lost by it."""

    field: str
    reason: str
    excerpt: str = ""
    spoils: bool = False


class Record(NamedTuple):
    """One record: where it begins (a line counted from 1), its fields in order, and what is wrong with it."""

    line: int
    fields: tuple
    faults: tuple = ()

    def get(self, name, default=""):
        """The value of the first field with this name."""
        return next((f.value for f in self.fields if f.name == name), default)


@dataclass
class Header:
    """The header of a file: its fields, what it defines itself, and what is wrong in it."""

    fields: dict = field(default_factory=dict)
    defined: dict = field(default_factory=dict)  # name in capitals: definitions.UserField
    faults: list = field(default_factory=list)

    def take(self, name, letter, value):
        """Take in one field of a header; user-defined ones define a field."""
        number = name[7:] if name.startswith("USERDEF") else ""
        if number.isdigit():
            try:
                self.define(definitions.read(value, letter))
            except ValueError as error:
                self.faults.append(Fault(name, str(error), value[:80]))
        elif name in self.fields:
            self.faults.append(Fault(name, "stands twice in the header; the first counts", value[:80]))
        else:
            self.fields[name] = value

    def define(self, user_field):
        self.defined.setdefault(user_field.name.upper(), user_field)

    def type_of(self, name, letter):
        """The data type of a field by its definition here, else by its letter, else what the standard presumes."""
        if name in self.defined:
            return self.defined[name].type
        if letter:
            return tables.TYPE_OF_LETTER.get(letter, "")
        return "MultilineString" if name.startswith("APP_") else ""


SPECIFIER = re.compile(r"<([^<>:]+):([0-9]+)(?::([A-Za-z]))?>")


def packed(fields):
    """Fields, (name, letter, value) each, as one text in the manner of ADI; lengths count characters."""
    return " ".join(
        f"<{name}:{len(value)}:{letter}>{value}" if letter else f"<{name}:{len(value)}>{value}"
        for name, letter, value in fields
    )


def unpacked(text):
    """[[name, letter, value], ...] of packed fields, or of a record as it stands in an ADI file.

    Names in capitals; a field of the standard has its type from there, and no letter.
    """
    found, position = [], 0
    while specifier := SPECIFIER.search(text, position):
        position = specifier.end() + int(specifier[2])
        name = specifier[1].strip().upper()
        letter = "" if name in tables.QSO_FIELDS else (specifier[3] or "").upper()
        value = text[specifier.end() : position]
        if value:
            found.append([name, letter, value])
    return found
