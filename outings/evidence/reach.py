"""How far arrangements reach, with like held to like: shift of the distances, upper tenth, share beyond a distance.

All three compare contacts within blocks that both arrangements share (outing, band, mode and, where enough remains, the
hour block), with stints as clusters; see `strata`. Distances are great-circle kilometres of contacts with a position.
"""

import math
from dataclasses import dataclass, replace

from . import distances, strata


@dataclass(frozen=True)
class Upper:
    """An upper part of the distances: its name, where it begins, and the usual correlation of being in it within a
    stint, chosen by simulation."""

    name: str
    share: float
    correlation: float


TENTH, QUARTER = Upper("tenth", 0.9, 0.2), Upper("quarter", 0.75, 0.15)


def compare_distances(samples, *, unit="km", confidence=0.95, also_held=()):
    """Shift of the distances within blocks: the stratified Hodges-Lehmann estimate.

    The shift at which the ranks of van Elteren balance, a median of the pairwise differences within blocks weighted by
    1/(m+n+1); its interval are the shifts that the rank test with stints as clusters does not refute.
    Parameters: `samples`, an iterable of `strata.Sample` in km or in `unit`. Returns a `strata.Judgement` in it.
    Raises NothingToCompare with fewer than two arrangements, ValueError for values that are no numbers.
    Source: J. L. Hodges and E. L. Lehmann, Annals of Mathematical Statistics 34 (1963) 598-611; weights P. van Elteren
    (1960); variance with clusters in `strata`.
    """
    return strata.judge(
        samples, "distance", unit, _own_quantile(0.5, confidence), lambda found: _shift(found, confidence),
        lambda row, reference: (
            f"{row.arrangement} reaches {_far(row, unit)} {'farther' if row.difference > 0 else 'less far'} "
            f"than {reference}, on average"
        ), confidence, also_held,
    )


def compare_upper_tenth(samples, *, unit="km", confidence=0.95, also_held=()):
    """Shift of the upper tenth of the distances; of the upper quarter where contacts are too few to tell any tenth.

    Raises and parameters as `compare_distances`. The tenth needs about 50 contacts in common blocks, the quarter 20;
    `remarks` say which it is.
    """
    samples = tuple(samples)
    tenth = _compare_upper(samples, TENTH, unit, confidence, also_held)
    if _tells(tenth):
        return tenth
    quarter = _compare_upper(samples, QUARTER, unit, confidence, also_held)
    if not _tells(quarter):
        return tenth
    said = ("contacts on the same band and day are too few to tell the upper tenth: it is the upper quarter that is "
            "shown and compared, where the farthest quarter begins")
    return replace(quarter, remarks=(said, *quarter.remarks))


def _tells(found):
    return any(row.difference is not None for row in found.arrangements if row.arrangement != found.reference)


def _compare_upper(samples, part, unit, confidence, also_held):
    """Shift of an upper part of the distances: what evens out how many of each are among the farthest of both.

    Scores 1 beyond the quantile of all contacts in common blocks after the shift, 0 else, centred in their blocks;
    the interval are the shifts that the test with stints as clusters does not refute (the quantile counterpart of the
    rank test, A. M. Mood, Introduction to the Theory of Statistics (1950), 16.4).
    """
    return strata.judge(
        samples, f"upper {part.name} of the distances", unit, _own_quantile(part.share, confidence),
        lambda found: _upper(found, part, confidence),
        lambda row, reference: (
            f"the farthest {part.name} of {row.arrangement} begins {_far(row, unit)} "
            f"{'farther out' if row.difference > 0 else 'nearer'} than that of {reference}"
        ), confidence, also_held,
    )


