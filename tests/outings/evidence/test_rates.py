"""Rates and ratios against R and scipy's own tests, and what they refuse."""

import math
import random

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from outings.evidence import fitting, rates
from tests import checks


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-A"))
def test_a_rate_has_its_exact_interval(case):
    found = rates.rate(case.inputs["contacts"], case.inputs["hours"])
    checks.holds(case, {"rate": found.per_h, "low": found.low, "high": found.high})


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-B"))
def test_two_rates_have_their_exact_ratio(case):
    found = rates.ratio(*(case.inputs[name] for name in ("a", "hours_a", "b", "hours_b")))
    checks.holds(case, {
        "ratio": found.ratio, "low": found.low, "high": found.high, "p": found.p, "p_doubled": found.p_doubled,
    })


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-J"))
def test_bursts_show_in_the_dispersion_of_equal_slots(case):
    found = rates.dispersion(case.inputs["counts"])
    checks.holds(case, {"index": found.index, "chi2": found.chi2, "df": found.df, "p": found.p})


@given(st.integers(0, 5000), st.floats(0.01, 1000), st.sampled_from([0.5, 0.9, 0.95, 0.99]))
def test_the_interval_of_a_rate_is_that_of_the_chi_square_quantiles(contacts, on_air_h, confidence):
    # Reference: scipy.stats.chi2.ppf, another way to the same quantiles.
    found = rates.rate(contacts, on_air_h, confidence)
    tail = (1 - confidence) / 2
    low = scipy.stats.chi2.ppf(tail, 2 * contacts) / (2 * on_air_h) if contacts else 0
    assert found.low == pytest.approx(low, rel=1e-9)
    assert found.high == pytest.approx(scipy.stats.chi2.ppf(1 - tail, 2 * contacts + 2) / (2 * on_air_h), rel=1e-9)
    assert found.low <= found.per_h <= found.high


def test_the_interval_covers_the_truth_as_often_as_it_says_where_contacts_are_independent():
    # Known truth: 8 an hour for 1.5 hours; an exact interval covers at least its confidence (Garwood 1936).
    numbers = random.Random(11)
    covered = 0
    for _ in range(2000):
        contacts, waited = -1, 0.0
        while waited < 1.5:
            waited += numbers.expovariate(8)
            contacts += 1
        found = rates.rate(contacts, 1.5)
        covered += found.low <= 8 <= found.high
    assert 0.945 <= covered / 2000 <= 0.99


@given(st.integers(0, 200), st.floats(0.1, 50), st.integers(0, 200), st.floats(0.1, 50))
def test_p_of_two_rates_is_that_of_the_binomial_test(a, hours_a, b, hours_b):
    # Reference: scipy.stats.binomtest, which sums outcomes no likelier than the observed one as R does.
    if a + b == 0:
        return
    found = rates.ratio(a, hours_a, b, hours_b)
    expected = scipy.stats.binomtest(a, a + b, hours_a / (hours_a + hours_b)).pvalue
    assert found.p == pytest.approx(expected, rel=1e-6, abs=1e-12)


def test_swapping_two_rates_inverts_their_ratio():
    there, back = rates.ratio(30, 2, 18, 2.5), rates.ratio(18, 2.5, 30, 2)
    assert back.ratio == pytest.approx(1 / there.ratio)
    assert (back.low, back.high) == pytest.approx((1 / there.high, 1 / there.low))
    assert back.p == pytest.approx(there.p)


@pytest.mark.parametrize(
    ("contacts", "on_air_h", "says"),
    [
        (3, 0, "without time on the air"), (3, -1, "without time on the air"), (3, math.nan, "without time on the air"),
        (3, math.inf, "without time on the air"), (-1, 2, "whole numbers"), (1.5, 2, "whole numbers"),
    ],
)
def test_a_rate_of_nothing_is_refused(contacts, on_air_h, says):
    with pytest.raises(ValueError, match=says):
        rates.rate(contacts, on_air_h)
    with pytest.raises(ValueError, match=says):
        rates.ratio(5, 1, contacts, on_air_h)


