"""Kinds of quantity as answers show them: which unit fits a size, in the operator's system; pure."""

import math
from dataclasses import dataclass

from .units import FOOT_M, IMPERIAL, INCH_M, METRIC


@dataclass(frozen=True)
class Unit:
    """A unit to show: what the stored value is multiplied by, its name, up to which size (stored) it is used, and the
    most decimals that make sense in it."""

    factor: float
    name: str
    below: float = math.inf
    decimals: int = 6


def both(*units):
    """The same units in both systems."""
    return {METRIC: units, IMPERIAL: units}


KINDS = {
    "number": both(Unit(1, "")),
    "percent": both(Unit(1, "%", decimals=1)),
    "decibel": both(Unit(1, "dB")),
    "voltage": both(Unit(1000, "mV", 0.1, 0), Unit(1, "V", decimals=2)),
    "current": both(Unit(1000, "mA", 0.1), Unit(1, "A")),
    "charge": both(Unit(1, "Ah")),
    "energy": both(Unit(1, "Wh")),
    "power": both(Unit(1000, "mW", 0.1), Unit(1, "W")),
    "resistance": both(Unit(1000, "mΩ", 1), Unit(1, "Ω", 10_000), Unit(0.001, "kΩ")),
    "duration": both(Unit(3600, "s", 1 / 30), Unit(60, "min", 1.5), Unit(1, "h", 72), Unit(1 / 24, "days")),
    "frequency": both(Unit(1e-3, "kHz", 1e6), Unit(1e-6, "MHz")),
    "inductance": both(Unit(1e9, "nH", 1e-6), Unit(1e6, "µH")),
    "capacitance": both(Unit(1e12, "pF", 1e-9), Unit(1e9, "nF")),
    "length": {
        METRIC: (Unit(100, "cm", 1), Unit(1, "m")), IMPERIAL: (Unit(1 / INCH_M, "in", FOOT_M), Unit(1 / FOOT_M, "ft")),
    },
    "thickness": {METRIC: (Unit(1000, "mm"),), IMPERIAL: (Unit(1 / INCH_M, "in"),)},
    "area": both(Unit(1e6, "mm²")),
    "temperature": both(Unit(1, "°C")),
}


def unit_for(kind, size, units=METRIC):
    """The unit in which a quantity of this size is shown. KeyError for a kind that is not in the table."""
    choices = KINDS[kind].get(units, KINDS[kind][METRIC])
    return next(unit for unit in choices if abs(size) < unit.below)
