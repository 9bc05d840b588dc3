"""Medians, shifts, paired differences and directions against R, scipy and numpy."""

import math
import random

import numpy
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from outings.evidence import distances
from tests import checks

SAMPLES = st.lists(st.integers(0, 20_000).map(float), min_size=1, max_size=40)


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-H"))
def test_a_median_distance_has_its_order_statistic_interval(case):
    found = distances.quantile(case.inputs["km"])
    low, high = distances.bootstrap_median(case.inputs["km"], seed=1)
    checks.holds(case, {
        "median": found.value, "low": found.low, "high": found.high, "coverage": found.coverage,
        "bootstrap_low": low, "bootstrap_high": high,
    })


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-W"))
def test_two_samples_are_shifted_by_so_much(case):
    found = distances.shift(case.inputs["x"], case.inputs["y"])
    assert found.exact
    checks.holds(case, {
        "shift": found.shift, "low": found.low, "high": found.high, "p": found.p, "u": found.u,
    })


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-K"))
def test_paired_reports_have_their_mean_difference(case):
    found = distances.paired_difference(case.inputs["db"])
    checks.holds(case, {"mean": found.mean, "low": found.low, "high": found.high, "sd": found.sd})


@given(st.integers(1, 3000), st.sampled_from([0.1, 0.5, 0.9]), st.sampled_from([0.8, 0.95, 0.99]))
def test_the_ranks_around_a_quantile_cover_at_least_their_confidence_and_no_narrower_ones_do(n, share, confidence):
    # Reference: the binomial distribution of scipy.stats.
    found = distances.ranks_around(n, share, confidence)
    tail = (1 - confidence) / 2
    if found is None:
        too_few_below = scipy.stats.binom.cdf(0, n, share) > tail
        too_few_above = scipy.stats.binom.cdf(n - 1, n, share) < 1 - tail
        assert too_few_below or too_few_above
        return
    low, high, coverage = found
    assert 1 <= low <= high <= n
    assert coverage >= confidence - 1e-12
    assert scipy.stats.binom.cdf(low - 1, n, share) <= tail < scipy.stats.binom.cdf(low, n, share)
    assert scipy.stats.binom.cdf(high - 1, n, share) >= 1 - tail > scipy.stats.binom.cdf(high - 2, n, share)


def test_six_values_are_the_fewest_for_a_95_percent_interval_of_the_median():
    # Source: 2 · (1/2)^6 = 0.03125, 2 · (1/2)^5 = 0.0625.
    assert distances.ranks_around(5) is None
    assert distances.ranks_around(6) == (1, 6, pytest.approx(1 - 0.03125))


@given(SAMPLES, st.sampled_from([0.1, 0.5, 0.9]))
def test_a_quantile_is_numpys(values, share):
    assert distances.quantile(values, share).value == pytest.approx(float(numpy.quantile(values, share)))


def test_an_order_statistic_interval_covers_the_truth_as_often_as_it_says():
    # Known truth: the median of a log-normal distribution with μ = 7 is e^7.
    numbers = random.Random(5)
    covered = 0
    for _ in range(1500):
        found = distances.quantile([numbers.lognormvariate(7, 0.8) for _ in range(25)])
        covered += found.low <= math.exp(7) <= found.high
    assert 0.945 <= covered / 1500 <= 0.98  # 25 values give 0.957


@given(SAMPLES, SAMPLES)
def test_a_shift_is_the_median_of_all_differences(first, second):
    differences = [x - y for x in first for y in second]
    found = distances.shift(first, second)
    assert found.shift == pytest.approx(float(numpy.median(differences)), abs=1e-6)
    if found.low is not None:
        assert found.low <= found.shift + 1e-6 and found.shift <= found.high + 1e-6


@given(
    st.lists(st.integers(0, 10**6), min_size=2, max_size=30, unique=True), st.integers(1, 29)
)
def test_p_of_two_samples_without_ties_is_that_of_the_exact_mann_whitney_test(values, cut):
    # Reference: scipy.stats.mannwhitneyu, method "exact".
    cut = min(cut, len(values) - 1)
    found = distances.shift(values[:cut], values[cut:])
    expected = scipy.stats.mannwhitneyu(values[:cut], values[cut:], method="exact")
    assert found.u == expected.statistic
    assert found.p == pytest.approx(expected.pvalue, rel=1e-9)


def test_samples_with_ties_and_large_ones_use_the_normal_approximation():
    # Reference: scipy.stats.mannwhitneyu, method "asymptotic" with continuity correction.
    numbers = random.Random(9)
    first = [round(numbers.lognormvariate(7, 0.8), -2) for _ in range(400)]
    second = [round(numbers.lognormvariate(7.2, 0.8), -2) for _ in range(300)]
    found = distances.shift(first, second)
    assert not found.exact
    expected = scipy.stats.mannwhitneyu(first, second, method="asymptotic")
    assert (found.u, found.p) == (expected.statistic, pytest.approx(expected.pvalue, rel=1e-6))
    assert found.low < found.shift < found.high < 0


def test_two_small_samples_have_a_shift_without_an_interval():
    # Source: 2 / C(6,3) = 0.1 is the smallest p that three against three can reach.
    found = distances.shift([1.0, 2.0, 3.0], [10.0, 11.0, 12.5])
    assert (found.shift, found.low, found.high) == (-9.0, None, None)
    assert found.p == pytest.approx(0.1)


def test_counts_of_orderings_add_up_to_the_binomial_coefficient():
    for m, n in ((1, 1), (3, 4), (10, 12), (49, 49)):
        counts = distances.u_counts(m, n)
        assert sum(counts) == math.comb(m + n, n)
        assert counts == counts[::-1]


def test_bearings_have_a_mean_direction_and_a_spread():
    # Reference: scipy.stats.circmean and circstd.
    bearings = [350.0, 10.0, 20.0, 5.0, 340.0]
    found = distances.directions(bearings)
    assert found.mean_deg == pytest.approx(scipy.stats.circmean(bearings, high=360))
    assert found.spread_deg == pytest.approx(math.degrees(scipy.stats.circstd([math.radians(b) for b in bearings])))


def test_bearings_that_cancel_out_have_no_direction():
    found = distances.directions([0.0, 90.0, 180.0, 270.0])
    assert (found.n, found.mean_deg, found.concentration, found.spread_deg) == (4, None, 0.0, None)
    assert distances.directions([77.0]).spread_deg == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: distances.quantile([]), lambda: distances.bootstrap_median([]), lambda: distances.shift([], [1.0]),
        lambda: distances.shift([1.0], []), lambda: distances.paired_difference([3.0]),
        lambda: distances.directions([]),
    ],
)
def test_too_little_is_refused_by_name(ask):
    with pytest.raises(ValueError):
        ask()
