"""Packs: state of charge, energy, run time, capacity from a log, internal resistance, voltage under load."""

import math
from dataclasses import dataclass
from itertools import pairwise

from equipment.numerals import Numeral

from . import cell_curves

HOUR_S = 3600.0

# Share of the capacity that may be used. Common practice, no source.
USABLE_SHARE = {"LiFePO4": (0.9, 1.0), "Li-ion": (0.8, 0.9), "NiMH": (0.8, 0.9), "lead-acid": (0.5, 0.5)}

# Share of the capacity left in the cold, at 20, 0 and -20 °C: typical data sheets, from memory.
COLD_IRON_PHOSPHATE = ((-20.0, 0.60, 0.70), (0.0, 0.75, 0.85), (20.0, 1.0, 1.0))
COLD_LEAD_ACID_A_K = 0.01  # lost for each degree below 25 °C; from memory

# Share of transmit time at full current. Power duty factors of OET Bulletin 65 Supplement B for voice, Morse and
# carrier modes; the spread for voice is common practice.
KEY_DOWN_SHARE = {"voice SSB": (0.2, 0.5), "Morse": (0.4, 0.5), "FM": (1.0, 1.0), "digital": (1.0, 1.0)}

# A digital mode of 15-second slots sends 79 symbols of 0.16 s in every second slot (published protocol description).
SLOTTED_DIGITAL_SHARE = 79 * 0.16 / 30


@dataclass(frozen=True)
class ChargeRange:
    """A state of charge as it may honestly be told: percent, with where each end comes from."""

    low_pct: float
    middle_pct: float
    high_pct: float
    curves: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def charge_range(curve, pack_v, cells, half_width_v):
    """State of charge from one curve for a resting voltage known to ± half_width_v (pack volts), percent."""
    return tuple(
        100 * curve.charge(volts / cells) for volts in (pack_v - half_width_v, pack_v, pack_v + half_width_v)
    )


def state_of_charge(chemistry, cells, rested_v, half_width_v=None, temperature_c=None, rested_h=None):
    """Tell the state of charge from the resting voltage as a range.

    chemistry: "LiFePO4", "Li-ion" or "lead-acid"; cells in series; rested_v: pack volts without load; half_width_v:
    how well the voltage is known, in pack volts (default 15 mV a cell for lithium: meter, hysteresis and rest).
    Returns a ChargeRange. ValueError where voltage says nothing (NiMH, other chemistries), cells is not positive, or
    the voltage cannot belong to such a pack.

    LiFePO4: both the published cell model and the customary trade table, the wider of the two. Li-ion (NMC): model
    ± 10 points, since published cells of the family differ by up to 14. Lead-acid: table ± 10 points.
    Source: cell_curves; ranges and rules of thumb are common practice.
    """
    if cells < 1:
        raise ValueError("the number of cells in series must be at least 1")
    warnings = []
    if temperature_c is not None and temperature_c < 10:
        warnings.append("Voltage tables are for 20 to 25 °C; in the cold a pack gives less than its voltage promises.")
    if rested_h is None:
        warnings.append("Only a pack that has rested tells its charge; how long this one has is not known.")
    elif rested_h < (8 if chemistry == "lead-acid" else 2):
        warnings.append("Not rested long enough: the voltage still shows the last load or charge.")
    per_cell = rested_v / cells
    limits = {"LiFePO4": (1.5, 3.8), "Li-ion": (2.0, 4.4), "lead-acid": (1.5, 2.5)}.get(chemistry)
    if limits is None:
        raise ValueError(f"the resting voltage of a {chemistry} pack does not tell its state of charge")
    if not limits[0] <= per_cell <= limits[1]:
        raise ValueError(
            f"{Numeral(rested_v):g} V is {Numeral(per_cell):.2f} V a cell: no resting voltage of {cells} {chemistry} "
            "cells in series"
        )
    if chemistry == "LiFePO4":
        half = 0.015 * cells if half_width_v is None else half_width_v
        model = charge_range(cell_curves.IRON_PHOSPHATE, rested_v, cells, half)
        trade = charge_range(cell_curves.IRON_PHOSPHATE_CUSTOMARY, rested_v, cells, half)
        if abs(model[1] - trade[1]) > 15:
            warnings.append(
                f"Two published curves disagree here: {trade[1]:.0f} % and {model[1]:.0f} %. "
                "Count ampere-hours from the last full charge for anything better."
            )
        curves = (cell_curves.IRON_PHOSPHATE.name, cell_curves.IRON_PHOSPHATE_CUSTOMARY.name)
        low, high = min(model[0], trade[0]), max(model[2], trade[2])
        return ChargeRange(low, (model[1] + trade[1]) / 2, high, curves, tuple(warnings))
    curve = cell_curves.NMC if chemistry == "Li-ion" else cell_curves.AGM
    half = (0.01 * cells if chemistry == "Li-ion" else 0.0) if half_width_v is None else half_width_v
    low, middle, high = charge_range(curve, rested_v, cells, half)
    return ChargeRange(max(0.0, low - 10), middle, min(100.0, high + 10), (curve.name,), tuple(warnings))


