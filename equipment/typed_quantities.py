"""Quantities as people type them, read into the SI units that are stored, and written back for typing again; pure.

A number alone is in the operator's unit (metres or feet, kilograms or pounds); a unit written behind it wins. Decimal
arithmetic on the typed digits makes reading exact, so that what was written reads back as the very number stored.
"""

import re
from dataclasses import dataclass
from decimal import Decimal

from .numerals import localised
from .units import FOOT_M, IMPERIAL, INCH_M, METRIC, OUNCE_KG, POUND_KG

FOOT, INCH, POUND, OUNCE = (Decimal(repr(factor)) for factor in (FOOT_M, INCH_M, POUND_KG, OUNCE_KG))


@dataclass(frozen=True)
class Quantity:
    """A kind of quantity: what it is called, the factors of its units to SI, and what a number alone means."""

    name: str
    factors: dict
    plain: dict
    example: dict
    below: dict  # the unit that a number alone means behind another unit: 16 ft 5

    def unit(self, units):
        return self.plain.get(units, self.plain[METRIC])


def same(value):
    """One unit or example for both systems."""
    return {METRIC: value, IMPERIAL: value}


def scaled(unit, **others):
    """Factors of an SI unit and of others in powers of ten, given as exponents."""
    return {unit: Decimal(1), **{name: Decimal(10) ** exponent for name, exponent in others.items()}}


OHM_SIGN = "\u2126"  # what some keyboards give instead of the letter omega

FEET = dict.fromkeys(("ft", "foot", "feet", "'", "′", "’"), FOOT)
INCHES = dict.fromkeys(("in", "inch", "inches", '"', "″", "”", "''"), INCH)
POUNDS = dict.fromkeys(("lb", "lbs", "pound", "pounds"), POUND)
OUNCES = dict.fromkeys(("oz", "ounce", "ounces"), OUNCE)

LENGTH = Quantity(
    "length", {**scaled("m", cm=-2, mm=-3, km=3), **FEET, **INCHES}, {METRIC: "m", IMPERIAL: "ft"},
    {METRIC: "5.18 or 17 ft", IMPERIAL: "17, 16 ft 5 in or 5.18 m"}, dict.fromkeys(FEET, "in"),
)
WEIGHT = Quantity(
    "weight", {**scaled("kg", g=-3), **POUNDS, **OUNCES}, {METRIC: "kg", IMPERIAL: "lb"},
    {METRIC: "0.45 or 450 g", IMPERIAL: "1 lb 4 oz, 20 oz or 450 g"}, dict.fromkeys(POUNDS, "oz"),
)
POWER = Quantity("power", scaled("W", mW=-3, kW=3), same("W"), same("5 or 500 mW"), {})
CURRENT = Quantity("current", scaled("A", mA=-3), same("A"), same("1.2 or 90 mA"), {})
VOLTAGE = Quantity("voltage", scaled("V", mV=-3), same("V"), same("13.2"), {})
CAPACITY = Quantity("capacity", scaled("Ah", mAh=-3), same("Ah"), same("6 or 3500 mAh"), {})
RESISTANCE = Quantity(
    "resistance", {**scaled("Ω", mΩ=-3), **scaled("ohm", mohm=-3), **scaled(OHM_SIGN, **{f"m{OHM_SIGN}": -3})},
    same("Ω"), same("0.045 or 45 mΩ"), {},
)
ANGLE = Quantity("angle", scaled("°", deg=0), same("°"), same("270"), {})
TEMPERATURE = Quantity("temperature", scaled("°C", C=0), same("°C"), same("-5"), {})
FREQUENCY = Quantity("frequency", scaled("Hz", kHz=3, MHz=6, GHz=9), same("MHz"), same("14.285"), {})
MINUTES = dict.fromkeys(("min", "minutes", "minute"), 1 / Decimal(60))
HOURS = dict.fromkeys(("h", "hours", "hour"), Decimal(1))
DURATION = Quantity("time", {**HOURS, **MINUTES}, same("h"), same("2.5 or 2 h 30 min"), dict.fromkeys(HOURS, "min"))
PERCENT = Quantity("percentage", {"%": Decimal(1)}, same("%"), same("30"), {})
NUMBER = Quantity("number", {"": Decimal(1)}, same(""), same("1.5"), {})
THICKNESS = Quantity(
    "thickness", {**scaled("m", mm=-3, cm=-2), **INCHES}, {METRIC: "mm", IMPERIAL: "in"},
    {METRIC: "1.6 or 0.06 in", IMPERIAL: "0.06 or 1.6 mm"}, {},
)
INDUCTANCE = Quantity(
    "inductance", scaled("H", **{"µH": -6, "μH": -6, "uH": -6, "nH": -9, "mH": -3}), same("µH"), same("4.2"), {}
)
DECIBELS = Quantity("number of decibels", {"dB": Decimal(1), "dBi": Decimal(1)}, same("dB"), same("2.15"), {})
AREA = Quantity("cross-section", {"mm²": Decimal(1), "mm2": Decimal(1)}, same("mm²"), same("1.5"), {})

