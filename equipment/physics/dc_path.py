"""The way from the pack to the radio: wire, connectors, drop, fuse."""

import math
from dataclasses import dataclass

COPPER_OHM_M = 1.724e-8  # resistivity of annealed copper at 20 °C (international annealed copper standard)
COPPER_PER_K = 0.00393
CONNECTOR_OHM = (0.001, 0.005)  # each. Common practice, no source.
FUSE_OHM = (0.002, 0.010)  # with its holder. Common practice, no source.
BLADE_FUSES_A = (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40)  # ratings in trade


@dataclass(frozen=True)
class Wire:
    """A copper conductor by gauge."""

    diameter_mm: float
    area_mm2: float
    ohm_per_m: float


def wire(awg, temperature_c=20.0):
    """Solid copper wire by American gauge: d = 0.127 x 92^((36 - n)/39) mm.

    awg: gauge -3 (0000) to 40, else ValueError. Resistance at temperature_c. Stranded wire is a few per cent higher,
    copper-clad aluminium about 1.6 times. Source: ASTM B258; resistivity of annealed copper.
    """
    if not -3 <= awg <= 40:
        raise ValueError(f"gauge {awg} is outside 0000 to 40")
    diameter = 0.127 * 92 ** ((36 - awg) / 39)
    return wire_of_area(math.pi * diameter**2 / 4, temperature_c)


def wire_of_area(area_mm2, temperature_c=20.0):
    """Solid copper wire by cross-section, mm²; ValueError unless positive."""
    if area_mm2 <= 0:
        raise ValueError("the cross-section must be positive")
    ohm = COPPER_OHM_M * (1 + COPPER_PER_K * (temperature_c - 20)) / (area_mm2 * 1e-6)
    return Wire(2 * math.sqrt(area_mm2 / math.pi), area_mm2, ohm)


def lead_ohm(conductor, one_way_m):
    """Resistance of both conductors of a lead, ohm: 2 x length x R'."""
    if one_way_m < 0:
        raise ValueError("the length must not be negative")
    return 2 * one_way_m * conductor.ohm_per_m


def drop_v(conductor, one_way_m, amps):
    """Voltage lost in both conductors of a lead, V."""
    return lead_ohm(conductor, one_way_m) * amps


def fuse_a(largest_steady_a, wire_limit_a):
    """Smallest blade fuse of at least 1.25 times the steady current that still protects the thinnest wire, A.

    None if no such fuse exists: the wire is too thin for the load. Common practice, no source; local codes and the
    makers' data decide.
    """
    if largest_steady_a <= 0 or wire_limit_a <= 0:
        raise ValueError("currents must be positive")
    for rating in BLADE_FUSES_A:
        if rating >= 1.25 * largest_steady_a:
            return rating if rating <= wire_limit_a else None
    return None
