"""Distances and reports: medians and other quantiles with their intervals, shifts between samples, directions."""

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from dataclasses import dataclass

from . import rates


@dataclass(frozen=True)
class Quantile:
    """A quantile of a sample; `low`, `high` and `coverage` are None where the sample is too small for an interval."""

    n: int
    value: float
    low: float | None
    high: float | None
    coverage: float | None


@dataclass(frozen=True)
class Shift:
    """How far the first sample lies above the second, with its interval; `u` and `p` are of the Mann-Whitney test."""

    shift: float
    low: float | None
    high: float | None
    u: float
    p: float
    exact: bool


@dataclass(frozen=True)
class PairedDifference:
    """Mean of paired differences with its t interval."""

    n: int
    mean: float
    low: float
    high: float
    sd: float


@dataclass(frozen=True)
class Directions:
    """Where bearings point: their mean direction, None where they cancel out, and how much they spread.

    `concentration` is the length of the mean of unit vectors, 1 where all are equal and 0 where they cancel out;
    `spread_deg` the circular standard deviation, None where there is no direction left.
    """

    n: int
    mean_deg: float | None
    concentration: float
    spread_deg: float | None


def ranks_around(n, share=0.5, confidence=0.95):
    """The ranks, from 1, of the order statistics that enclose a quantile, and the coverage that they reach.

    With B binomial (n, share): low rank j is the largest with P(B ≤ j-1) ≤ α/2, high rank k the smallest with
    P(B ≤ k-1) ≥ 1-α/2; coverage P(j ≤ B ≤ k-1).
    Returns (j, k, coverage), or None where the sample is too small (fewer than 6 for the median at 95 %).
    Source: distribution-free interval of a quantile, H. A. David and H. N. Nagaraja, Order Statistics (2003), 7.1.
    """
    from scipy.special import bdtr, bdtrik

    rates.check_confidence(confidence)
    tail = (1 - confidence) / 2

    def chance(count):
        """P(B ≤ count)."""
        return float(bdtr(count, n, share)) if count >= 0 else 0.0

    if n < 1 or chance(0) > tail:
        return None
    low = max(1, math.floor(float(bdtrik(tail, n, share))) + 1)
    while chance(low) <= tail:
        low += 1
    while chance(low - 1) > tail:
        low -= 1
    high = max(1, math.ceil(float(bdtrik(1 - tail, n, share))) + 1)
    while chance(high - 2) >= 1 - tail:
        high -= 1
    while chance(high - 1) < 1 - tail:
        high += 1
    if low < 1 or high > n:
        return None
    return low, high, chance(high - 1) - chance(low - 1)


def value_at(ordered, share):
    """The quantile of an ordered sample, between neighbours in proportion (R's type 7; the usual median for ½)."""
    place = (len(ordered) - 1) * share
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)


def quantile(values, share=0.5, confidence=0.95, *, ordered=False):
    """A quantile of a sample with its order-statistic interval of at least the stated confidence.

    Parameters: `values`, any numbers, an array too; `share` 0.5 for the median, 0.9 for what the upper tenth exceeds;
    `ordered` says that they are sorted already.
    Returns a Quantile in the unit of the values.
    Raises ValueError for an empty sample.
    Validity: any continuous distribution; values that hang together (one burst, one pile-up) make it too narrow.
    Source: as `ranks_around`.
    """
    values = values if ordered else sorted(values)
    if not len(values):
        raise ValueError("There is no median of no values.")
    around = ranks_around(len(values), share, confidence)
    middle = float(value_at(values, share))
    if around is None:
        return Quantile(len(values), middle, None, None, None)
    low, high, coverage = around
    return Quantile(len(values), middle, float(values[low - 1]), float(values[high - 1]), coverage)


def bootstrap_median(values, *, seed=0, resamples=20_000, confidence=0.95):
    """Percentile bootstrap interval of a median, (low, high): a second opinion on `quantile`, and too short for few.

    Raises ValueError for an empty sample. Source: B. Efron, Annals of Statistics 7 (1979) 1-26.
    """
    import numpy

    sample = numpy.asarray(list(values), dtype=float)
    if not len(sample):
        raise ValueError("There is no median of no values.")
    draws = numpy.random.default_rng(seed).integers(0, len(sample), (resamples, len(sample)))
    medians = numpy.median(sample[draws], axis=1)
    tail = (1 - confidence) / 2
    return tuple(float(end) for end in numpy.quantile(medians, (tail, 1 - tail)))


def u_counts(m, n):
    """How many orderings of two samples without ties give each value of U, from 0 to mn.

    Recurrence f(m, n, u) = f(m-1, n, u-n) + f(m, n-1, u), by the generating function of restricted partitions.
    Source: H. B. Mann and D. R. Whitney, Annals of Mathematical Statistics 18 (1947) 50-60.
    """
    top = m * n
    counts = [1] + [0] * top
    for i in range(1, m + 1):
        for u in range(top, n + i - 1, -1):  # times 1 - x^(n+i)
            counts[u] -= counts[u - n - i]
        for u in range(i, top + 1):  # divided by 1 - x^i
            counts[u] += counts[u - i]
    return counts


