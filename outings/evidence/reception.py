"""Reports of receivers compared: the same receiver within minutes, on one arrangement and on another.

A receiver's noise and antenna are the same in both reports of a pair, and so nearly is the path. What remains beside
the difference of the arrangements belongs to the direction (shared by pairs of one receiver) and to fading (shared by
pairs of one switch), so pairs are clustered both ways.
"""

import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass, field

from equipment.numerals import Numeral

from . import rates, shares

WITHIN_MIN = 10.0


@dataclass(frozen=True)
class Heard:
    """One report: with which arrangement, by whom, on which band, when (seconds), in which stint, how strongly (dB)."""

    arrangement: str
    receiver: str
    band: str
    at_s: float
    stint: str
    snr_db: float


@dataclass(frozen=True)
class Pair:
    """A report on one and a report on the other arrangement by the same receiver: difference first minus second, dB."""

    receiver: str
    switch: tuple
    difference_db: float


@dataclass(frozen=True)
class Row:
    """One arrangement against the reference: difference in dB with its interval, None where it cannot be told."""

    arrangement: str
    reports: int
    receivers: int
    mean_snr_db: float
    pairs: int = 0
    paired_receivers: int = 0
    switches: int = 0
    difference: float | None = None
    difference_low: float | None = None
    difference_high: float | None = None
    p_holm: float | None = None
    reason: str = ""


@dataclass(frozen=True)
class Reception:
    """Several arrangements against the one with most reports."""

    reference: str
    arrangements: tuple[Row, ...]
    within_min: float
    confidence: float
    verdict: str
    remarks: tuple[str, ...] = field(default=())


class NothingToCompare(ValueError):
    """There are not two arrangements with reports."""


def pairs(first, second, within_min=WITHIN_MIN):
    """Pairs of reports of the same receiver and band within minutes, the nearest in time first, each used once."""
    by = defaultdict(lambda: ([], []))
    for side, heard in enumerate((first, second)):
        for one in heard:
            by[one.receiver, one.band][side].append(one)
    found = []
    for (receiver, _), (mine, theirs) in sorted(by.items()):
        theirs.sort(key=lambda one: one.at_s)
        times, within_s = [one.at_s for one in theirs], 60 * within_min
        near = [
            (abs(one.at_s - times[j]), i, j) for i, one in enumerate(mine)
            for j in range(bisect_left(times, one.at_s - within_s), bisect_right(times, one.at_s + within_s))
        ]
        used, taken = set(), set()
        for _, i, j in sorted(near):
            if i not in used and j not in taken:
                used.add(i)
                taken.add(j)
                found.append(Pair(receiver, (mine[i].stint, theirs[j].stint), mine[i].snr_db - theirs[j].snr_db))
    return found


def mean_difference(found, confidence=0.95):
    """Mean of paired differences with an interval that allows for clusters of receivers and of switches.

    var = V(receivers) + V(switches) - V(both), no less than either; each the sum of squared sums of residuals over n²,
    times G/(G-1); t with one degree of freedom less than the smaller number of clusters.
    Returns (mean, low, high, p). ValueError with fewer than two receivers or two switches.
    Source: A. C. Cameron, J. B. Gelbach, D. L. Miller, J. Business & Economic Statistics 29 (2011) 238-249.
    """
    from scipy.special import stdtr, stdtrit

    rates.check_confidence(confidence)
    n = len(found)
    mean = math.fsum(pair.difference_db for pair in found) / n if n else 0.0
    kinds = [lambda pair: pair.receiver, lambda pair: pair.switch, lambda pair: (pair.receiver, pair.switch)]
    variances, counts = [], []
    for of in kinds:
        sums = defaultdict(float)
        for pair in found:
            sums[of(pair)] += pair.difference_db - mean
        counts.append(len(sums))
        if len(sums) < 2:
            raise ValueError("an interval needs two receivers and two switches")
        variances.append(math.fsum(one**2 for one in sums.values()) / n**2 * len(sums) / (len(sums) - 1))
    variance = max(variances[0] + variances[1] - variances[2], variances[0], variances[1])
    df = min(counts[:2]) - 1
    error = math.sqrt(variance)
    half = float(stdtrit(df, (1 + confidence) / 2)) * error
    p = 2 * float(stdtr(df, -abs(mean) / error)) if error else float(mean == 0)
    return mean, mean - half, mean + half, p