PART = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*([^\s0-9.,]*)")
LONGEST = 40


def factor(quantity, symbol):
    """What a unit is worth in SI; KG and Ft are understood, but MW is never taken for mW. None where unknown."""
    if symbol in quantity.factors:
        return quantity.factors[symbol]
    if len(symbol) > 1 and symbol[0] == "M":
        return None
    folded = {name.casefold(): value for name, value in quantity.factors.items()}
    return folded.get(symbol.casefold())


def read(text, quantity, units=METRIC):
    """The SI value of what was typed: `16 ft 5 in`, `16' 5"`, `5,18`, `450 g`.

    Raises ValueError with a sentence for the one who typed it.
    """
    typed = text.strip()
    unsigned, negative = typed, False
    if typed[:1] in ("-", "−", "+"):
        unsigned, negative = typed[1:], typed[0] != "+"
    total, at, previous, previous_symbol = Decimal(0), 0, None, None
    while at < len(unsigned.rstrip()) or previous is None:
        part = PART.match(unsigned, at) if len(typed) <= LONGEST else None
        if part is None:
            raise ValueError(not_read(typed, quantity, units))
        number, written = part.groups()
        symbol = written or (quantity.unit(units) if previous is None else quantity.below.get(previous_symbol, ""))
        worth = factor(quantity, symbol)
        if worth is None or (previous is not None and worth >= previous):
            raise ValueError(not_read(typed, quantity, units))
        total += Decimal(number.replace(",", ".")) * worth
        at, previous, previous_symbol = part.end(), worth, written
    return float(-total if negative else total)


def not_read(typed, quantity, units):
    """Why something typed is no quantity."""
    shown = typed if len(typed) <= LONGEST else typed[:LONGEST] + "…"
    if re.search(r"[0-9],[0-9]+\.|[0-9]\.[0-9]+,", typed):
        return f"“{shown}” has a comma and a point: write one of them, before the decimals only."
    return f"“{shown}” is not a {quantity.name}: write it like {localised(quantity.example[units])}."


def write(value, quantity, units=METRIC):
    """The text that stands in a field for a stored SI value.

    In the unit that a number alone means, to six decimals; feet and inches or pounds and ounces to a tenth where that
    is exact, else as a decimal number where that is, else to a hundredth of the smaller unit.
    """
    exact = Decimal(repr(float(value)))
    if units == IMPERIAL and quantity is LENGTH and value:
        return in_two_units(exact, "ft", "in", FOOT, INCH)
    if units == IMPERIAL and quantity is WEIGHT and value:
        return in_two_units(exact, "lb", "oz", POUND, OUNCE)
    return plain(exact / quantity.factors[quantity.unit(units)], 6)


def plain(number, decimals):
    """A decimal number to at most so many decimals, without trailing zeros or an exponent."""
    text = f"{number:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def in_two_units(exact, large_name, small_name, large, small):
    """A value as `16 ft 5 in`, `5 in` or `12.34 ft`."""
    tenths = exact / small * 10
    if tenths == tenths.to_integral_value():
        decimals = 1
    else:
        decimal = exact / large
        if decimal * 1000 == (decimal * 1000).to_integral_value():
            return f"{plain(decimal, 3)} {large_name}"
        decimals = 2
    ratio = round(large / small)
    sign = "-" if exact < 0 else ""
    whole, rest = divmod(round(abs(exact) / small, decimals), ratio)
    if not whole:
        return f"{sign}{plain(rest, decimals)} {small_name}"
    return f"{sign}{whole:.0f} {large_name}" + (f" {plain(rest, decimals)} {small_name}" if rest else "")


def bound(value, quantity, units=METRIC):
    """A limit as a sentence names it, to three significant digits, with its unit."""
    unit = quantity.unit(units)
    number = Decimal(repr(float(value))) / quantity.factors[unit]
    return f"{localised(plain(Decimal(f'{number:.3g}'), 6))} {unit}".rstrip()