def test_other_nonsense_is_refused():
    with pytest.raises(ValueError, match="before there is a contact"):
        rates.ratio(0, 1, 0, 1)
    with pytest.raises(ValueError, match="confidence"):
        rates.rate(1, 1, confidence=95)
    with pytest.raises(ValueError, match="two slots"):
        rates.dispersion([4])
    with pytest.raises(ValueError, match="without any contact"):
        rates.dispersion([0, 0, 0])


def strata_of(case):
    return [tuple(row[name] for name in ("a", "hours_a", "b", "hours_b")) for row in case.inputs["strata"]]


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-E"))
def test_rates_within_strata_have_the_ratio_of_mantel_and_haenszel(case):
    """Both strata of Simpson's case favour B though the totals favour A; the published formula says so."""
    strata = strata_of(case)
    found = rates.ratio_in_strata(strata)
    a, hours_a, b, hours_b = (sum(column) for column in zip(*strata, strict=True))
    checks.holds(case, {
        "crude": a / hours_a / (b / hours_b), "mh": found.ratio, "se_log": found.se_log, "low": found.low,
        "high": found.high,
    }, "crude", "mh", "se_log", "low", "high")
    assert (found.strata, found.contacts) == (len(strata), a + b)


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-E"))
def test_the_regression_by_stratum_without_priors_is_that_of_statsmodels(case):
    rows = [(a, hours, 1.0, level) for level, (a, hours, _, _) in enumerate(strata_of(case))]
    rows += [(b, hours, 0.0, level) for level, (_, _, b, hours) in enumerate(strata_of(case))]
    rows.sort(key=lambda row: row[3])
    y, hours, first, level = (np.array(column) for column in zip(*rows, strict=True))
    model = fitting.model(y, np.log(hours), np.column_stack([np.ones(len(y)), first]), [1e-9, 1e-9], level, 1e-9)
    beta, _ = fitting.minimised(model, 1.0, np.zeros(2 + len(case.inputs["strata"])))
    checks.holds(case, {"glm": math.exp(beta[1])}, "glm")


def test_bursts_widen_the_interval_within_strata_and_strata_of_one_alone_say_nothing():
    narrow, wide = rates.ratio_in_strata([(30, 2, 20, 2)]), rates.ratio_in_strata([(30, 2, 20, 2), (9, 1, 0, 0)], 4.0)
    assert wide.ratio == narrow.ratio == 1.5 and wide.strata == 1
    assert wide.se_log == pytest.approx(2 * narrow.se_log)
    assert rates.ratio_in_strata([(3, 1, 0, 1)]).ratio is None
    with pytest.raises(ValueError, match="both were on the air"):
        rates.ratio_in_strata([(3, 1, 0, 0)])


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-C"))
def test_rates_with_little_data_are_drawn_towards_the_others(case):
    """The pump failures of Gaver and O'Muircheartaigh, and rates that vary no more than chance."""
    found = rates.shrunk(case.inputs["counts"], case.inputs["exposures"])
    values = {
        "shape": found.shape, "rate": found.rate, "shrunk": [one.per_h for one in found.rates],
        "low": [one.low for one in found.rates], "high": [one.high for one in found.rates],
        "raw": [n / t for n, t in zip(case.inputs["counts"], case.inputs["exposures"], strict=True)],
    }
    checks.holds(case, values, *case.expected)
    if case.id == "T7-C4":
        assert found.shape is found.rate is None


def test_fewer_than_four_rates_are_not_drawn_together_and_no_contact_at_all_stays_none():
    with pytest.raises(ValueError, match="from 4 on"):
        rates.shrunk([3, 4, 5], [1, 1, 1])
    nothing = rates.shrunk([0] * 4, [1, 2, 3, 4])
    assert all(one.per_h == 0 == one.low < one.high for one in nothing.rates)
