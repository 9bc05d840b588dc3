"""How far arrangements reach, with like held to like: shift of the distances, upper tenth, share beyond a distance.

All three compare contacts within blocks that both arrangements share (outing, band, mode and, where enough remains, the
hour block), with stints as clusters; see `strata`. Distances are great-circle kilometres of contacts with a position.
"""

import math
from dataclasses import replace

from . import distances, strata

UPPER = 0.9


def compare_distances(samples, *, confidence=0.95):
    """Shift of the distances within blocks: the stratified Hodges-Lehmann estimate.

    The shift at which the ranks of van Elteren balance, a median of the pairwise differences within blocks weighted by
    1/(m+n+1); its interval are the shifts that the rank test with stints as clusters does not refute.
    Parameters: `samples`, an iterable of `strata.Sample` in km. Returns a `strata.Judgement` in km.
    Raises NothingToCompare with fewer than two arrangements, ValueError for values that are no numbers.
    Source: J. L. Hodges and E. L. Lehmann, Annals of Mathematical Statistics 34 (1963) 598-611; weights P. van Elteren
    (1960); variance with clusters in `strata`.
    """
    return strata.judge(
        samples, "distance", "km", _own_quantile(0.5, confidence), lambda found: _shift(found, confidence),
        lambda row, reference: (
            f"{row.arrangement} reaches {_km(abs(row.difference))} {'farther' if row.difference > 0 else 'less far'} "
            f"than {reference} (between {_km(row.difference_low)} and {_km(row.difference_high)})"
        ), confidence,
    )


def compare_upper_tenth(samples, *, confidence=0.95):
    """Difference of the distances that a tenth of the contacts exceeds, both weighted to the same mix of blocks.

    Each contact weighs mn/(m+n) of its block over the arrangement's contacts there; each quantile has the interval of a
    share (R. S. Woodruff, J. Am. Stat. Assoc. 47 (1952) 635-646) at the effective number of contacts, and the difference
    that of G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008) 1693-1702, from the two.
    As `compare_distances`. None where an arrangement has too few contacts in common blocks: 35 independent ones at 95 %.
    """
    return strata.judge(
        samples, "upper tenth of the distances", "km", _own_quantile(UPPER, confidence),
        lambda found: _upper_tenth(found, confidence),
        lambda row, reference: (
            f"the farthest tenth of {row.arrangement} begins {_km(abs(row.difference))} "
            f"{'farther out' if row.difference > 0 else 'nearer'} than that of {reference}"
        ), confidence,
    )


def compare_beyond(samples, limit_km, *, confidence=0.95):
    """Difference of the shares of contacts beyond a distance, within blocks.

    The risk difference of Mantel and Haenszel with stints as clusters (`strata.mean_told`). Parameters: `limit_km`; the
    rest as `compare_distances`. Returns a Judgement whose values are shares from 0 to 1.
    """
    if not (limit_km > 0 and math.isfinite(limit_km)):
        raise ValueError(f"a distance is positive, not {limit_km}")

    def told(found):
        few = strata.too_few(found)
        if few:
            return few
        beyond = (found.values > limit_km).astype(float)
        if beyond.sum() < 3 or (1 - beyond).sum() < 3:
            return strata.Told(reason=f"nearly all or nearly no contacts in common lie beyond {limit_km:.0f} km")
        one = strata.mean_told(found, beyond, confidence)
        return replace(one, low=max(-1.0, one.low), high=min(1.0, one.high)) if one.p is not None else one

    return strata.judge(
        samples, f"share beyond {limit_km:.0f} km", "", lambda values, effect: _own_share(values, limit_km, effect, confidence),
        told, lambda row, reference: (
            f"{row.arrangement} puts {100 * abs(row.difference):.0f} % {'more' if row.difference > 0 else 'fewer'} of its "
            f"contacts beyond {limit_km:.0f} km than {reference}"
        ), confidence,
    )


def _km(distance_km):
    return "an unknown distance" if distance_km is None else f"{distance_km:.0f} km"


def _own_quantile(share, confidence):
    """An arrangement's own quantile, its order statistics taken at the effective number of contacts."""

    def own(values, effect):
        ordered = sorted(values)
        value = distances.value_at(ordered, share)
        n = len(ordered) / max(1.0, effect)
        around = distances.ranks_around(int(n), share, confidence)
        if around is None:
            return value, None, None
        ends = [distances.value_at(ordered, min(1.0, max(0.0, (rank - 0.5) / int(n)))) for rank in around[:2]]
        return value, min(ends[0], value), max(ends[1], value)

    return own


