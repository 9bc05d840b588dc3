"""The sign before decimals, a point or a comma, by which numbers are shown to whoever reads them; pure.

It is in force for the length of a request or a command, in that thread only. What a program reads (ADIF, CSV, JSON,
coordinates of a drawing) is written without this module, and so always with a point.
"""

import contextlib
import re
from contextvars import ContextVar
from dataclasses import dataclass

POINT, COMMA = ".", ","
IN_TEXT = re.compile(r"((?:arXiv:|CFR |section |BY )[0-9.]+)|(?<=[0-9])\.(?=[0-9])")  # the first are no numbers
IN_A_ROW = re.compile(r"(?<=[0-9]), (?=-?[0-9]+\.[0-9])")

_sign = ContextVar("sign before decimals", default=POINT)


@contextlib.contextmanager
def decimals_after(sign):
    """Show numbers with this sign until the block ends; anything but COMMA is POINT."""
    before = _sign.set(COMMA if sign == COMMA else POINT)
    try:
        yield
    finally:
        _sign.reset(before)


def sign():
    """The sign in force."""
    return _sign.get()


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number for a text: f"{Numeral(1.5):.2f}" gives 1.50 or 1,50, by the sign in force.

    Thousands are not parted (ValueError); `number` of equipment.templatetags.units does it, by spaces.
    """

    value: float

    def __format__(self, spec):
        if "," in spec:
            raise ValueError("thousands are not parted by commas")
        return format(self.value, spec).replace(POINT, _sign.get())

    def __str__(self):
        return format(self, "")


def localised(text):
    """A text with numbers written with a point, such as an example to type, with the sign in force.

    Numbers in a row are then parted by semicolons: 48,1467; 11,6083. What only looks like a number stays: those of
    papers, rules, sections and licences.
    """
    if _sign.get() == POINT:
        return text
    return IN_TEXT.sub(lambda found: found[1] or COMMA, IN_A_ROW.sub("; ", str(text)))


def each_after(sign, pieces):
    """The pieces of an answer that is streamed, each made with this sign in force."""
    pieces = iter(pieces)
    while True:
        with decimals_after(sign):
            try:
                piece = next(pieces)
            except StopIteration:
                return
        yield piece
