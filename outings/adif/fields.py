"""Values of fields by their data type: what is wrong with one, and what it means; pure.

Values are text with line breaks as a single line feed. The characters that ADI forbids are not judged here: text
beyond ASCII is legal in ADX, and `outings.adif.ascii` finds the nearest ASCII for ADI.
"""

import datetime
import math
import re
from decimal import Decimal
from functools import cache, lru_cache

from . import tables

MULTILINE = frozenset({"MultilineString", "IntlMultilineString"})
TEXT = frozenset({"String", "IntlString"}) | MULTILINE
LISTS = {"GridSquareList": ("GridSquare", ","), "POTARefList": ("POTARef", ",")}
FREE_LISTS = frozenset({
    "AwardList", "CreditList", "SponsoredAwardList", "SecondarySubdivisionList",
    "SecondaryAdministrativeSubdivisionListAlt",
})  # lists of enumerations that are not carried here: any text
UNICODE_TWINS = {"String": "IntlString", "MultilineString": "IntlMultilineString"}
LOCATION = re.compile(r"([NSEW])(\d{3}) (\d{2}\.\d{3})", re.IGNORECASE | re.ASCII)
AXES = {"LAT": "NS", "MY_LAT": "NS", "LON": "EW", "MY_LON": "EW"}


@cache
def pattern(type_):
    """The compiled pattern of a data type; None where any text goes."""
    written = tables.TYPES.get(type_, {}).get("pattern")
    return re.compile(written, re.ASCII) if written and type_ not in TEXT else None


def fault(name, value, type_="", *, choices=None, lowest=None, highest=None):
    """What is wrong with a value, in a few words; "" for a legal one.

    `name` is a field in capitals. One that the standard does not know is judged by `type_` alone; `choices` (a tuple),
    `lowest` and `highest` come from the definition of a user-defined field. Empty text equals an absent field: legal.
    """
    if value == "":
        return ""
    definition = tables.QSO_FIELDS.get(name)
    if definition is None:
        return _of_type(type_, value) or _of_definition(value, choices, lowest, highest)
    if type_ and not _types_agree(type_, definition):
        return f"is marked as {type_}, but {name} is {definition.type}"
    found = _of_type(definition.type, value, name)
    if found and any(not _of_type(other, value) for other in definition.import_only_types):
        found = ""
    if found:
        return found
    if definition.enumeration and not definition.advisory:
        values = tables.enumeration(definition.enumeration)
        if values is not None and value.upper() not in values:
            return f"is none of the values that the standard lists for {name}"
    if name in AXES and value[0].upper() not in AXES[name]:
        return f"must begin with {' or '.join(AXES[name])}"
    # An azimuth or elevation beyond the circle is import-only: it is legal, and turned into its range.
    return "" if name in ("ANT_AZ", "ANT_EL") else _of_range(value, definition.lowest, definition.highest)


def _types_agree(type_, definition):
    return type_ == definition.type or {type_, definition.type} <= TEXT or (
        # Types without a letter of their own are written as strings, numbers as numbers.
        definition.type not in tables.LETTER_OF_TYPE and type_ in ("String", "Number", "Enumeration", "MultilineString")
    ) or (type_ == "String" and definition.type == "Enumeration")


def _of_type(type_, value, name=""):
    if not type_ or type_ in FREE_LISTS or type_ in TEXT:
        if type_ in ("String", "IntlString") and ("\n" in value or "\r" in value):
            return "has a line break in a one-line text"
        return ""
    if type_ in LISTS:
        part_type, separator = LISTS[type_]
        return next(filter(None, (_of_type(part_type, part, name) for part in value.split(separator))), "")
    shape = pattern(type_)
    if shape and not shape.fullmatch(value):
        return f"is no {type_}: {tables.TYPES[type_]['rule']}"
    if type_ == "Date" and day(value) is None:
        return "is no day of the calendar"
    if type_ == "Location" and degrees(value) is None:
        return "lies beyond the pole or the antimeridian"
    return ""


def _of_definition(value, choices, lowest, highest):
    if choices and value.upper() not in {choice.upper() for choice in choices}:
        return f"is none of {', '.join(choices)}"
    return _of_range(value, lowest, highest) if lowest is not None or highest is not None else ""


def _of_range(value, lowest, highest):
    if lowest is None and highest is None:
        return ""
    amount = number(value)
    if amount is None:
        return "is no number"
    if (lowest is not None and amount < lowest) or (highest is not None and amount > highest):
        return f"is outside {lowest if lowest is not None else ''} to {highest if highest is not None else ''}"
    return ""


# --- what values mean -----------------------------------------------------------------------------------------------


@lru_cache(maxsize=8192)
def day(value):
    """A Date as a datetime.date; None where it is none."""
    if len(value) != 8 or not (value.isascii() and value.isdigit()) or value < "1930":
        return None
    try:
        return datetime.date(int(value[:4]), int(value[4:6]), int(value[6:]))
    except ValueError:
        return None


@lru_cache(maxsize=8192)
def clock(value):
    """A Time as (datetime.time, whether it has seconds); None where it is none."""
    if len(value) not in (4, 6) or not (value.isascii() and value.isdigit()):
        return None
    try:
        return datetime.time(int(value[:2]), int(value[2:4]), int(value[4:] or 0)), len(value) == 6
    except ValueError:
        return None


def number(value):
    """A Number as a float; None where it is none."""
    return float(value) if pattern("Number").fullmatch(value) and len(value) < 300 else None


def hertz(value):
    """A frequency in MHz as whole hertz, without passing through binary fractions; None where it is no number."""
    if not pattern("Number").fullmatch(value) or len(value) > 40:
        return None
    return int((Decimal(value) * 1_000_000).to_integral_value())


def degrees(value):
    """A Location in degrees, north and east positive; None where it is none."""
    match = LOCATION.fullmatch(value)
    if not match or float(match[3]) >= 60:
        return None
    size = int(match[2]) + float(match[3]) / 60
    side = match[1].upper()
    if size > (90 if side in "NS" else 180):
        return None
    return -size if side in "SW" else size


# --- values as they are written -------------------------------------------------------------------------------------


def number_text(amount):
    """A number without exponent or trailing zeros: 5, 0.5, -20.25, 0.00001. Raises ValueError for what is no number."""
    if not math.isfinite(amount):
        raise ValueError("A number must be finite.")
    written = format(Decimal(repr(amount)) if isinstance(amount, float) else Decimal(amount), "f")
    written = written.rstrip("0").rstrip(".") if "." in written else written
    return "0" if written in ("-0", "") else written


def megahertz_text(frequency_hz):
    """A frequency in MHz: 14.285, 7, 0.1357."""
    return number_text(Decimal(frequency_hz) / 1_000_000)


def location_text(angle_deg, axis):
    """A latitude (`axis` "NS") or longitude ("EW") as a Location; rounded minutes carry into the next degree.

    Raises ValueError beyond the pole or the antimeridian.
    """
    if not abs(angle_deg) <= (90 if axis == "NS" else 180):
        raise ValueError(f"{angle_deg} degrees lie beyond the {'pole' if axis == 'NS' else 'antimeridian'}.")
    thousandths = round(abs(angle_deg) * 60_000)
    whole, rest = divmod(thousandths, 60_000)
    side = axis[1] if angle_deg < 0 and thousandths else axis[0]
    return f"{side}{whole:03d} {rest // 1000:02d}.{rest % 1000:03d}"
