"""What a log of a pack shows: capacity down to the cut-off, a charge, and internal resistance from load steps."""

from dataclasses import dataclass
from statistics import median, stdev

from . import battery

HOUR_S = 3600.0
FULL_SHARE = 1 / 20  # of the capacity per hour: a smaller current at the charger's limit means full; common practice
LEAST_STEP_A = 0.2
LEAST_STEP_SHARE = 0.15  # of the largest current; smaller steps drown in the meter
LONGEST_STEP_S = 60.0
STEADY_SHARE = 0.2  # of the step, that the current may move before and after it


@dataclass(frozen=True)
class Resistance:
    """Internal resistance from n load steps; the standard error is None below three."""

    ohm: float
    error_ohm: float | None
    steps: int
    within_s: float  # time between the two readings of a step: the longer, the more slow polarisation is in it


@dataclass(frozen=True)
class ChargeLog:
    """What a charge put in, and whether it ended full."""

    ah: float
    wh: float
    seconds: float
    end_v: float
    end_a: float
    longest_gap_share: float


def positive(amps):
    """The currents with their sign turned if on the whole they are negative."""
    return tuple(-i for i in amps) if sum(amps) < 0 else tuple(amps)


def discharge(seconds, volts, amps, cutoff_v):
    """A battery.CapacityTest; currents may be written with either sign, what flows back counts against."""
    return battery.capacity_test(seconds, volts, positive(amps), cutoff_v)


def charge(seconds, volts, amps):
    """Charge and energy put in, by trapezoids over the log's own times. ValueError for fewer than two readings."""
    if len(seconds) < 2:
        raise ValueError("a log of a charge needs at least two readings")
    amps = positive(amps)
    ah = wh = gap = 0.0
    for j in range(1, len(seconds)):
        step = seconds[j] - seconds[j - 1]
        ah += step * (amps[j - 1] + amps[j]) / 2
        wh += step * (volts[j - 1] * amps[j - 1] + volts[j] * amps[j]) / 2
        gap = max(gap, step)
    total = seconds[-1] - seconds[0]
    return ChargeLog(ah / HOUR_S, wh / HOUR_S, total, volts[-1], amps[-1], gap / total)


def ends_full(log, capacity_ah, limit_v=None):
    """Whether a charge ended at a current below a twentieth of the capacity, at its limit where that is known."""
    at_limit = limit_v is None or log.end_v >= 0.98 * limit_v
    return at_limit and 0 <= log.end_a <= capacity_ah * FULL_SHARE


def resistance(seconds, volts, amps, charging=False):
    """Internal resistance from the load steps of a log, or None where there is no usable step.

    A step is a change of current of at least 0.2 A and 15 % of the largest, between two readings at most a minute
    apart, steady before and after; the voltage must answer. The middle one of all steps counts. Leads and connectors
    between pack and logger are in it. Source: definition (battery.resistance_from_step).
    """
    amps = positive(amps)
    least = max(LEAST_STEP_A, LEAST_STEP_SHARE * max(map(abs, amps)))
    found, within = [], []
    for j in range(1, len(amps)):
        step = amps[j] - amps[j - 1]
        if abs(step) < least or seconds[j] - seconds[j - 1] > LONGEST_STEP_S or not _steady(amps, j, abs(step)):
            continue
        light, heavy = (j - 1, j) if step > 0 else (j, j - 1)
        drop = volts[light] - volts[heavy]
        ohm = (-drop if charging else drop) / (amps[heavy] - amps[light])
        if ohm > 0:
            found.append(ohm)
            within.append(seconds[j] - seconds[j - 1])
    if not found:
        return None
    error = stdev(found) / len(found) ** 0.5 if len(found) > 2 else None
    return Resistance(median(found), error, len(found), median(within))


def _steady(amps, j, step):
    before = j < 2 or abs(amps[j - 1] - amps[j - 2]) <= STEADY_SHARE * step
    after = j + 1 >= len(amps) or abs(amps[j + 1] - amps[j]) <= STEADY_SHARE * step
    return before and after


def thinned(seconds, volts, amps, most=300):
    """At most some 2 x `most` moments that keep the shape: of each stretch the lowest and the highest voltage."""
    count = len(seconds)
    if count <= 2 * most:
        return list(zip(seconds, volts, amps or [None] * count, strict=True))
    kept = {0, count - 1}
    for part in range(most):
        stretch = range(part * count // most, (part + 1) * count // most)
        kept |= {min(stretch, key=volts.__getitem__), max(stretch, key=volts.__getitem__)}
    return [(seconds[i], volts[i], amps[i] if amps else None) for i in sorted(kept)]
