"""What an operator reads off the radio and types: band or frequency, power, mode; pure."""

import re
from dataclasses import dataclass

from equipment import typed_quantities
from equipment.numerals import Numeral, localised, sign
from outings.adif import tables

NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
FREQUENCY = re.compile(rf"{NUMBER}\s*(hz|khz|mhz|ghz|k)?", re.IGNORECASE)
HZ = {"hz": 1, "khz": 10**3, "k": 10**3, "mhz": 10**6, "ghz": 10**9}
MOST_W = 10_000


class Unreadable(ValueError):
    """The text cannot be read as what was asked for; the message says what can."""


@dataclass(frozen=True)
class Tuning:
    """Where the radio is tuned to: a band of the standard, "" where none holds the frequency, and the frequency."""

    band: str
    frequency_hz: int | None = None


def tuning(typed):
    """Read `20m`, `70cm`, `14285`, `14.285`, `14285 kHz` or `432.2 MHz`.

    A bare number is megahertz or kilohertz, whichever lies in a band; where both do, as 10120 does (kHz in 30m, MHz
    in 3cm), a whole number is kilohertz and a fraction megahertz; where neither does, below 1000 it is megahertz.
    """
    text = " ".join(typed.split())
    band = tables.band_named(text.replace(" ", ""))
    if band:
        return Tuning(band)
    match = FREQUENCY.fullmatch(text)
    if not match:
        raise Unreadable(localised("Give a band such as 20m, or a frequency such as 14285, 14.285 or 432.2 MHz."))
    number, unit = match[1].replace(",", "."), (match[2] or "").lower()
    if unit:
        hz = _times(number, HZ[unit])
    else:
        as_mhz, as_khz = _times(number, HZ["mhz"]), _times(number, HZ["khz"])
        in_mhz, in_khz = bool(tables.band_of(as_mhz)), bool(tables.band_of(as_khz))
        if in_mhz and in_khz:
            hz = as_mhz if "." in number else as_khz
        elif in_mhz or in_khz:
            hz = as_mhz if in_mhz else as_khz
        else:
            hz = as_mhz if float(number) < 1000 else as_khz
    if not hz:
        raise Unreadable("A frequency is more than zero.")
    return Tuning(tables.band_of(hz), hz)


def power_w(typed):
    """Read watts: `5`, `0.5`, `500 mW`, `1 kW`."""
    try:
        watts = typed_quantities.read(typed, typed_quantities.POWER)
    except ValueError as reason:
        raise Unreadable(str(reason)) from None
    if watts < 0:
        raise Unreadable("A power is not below zero.")
    if watts > MOST_W:
        raise Unreadable(f"{Numeral(watts):g} W is more than any amateur station gives; is it milliwatts (mW)?")
    return watts


def mode(typed):
    """Read a mode or a submode of the standard, as (mode, submode): `USB` is ("SSB", "USB"), `ft4` ("MFSK", "FT4")."""
    text = " ".join(typed.split()).upper()
    found = tables.mode_named(text)
    if not found:
        raise Unreadable(f"{text or 'Nothing'} is no mode of the ADIF standard; take SSB, CW, FM, FT8, RTTY.")
    return found


def usual_report(mode, submode=""):
    """The report that is given unless another is typed: 59 for voice, 599 for keyed and typed modes.

    Weak-signal modes report decibels, which no default can know: "". Source: the RST scale; which modes report in
    decibels is common practice, no source.
    """
    if reports_decibels(mode, submode):
        return ""
    return "59" if tables.mode_family(mode, submode) == "PHONE" else "599"


DECIBEL_MODES = frozenset({
    "FT8", "JT4", "JT9", "JT44", "JT65", "JT6M", "QRA64", "MSK144", "FSK441", "ISCAT", "T10", "WSPR",
})
DECIBEL_SUBMODES = frozenset({"FT4", "FT2", "FST4", "FST4W", "JS8", "Q65", "JTMS"})


def reports_decibels(mode, submode=""):
    """Whether reports in a mode are signal-to-noise ratios, written -10 or +05."""
    return mode in DECIBEL_MODES or submode in DECIBEL_SUBMODES


def frequency_text(frequency_hz):
    """A frequency as it is typed again, in MHz with at least three places: 14.285, 7.0325."""
    whole, fraction = divmod(frequency_hz, 10**6)
    return f"{whole}{sign()}{f'{fraction:06d}'.rstrip('0'):0<3}"


def power_text(power_w):
    """Watts as they are typed again: 5, 0.5, 500 mW below half a watt."""
    return f"{Numeral(power_w * 1000):g} mW" if 0 < power_w < 0.5 else f"{Numeral(power_w):g}"


def _times(number, factor):
    """A decimal number times a power of ten, as a whole number without passing through binary fractions."""
    whole, _, fraction = number.partition(".")
    places = len(str(factor)) - 1
    digits = (fraction + "0" * places)[:places]
    return int(whole or 0) * factor + int(digits or 0)