def compare_beyond(samples, limit, *, unit="km", confidence=0.95, also_held=()):
    """Difference of the shares of contacts beyond a distance, within blocks.

    The risk difference of Mantel and Haenszel with stints as clusters (`strata.mean_told`). Parameters: `limit`; the
    rest as `compare_distances`. Returns a Judgement whose values are shares from 0 to 1.
    """
    if not (limit > 0 and math.isfinite(limit)):
        raise ValueError(f"a distance is positive, not {limit}")

    def told(found):
        few = strata.too_few(found)
        if few:
            return few
        beyond = (found.values > limit).astype(float)
        if beyond.sum() < 3 or (1 - beyond).sum() < 3:
            return strata.Told(reason=f"nearly all or nearly no contacts in common lie beyond {limit:.0f} {unit}")
        one = strata.mean_told(found, beyond, confidence)
        return replace(one, low=max(-1.0, one.low), high=min(1.0, one.high)) if one.p is not None else one

    return strata.judge(
        samples, f"share beyond {limit:.0f} {unit}", "",
        lambda values, effect: _own_share(values, limit, effect, confidence), told,
        lambda row, reference: (
            f"{row.arrangement} puts {100 * abs(row.difference):.0f} % {'more' if row.difference > 0 else 'fewer'} of "
            f"its contacts beyond {limit:.0f} {unit} than {reference}"
        ), confidence, also_held,
    )


def _far(row, unit):
    """How far apart, and between what: 220 km (60 to 380)."""
    low, high = sorted((abs(row.difference_low), abs(row.difference_high)))
    return f"{abs(row.difference):.0f} {unit} ({low:.0f} to {high:.0f})"


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


def _own_share(values, limit, effect, confidence):
    """The share of the values beyond a limit with Wilson's interval at the effective number."""
    from scipy.special import ndtri

    n = len(values) / max(1.0, effect)
    share = sum(value > limit for value in values) / len(values)
    z2 = float(ndtri((1 + confidence) / 2)) ** 2
    half, middle, scale = math.sqrt(z2 * (share * (1 - share) / n + z2 / (4 * n * n))), share + z2 / (2 * n), 1 + z2 / n
    return share, max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


def _shift(found, confidence):
    """The stratified Hodges-Lehmann shift of a contrast."""
    few = strata.too_few(found)
    if few:
        return few
    return _inverted(found, found.ranked, confidence, "too few contacts on the same band and day for an interval")


def _upper(found, part, confidence):
    """The shift that evens out how many of each lie in the upper part of both."""
    import numpy as np

    few = strata.too_few(found)
    if few:
        return few
    found = replace(found, prior=part.correlation)

    def in_upper_part(shift):
        moved = np.where(found.first, found.values - shift, found.values)
        return found.centred((moved > np.quantile(moved, part.share)).astype(float))

    return _inverted(
        found, in_upper_part, confidence, f"too few contacts on the same band and day for an upper {part.name}"
    )


def _inverted(found, scores_at, confidence, reason):
    """The shift at which the first arrangement's scores sum to nothing, and those which the t test does not refute."""
    from scipy.special import stdtr, stdtrit

    def statistic(shift):
        return float(scores_at(shift)[found.first].sum())

    span = float(found.values.max() - found.values.min()) + 1.0
    value = (_crossing(statistic, 0.0, span, last=True) + _crossing(statistic, 0.0, span, last=False)) / 2
    variance, df, rho = found.spread(scores_at(value))
    if variance <= 0:
        return strata.Told(reason="all distances in common are the same", correlation=rho)
    quantile, error = float(stdtrit(df, (1 + confidence) / 2)), math.sqrt(variance)
    if statistic(-span) <= quantile * error or statistic(span) >= -quantile * error:
        return strata.Told(reason=reason, correlation=rho)
    low = _crossing(statistic, quantile * error, span, last=True)
    high = _crossing(statistic, -quantile * error, span, last=False)
    p = 2 * float(stdtr(df, -abs(statistic(0.0)) / error))
    return strata.Told(value, low, high, p, max((high - low) / 2 / quantile, 1e-9), df, len(found.values), rho)


def _crossing(statistic, level, span, *, last):
    """Where a falling statistic leaves `level`: the last shift with more than it, or the first with less."""
    low, high = -span, span
    while high - low > 1e-4:
        middle = (low + high) / 2
        above = statistic(middle) - level
        if above > 1e-9 or (not last and above > -1e-9):
            low = middle
        else:
            high = middle
    return (low + high) / 2