def charge_left_at(chemistry, cells, resting_v):
    """Share of the charge still in a pack when its resting voltage has fallen so far: (low, high), 0 to 1.

    LiFePO4 by both curves; Li-ion and lead-acid by theirs, ± 0.1. None where voltage says nothing. What a load that
    needs a voltage cannot take out: resting_v = its minimum + current x resistance. Source: cell_curves.
    """
    if chemistry == "LiFePO4":
        curves, spread = (cell_curves.IRON_PHOSPHATE, cell_curves.IRON_PHOSPHATE_CUSTOMARY), 0.0
    elif chemistry in cell_curves.RESTING:
        curves, spread = (cell_curves.RESTING[chemistry],), 0.1
    else:
        return None
    shares = [curve.charge(resting_v / cells) for curve in curves]
    low = max(0.0, min(shares) - spread) if min(shares) < 1 else 1.0
    return low, min(1.0, max(shares) + spread) if max(shares) > 0 else 0.0


def charge_after(capacity_ah, used_ah, share_error=0.05):
    """State of charge by counting since the last full charge: percent (low, middle, high).

    capacity_ah: measured capacity; used_ah: ampere-hours taken out since full; share_error: relative error of the
    count and of the capacity together. ValueError unless capacity_ah > 0 and used_ah >= 0.
    """
    if capacity_ah <= 0 or used_ah < 0:
        raise ValueError("capacity must be positive and the charge used not negative")
    used = used_ah / capacity_ah
    return tuple(100 * min(1.0, max(0.0, 1 - used * factor)) for factor in (1 + share_error, 1.0, 1 - share_error))


def cold_share(chemistry, temperature_c):
    """Share of the capacity that a pack gives at a temperature: (low, high); None where no figure is known.

    LiFePO4: about 80 % at 0 °C and 60 to 70 % at -20 °C, straight lines between; lead-acid: 1 % less for each degree
    below 25 °C. Source: typical data sheets, from memory. ValueError below -20 °C.
    """
    if temperature_c < -20:
        raise ValueError("below -20 °C nothing is known of how much a pack still gives")
    if chemistry == "lead-acid":
        share = 1 - COLD_LEAD_ACID_A_K * max(0.0, 25 - temperature_c)
        return share, share
    if temperature_c >= 20:
        return 1.0, 1.0
    if chemistry != "LiFePO4":
        return None
    (t0, low0, high0), (t1, low1, high1) = next(
        pair for pair in pairwise(COLD_IRON_PHOSPHATE) if temperature_c <= pair[1][0]
    )
    part = (temperature_c - t0) / (t1 - t0)
    return low0 + (low1 - low0) * part, high0 + (high1 - high0) * part


def average_current_a(receive_a, transmit_a, transmit_share, key_down_share):
    """Average supply current, A: f [k Itx + (1 - k) Irx] + (1 - f) Irx.

    transmit_share f: share of the time spent in transmit; key_down_share k: share of that at full current; both 0 to
    1, else ValueError. Closed form.
    """
    for name, share in (("transmit share", transmit_share), ("key-down share", key_down_share)):
        if not 0 <= share <= 1:
            raise ValueError(f"the {name} must lie between 0 and 1, not {Numeral(share)}")
    if receive_a < 0 or transmit_a < 0:
        raise ValueError("a current must not be negative")
    talking = key_down_share * transmit_a + (1 - key_down_share) * receive_a
    return transmit_share * talking + (1 - transmit_share) * receive_a


def runtime_h(capacity_ah, usable_share, average_a):
    """Hours that a pack lasts: C u / I. ValueError unless the current and the capacity are positive."""
    if average_a <= 0 or capacity_ah <= 0:
        raise ValueError("capacity and average current must be positive")
    if not 0 < usable_share <= 1:
        raise ValueError(f"the usable share must lie between 0 and 1, not {usable_share}")
    return capacity_ah * usable_share / average_a


def energy_wh(capacity_ah, nominal_v, usable_share=1.0):
    """Energy of a pack, Wh: C V u."""
    return capacity_ah * nominal_v * usable_share


def peukert_h(rated_ah, rated_hours, exponent, amps):
    """Discharge time of a lead-acid battery, h: H (C / (I H))^n.

    Lead-acid only: lithium loses capacity at high current by its cut-off voltage, which this does not describe. Below
    the rated current the formula promises more than the rated capacity: see `peukert_ah`, which is capped.
    Source: W. Peukert, Elektrotechnische Zeitschrift 20 (1897). ValueError unless all are positive and exponent >= 1.
    """
    if min(rated_ah, rated_hours, amps) <= 0 or exponent < 1:
        raise ValueError("capacity, hours and current must be positive and the exponent at least 1")
    return rated_hours * (rated_ah / (amps * rated_hours)) ** exponent