def compare(heard, *, within_min=WITHIN_MIN, confidence=0.95):
    """Compare arrangements by reports of the same receivers within minutes.

    heard: iterable of Heard at one power; normalise others with 10 log(P). Returns a Reception, rows by difference.
    NothingToCompare with fewer than two arrangements; ValueError for an SNR that is no number.
    """
    heard = list(heard)
    if not all(math.isfinite(one.snr_db) for one in heard):
        raise ValueError("an SNR must be a finite number")
    by = defaultdict(list)
    for one in heard:
        by[one.arrangement].append(one)
    if len(by) < 2:
        raise NothingToCompare(
            f"only {next(iter(by))} was reported: there is nothing to compare it with" if by else
            "no report lies in a stint with an arrangement"
        )
    reference = max(sorted(by), key=lambda name: len(by[name]))
    told = {name: told_of(pairs(by[name], by[reference], within_min), confidence) for name in by if name != reference}
    tested = [name for name in sorted(told) if told[name].p is not None]
    holm = dict(zip(tested, shares.holm([told[name].p for name in tested]), strict=True))
    rows = [row_of(name, mine, told.get(name), holm.get(name)) for name, mine in by.items()]
    rows.sort(key=lambda row: (row.difference is None, -(row.difference or 0), row.arrangement))
    return Reception(reference, tuple(rows), within_min, confidence, verdict(rows, reference, within_min, confidence))


@dataclass(frozen=True)
class Told:
    """What the pairs of one arrangement with the reference say."""

    pairs: int
    receivers: int
    switches: int
    value: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    reason: str = ""


def told_of(found, confidence):
    """A Told of pairs, with the reason where they say nothing."""
    receivers, switches = len({pair.receiver for pair in found}), len({pair.switch for pair in found})
    if not found:
        return Told(0, 0, 0, reason="no receiver reported both within minutes")
    if receivers < 2:
        return Told(len(found), receivers, switches, reason="only one receiver reported both: that is one direction")
    if switches < 2:
        return Told(
            len(found), receivers, switches, reason="only one switch between the two: the band may have changed instead"
        )
    return Told(len(found), receivers, switches, *mean_difference(found, confidence))


def row_of(name, heard, told, holm):
    """The row of an arrangement; of the reference where nothing is told of it."""
    mean = math.fsum(one.snr_db for one in heard) / len(heard)
    receivers = len({one.receiver for one in heard})
    if told is None:
        return Row(name, len(heard), receivers, mean, difference=0.0, difference_low=0.0, difference_high=0.0)
    return Row(name, len(heard), receivers, mean, told.pairs, told.receivers, told.switches, told.value, told.low,
               told.high, holm, told.reason)


def verdict(rows, reference, within_min, confidence):
    """The plain sentence."""
    told = [row for row in rows if row.arrangement != reference and row.difference is not None]
    if not told:
        others = "; ".join(f"{row.arrangement}: {row.reason}" for row in rows if row.reason)
        return f"These cannot be compared yet. {others[:1].upper()}{others[1:]}."
    claims = []
    for row in told:
        if row.p_holm < 1 - confidence:
            low, high = sorted((abs(row.difference_low), abs(row.difference_high)))
            way = "stronger" if row.difference > 0 else "weaker"
            far = f"{Numeral(abs(row.difference)):.1f} dB ({Numeral(low):.1f} to {Numeral(high):.1f})"
            claims.append(f"{row.arrangement} is heard {far} {way} than {reference} "
                          f"by the same receivers within {within_min:.0f} minutes")
    if claims:
        return f"{'; '.join(claims)}."
    names = ", ".join(row.arrangement for row in told)
    return f"The reports cannot tell {names} from {reference} yet; more switches and more receivers would."