def nth_difference(xs, ys, rank):
    """The difference x - y of this rank, from 1, among all of them; two ordered samples; without listing all pairs."""
    low, high = xs[0] - ys[-1], xs[-1] - ys[0]

    def at_most(limit):
        return sum(len(ys) - bisect_left(ys, x - limit) for x in xs)

    if at_most(low) >= rank:
        return low
    while True:
        middle = low + (high - low) / 2
        if middle in (low, high):
            break
        if at_most(middle) >= rank:
            high = middle
        else:
            low = middle
    return high


def shift(first, second, confidence=0.95):
    """How far the first sample lies above the second: Hodges-Lehmann estimate with the Mann-Whitney interval.

    The median of all pairwise differences; the interval runs from the k-th smallest to the k-th largest of them.
    Parameters: two samples of any size from 1 in the same unit.
    Returns a Shift; `low` and `high` are None where the samples are too small for the confidence. Samples below 50
    without ties get the exact distribution of U, others its normal approximation with correction for ties (`exact`).
    Raises ValueError for an empty sample.
    Validity: two distributions of the same shape; nothing is held fixed, so band and hour are mixed in.
    Source: J. L. Hodges and E. L. Lehmann, Annals of Mathematical Statistics 34 (1963) 598-611; as R's wilcox.test.
    """
    from scipy.special import ndtr, ndtri

    rates.check_confidence(confidence)
    xs, ys = sorted(first), sorted(second)
    if not xs or not ys:
        raise ValueError("Two samples are compared; one is empty.")
    m, n = len(xs), len(ys)
    pairs, tail = m * n, (1 - confidence) / 2
    u = sum((bisect_left(ys, x) + bisect_right(ys, x)) / 2 for x in xs)
    sizes = Counter([*xs, *ys]).values()
    exact = max(m, n) < 50 and max(sizes) == 1
    if exact:
        counts = u_counts(m, n)
        total = sum(counts)
        below = sum(counts[: math.floor(u) + 1]) / total
        above = sum(counts[math.ceil(u):]) / total
        p = min(1.0, 2 * min(below, above))
        rank, reached = 0, counts[0]
        while reached <= tail * total:
            rank += 1
            reached += counts[rank]
    else:
        correction = sum(size**3 - size for size in sizes) / ((m + n) * (m + n - 1))
        sigma = math.sqrt(pairs / 12 * (m + n + 1 - correction))
        away = max(0.0, abs(u - pairs / 2) - 0.5)
        p = min(1.0, 2 * float(ndtr(-away / sigma))) if sigma else 1.0
        rank = max(0, math.floor(pairs / 2 + float(ndtri(tail)) * sigma))
    middle = (pairs + 1) // 2
    estimate = nth_difference(xs, ys, middle)
    if pairs % 2 == 0:
        estimate = (estimate + nth_difference(xs, ys, middle + 1)) / 2
    if rank == 0:
        return Shift(estimate, None, None, u, p, exact)
    low, high = nth_difference(xs, ys, rank), nth_difference(xs, ys, pairs - rank + 1)
    return Shift(estimate, low, high, u, p, exact)


def paired_difference(differences, confidence=0.95):
    """Mean of paired differences with its t interval: the same station on two antennas within minutes.

    mean ± t(n-1) · s/√n.
    Parameters: `differences`, reports on the first minus reports on the second antenna, in dB.
    Raises ValueError for fewer than two pairs.
    Validity: whole S units or rounded dB limit the resolution.
    Source: Student, Biometrika 6 (1908) 1-25.
    """
    from scipy.special import stdtrit

    rates.check_confidence(confidence)
    differences = list(differences)
    n = len(differences)
    if n < 2:
        raise ValueError("An interval of paired differences needs two pairs.")
    mean = sum(differences) / n
    sd = math.sqrt(sum((difference - mean) ** 2 for difference in differences) / (n - 1))
    half = float(stdtrit(n - 1, (1 + confidence) / 2)) * sd / math.sqrt(n)
    return PairedDifference(n, mean, mean - half, mean + half, sd)


def directions(bearings_deg):
    """Mean direction and spread of bearings.

    With C and S the means of cosines and sines: direction atan2(S, C), concentration R = √(C²+S²), circular standard
    deviation √(-2 ln R).
    Raises ValueError for no bearings. Source: K. V. Mardia and P. E. Jupp, Directional Statistics (2000), 2.2-2.3.
    """
    angles = [math.radians(bearing) for bearing in bearings_deg]
    if not angles:
        raise ValueError("There is no direction of no bearings.")
    return mean_direction(len(angles), sum(map(math.cos, angles)), sum(map(math.sin, angles)))


def mean_direction(n, cosines, sines):
    """Directions from the sums of cosines and sines of n bearings; as `directions`."""
    concentration = min(1.0, math.hypot(cosines, sines) / n)
    if concentration < 1e-9:
        return Directions(n, None, 0.0, None)
    return Directions(
        n, math.degrees(math.atan2(sines, cosines)) % 360, concentration,
        math.degrees(math.sqrt(-2 * math.log(concentration))),
    )