def peukert_ah(rated_ah, rated_hours, exponent, amps):
    """Ampere-hours that a lead-acid battery gives at a current, never more than the rated capacity."""
    return min(rated_ah, amps * peukert_h(rated_ah, rated_hours, exponent, amps))


@dataclass(frozen=True)
class CapacityTest:
    """What a discharge log shows: charge and energy down to the cut-off, and how complete the log is."""

    ah: float
    wh: float
    seconds: float
    reached_cutoff: bool
    longest_gap_share: float  # longest time between two readings, as a share of the test


def capacity_test(seconds, volts, amps, cutoff_v):
    """Charge and energy of a discharge log by trapezoids over its own time stamps, stopped at the cut-off voltage.

    seconds, volts, amps: sequences of equal length n >= 2, times rising, discharge current positive. The end is
    interpolated between the last reading above and the first at or below cutoff_v; a log that never gets there gives
    `reached_cutoff` False and the sum so far. ValueError for unequal lengths, too few readings, times that do not
    rise, or a start at or below the cut-off. Definition; checked against scipy's trapezoid.
    """
    if not len(seconds) == len(volts) == len(amps):
        raise ValueError("times, voltages and currents must be equally many")
    if len(seconds) < 2:
        raise ValueError("a discharge log needs at least two readings")
    if volts[0] <= cutoff_v:
        raise ValueError("the log begins at or below the cut-off voltage")
    charge = energy = gap = 0.0
    end = seconds[0]
    reached = False
    for j in range(1, len(seconds)):
        step = seconds[j] - seconds[j - 1]
        if step <= 0:
            raise ValueError(f"the times must rise; reading {j + 1} does not")
        v0, i0, v1, i1 = volts[j - 1], amps[j - 1], volts[j], amps[j]
        if v1 <= cutoff_v:
            share = (v0 - cutoff_v) / (v0 - v1)
            i1, v1, step = i0 + (i1 - i0) * share, cutoff_v, step * share
            reached = True
        charge += step * (i0 + i1) / 2
        energy += step * (v0 * i0 + v1 * i1) / 2
        end += step
        gap = max(gap, step)
        if reached:
            break
    total = end - seconds[0]
    return CapacityTest(charge / HOUR_S, energy / HOUR_S, total, reached, gap / total if total else 1.0)


def resistance_from_step(v_light, i_light, v_heavy, i_heavy, sd_v=0.0, sd_i=0.0):
    """Internal resistance and its standard error, ohm, from one load step: R = (V0 - V1)/(I1 - I0).

    sd_v, sd_i: standard deviations of the meters. ValueError unless the heavier load draws more and sags more.
    First-order error propagation; the resistance includes leads, fuse and connectors.
    """
    drop, rise = v_light - v_heavy, i_heavy - i_light
    if rise <= 0:
        raise ValueError("the second current must be larger than the first")
    if drop <= 0:
        raise ValueError("the voltage must fall when the load is heavier")
    ohm = drop / rise
    return ohm, ohm * math.sqrt(2 * (sd_v / drop) ** 2 + 2 * (sd_i / rise) ** 2)


def resistance_from_points(amps, volts):
    """Open-circuit voltage V, resistance ohm and its standard error from several load points by least squares.

    The standard error is None for two points. ValueError for fewer than two different currents.
    """
    n = len(amps)
    if n != len(volts):
        raise ValueError("currents and voltages must be equally many")
    if len(set(amps)) < 2:
        raise ValueError("at least two different currents are needed")
    mean_i, mean_v = math.fsum(amps) / n, math.fsum(volts) / n
    spread = math.fsum((i - mean_i) ** 2 for i in amps)
    slope = math.fsum((i - mean_i) * (v - mean_v) for i, v in zip(amps, volts, strict=True)) / spread
    intercept = mean_v - slope * mean_i
    error = None
    if n > 2:
        rest = math.fsum((v - intercept - slope * i) ** 2 for i, v in zip(amps, volts, strict=True))
        error = math.sqrt(rest / (n - 2) / spread)
    return intercept, -slope, error


def terminal_v(open_v, ohm, amps):
    """Terminal voltage at a current, V: E - I R."""
    return open_v - ohm * amps


def largest_current_a(open_v, ohm, minimum_v):
    """Largest current that keeps the minimum voltage, A: (E - Vmin)/R; zero if even no load is too low."""
    if ohm <= 0:
        raise ValueError("the resistance must be positive")
    return max(0.0, (open_v - minimum_v) / ohm)


def constant_power_load(open_v, ohm, watts):
    """Terminal volts and amperes of a constant-power load, None if the pack cannot deliver it.

    V = [E + sqrt(E^2 - 4 P R)]/2; none if E^2 < 4 P R. Closed form.
    """
    under_root = open_v**2 - 4 * watts * ohm
    if under_root < 0:
        return None
    volts = (open_v + math.sqrt(under_root)) / 2
    return volts, watts / volts
