"""User-defined fields: their definitions in a header, read and written; pure."""

import re
from dataclasses import dataclass

from . import fields, tables

FORBIDDEN = set(",:<>{}")
DEFINED = re.compile(r"(?P<name>[^,{}]+)(?:,\{(?P<inside>[^{}]*)\})?", re.DOTALL)


@dataclass(frozen=True, slots=True)
class UserField:
    """A field that a file defines itself: its name as written, its type, and what limits its values."""

    name: str
    type: str = "String"
    choices: tuple = ()
    lowest: float | None = None
    highest: float | None = None

    @property
    def limits(self):
        """The enumeration or range as it stands in braces; "" without one."""
        if self.choices:
            return "{" + ",".join(self.choices) + "}"
        if self.lowest is None:
            return ""
        return "{" + f"{fields.number_text(self.lowest)}:{fields.number_text(self.highest)}" + "}"

    def fault(self, value):
        """What is wrong with a value; "" for a legal one."""
        return fields.fault(
            self.name.upper(), value, self.type, choices=self.choices, lowest=self.lowest, highest=self.highest
        )


def is_name(text):
    """Whether a text may name a user-defined field."""
    return bool(
        text and text == text.strip() and not FORBIDDEN & set(text) and text.isascii() and text.isprintable()
        and text.upper() not in tables.FIELDS
    )


def read(text, letter):
    """Read the data of USERDEFn, `SweaterSize,{S,M,L}` or `ShoeSize,{5:20}`. Raises ValueError that says why not."""
    match = DEFINED.fullmatch(text.strip())
    if not match or not is_name(match["name"].strip()):
        raise ValueError(f"{text!r} defines no field")
    return limited(match["name"].strip(), tables.TYPE_OF_LETTER.get(letter.upper(), "String"), match["inside"] or "")


def limited(name, type_, inside):
    """A definition with the text between the braces: a range `5:20` or an enumeration `S,M,L`."""
    if not inside.strip():
        return UserField(name, type_)
    low, colon, high = inside.partition(":")
    bounds = fields.number(low.strip()), fields.number(high.strip())
    if colon and None not in bounds and type_ in ("Number", "Integer", "PositiveInteger"):
        return UserField(name, type_, lowest=bounds[0], highest=bounds[1])
    return UserField(name, type_, choices=tuple(part.strip() for part in inside.split(",") if part.strip()))