def _own_share(values, limit_km, effect, confidence):
    """The share of the values beyond a limit with Wilson's interval at the effective number."""
    from scipy.special import ndtri

    n = len(values) / max(1.0, effect)
    share = sum(value > limit_km for value in values) / len(values)
    z2 = float(ndtri((1 + confidence) / 2)) ** 2
    half = math.sqrt(z2 * (share * (1 - share) / n + z2 / (4 * n * n)))
    return share, max(0.0, (share + z2 / (2 * n) - half) / (1 + z2 / n)), min(1.0, (share + z2 / (2 * n) + half) / (1 + z2 / n))


def _shift(found, confidence):
    """The stratified Hodges-Lehmann shift of a contrast."""
    from scipy.special import stdtr, stdtrit

    few = strata.too_few(found)
    if few:
        return few
    span = float(found.values.max() - found.values.min()) + 1.0
    value = (_crossing(found, 0.0, span, above=True) + _crossing(found, 0.0, span, above=False)) / 2
    variance, df, rho = found.spread(found.ranked(value))
    if variance <= 0:
        return strata.Told(reason="all distances in common are the same", correlation=rho)
    bound = float(stdtrit(df, (1 + confidence) / 2)) * math.sqrt(variance)
    most = float(found.statistic(-span)), float(found.statistic(span))
    low = _crossing(found, bound, span, above=True) if most[0] > bound else None
    high = _crossing(found, -bound, span, above=False) if most[1] < -bound else None
    p = 2 * float(stdtr(df, -abs(found.statistic(0.0)) / math.sqrt(variance)))
    if low is None or high is None:
        return strata.Told(reason="too few contacts on the same band and day for an interval", correlation=rho)
    error = (high - low) / 2 / float(stdtrit(df, (1 + confidence) / 2))
    return strata.Told(value, low, high, p, max(error, 1e-9), len(found.values), rho)


def _crossing(found, level, span, *, above):
    """Where the falling statistic leaves `level`: the last shift with more than it, or the first with less."""
    low, high = -span, span
    while high - low > 1e-4:
        middle = (low + high) / 2
        at = found.statistic(middle) - level
        if at > 1e-9 or (not above and at > -1e-9):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _upper_tenth(found, confidence):
    """Difference of the standardised upper tenths of a contrast."""
    import numpy as np
    from scipy.special import ndtr

    few = strata.too_few(found)
    if few:
        return few
    variance, _, rho = found.spread(found.ranked(0.0))
    m, both = found.sizes
    share = m * (both - m) / both
    ends = []
    for side, counts in ((True, m), (False, both - m)):
        mine = found.first == side
        weight = (share / counts)[found.block[mine]]
        weight = weight / weight.sum()
        clustered = (np.bincount(found.cluster[mine], weight) ** 2).sum()
        n = 1 / float((1 - rho) * (weight**2).sum() + rho * clustered)
        around = distances.ranks_around(int(n), UPPER, confidence)
        if around is None:
            return strata.Told(reason="too few contacts in common for an upper tenth (about 35 of each are needed)")
        values = found.values[mine]
        ends.append([_weighted_quantile(values, weight, p) for p in
                     (UPPER, (around[0] - 0.5) / int(n), (around[1] - 0.5) / int(n))])
    (a, a_low, a_high), (b, b_low, b_high) = ends
    value = a - b
    low = value - math.hypot(a - a_low, b_high - b)
    high = value + math.hypot(a_high - a, b - b_low)
    z = distances_z(confidence)
    error = max((value - low if value > 0 else high - value) / z, 1e-9)
    return strata.Told(value, low, high, 2 * float(ndtr(-abs(value) / error)), error, len(found.values), rho)


def distances_z(confidence):
    """Standard normal quantile of a two-sided interval."""
    from scipy.special import ndtri

    return float(ndtri((1 + confidence) / 2))


def _weighted_quantile(values, weights, share):
    """The quantile of a weighted sample, midpoints of the steps joined by lines."""
    import numpy as np

    order = np.argsort(values, kind="stable")
    place = np.cumsum(weights[order]) - weights[order] / 2
    return float(np.interp(share, place, values[order]))
