"""Paired reports of the same receivers."""

import math

import numpy as np
import pytest

from outings.evidence import reception
from tests import checks

K1 = checks.cases("evidence", "T7-K1")[0].values[0]


def heard(name, receiver, minute, db, stint="", band="20m"):
    return reception.Heard(name, receiver, band, 60.0 * minute, stint or f"{name} {minute // 5}", db)


def test_reports_are_paired_with_the_nearest_of_the_same_receiver_and_band_each_once():
    first = [heard("a", "R1", 0, 5), heard("a", "R1", 9, 7), heard("a", "R2", 0, 1), heard("a", "R1", 40, 9)]
    second = [heard("b", "R1", 10, 4), heard("b", "R2", 1, 1, band="40m"), heard("b", "R1", 2, 2)]
    found = reception.pairs(first, second)
    assert sorted(pair.difference_db for pair in found) == [3, 3]  # 7 - 4 and 5 - 2
    assert {pair.receiver for pair in found} == {"R1"}
    assert reception.pairs(first, second, within_min=1.5)[0].difference_db == 3


def test_pairs_of_receivers_and_switches_of_their_own_have_the_t_interval_of_their_mean():
    # R 4.2.2 t.test and scipy 1.17.1 (case T7-K1): every pair its own receiver and its own switch
    found = [reception.Pair(f"R{i}", (i, i), db) for i, db in enumerate(K1.inputs["db"])]
    mean, low, high, _ = reception.mean_difference(found)
    assert (mean, low, high) == tuple(pytest.approx(K1.expected[name], rel=1e-4) for name in ("mean", "low", "high"))


def test_clusters_widen_the_interval_as_statsmodels_has_it():
    import statsmodels.api as sm
    from statsmodels.stats.sandwich_covariance import cov_cluster_2groups

    rng = np.random.default_rng(2)
    rows = [(r, s, 2 + rng.normal()) for r in range(6) for s in range(5)]
    liking, fading = rng.normal(size=6), rng.normal(size=5)
    found = [reception.Pair(f"R{r}", (s, s), d + liking[r] + fading[s]) for r, s, d in rows]
    fit = sm.OLS([pair.difference_db for pair in found], np.ones(30)).fit()
    both, receivers, switches = cov_cluster_2groups(
        fit, np.array([r for r, *_ in rows]), np.array([s for _, s, _ in rows]), use_correction=False
    )
    mean, low, high, _ = reception.mean_difference(found)
    assert mean == pytest.approx(fit.params[0])
    inner = receivers[0, 0] + switches[0, 0] - both[0, 0]
    by_receiver, by_switch = receivers[0, 0] * 6 / 5, switches[0, 0] * 5 / 4
    wanted = max(by_receiver + by_switch - inner * 30 / 29, by_receiver, by_switch)
    assert ((high - low) / 2 / 2.7764451) ** 2 == pytest.approx(wanted, rel=1e-6)  # t(4), 0.975


def a_test(difference_db, switches=6, receivers=8, seed=1):
    rng = np.random.default_rng(seed)
    found = []
    for block in range(switches + 1):
        for receiver in range(receivers):
            extra = difference_db if block % 2 else 0
            db = receiver + extra + rng.normal()
            found.append(heard("ab"[block % 2], f"R{receiver}", 6 * block + rng.random(), db, f"{block}"))
    return found


def test_a_clear_difference_is_claimed_in_words():
    found = reception.compare(a_test(5.0))
    assert found.reference == "a"
    row = next(row for row in found.arrangements if row.arrangement == "b")
    assert row.difference_low < 5 < row.difference_high
    assert row.paired_receivers == 8
    assert "b is heard" in found.verdict and "dB" in found.verdict and "stronger" in found.verdict


def test_none_is_told_where_it_cannot_be():
    one_switch = reception.compare(a_test(5.0, switches=1))
    assert "only one switch" in one_switch.arrangements[-1].reason
    one_receiver = reception.compare(a_test(5.0, receivers=1))
    assert "only one receiver" in one_receiver.arrangements[-1].reason
    never = reception.compare([heard("a", "R1", 0, 1), heard("b", "R2", 0, 1)])
    assert "no receiver reported both" in never.arrangements[-1].reason
    assert never.verdict.startswith("These cannot be compared yet")
    assert "cannot tell b from a" in reception.compare(a_test(0.0)).verdict


def test_nothing_to_compare_and_senseless_values_are_refused():
    with pytest.raises(reception.NothingToCompare, match="only a"):
        reception.compare([heard("a", "R1", 0, 1)])
    with pytest.raises(reception.NothingToCompare, match="no report"):
        reception.compare([])
    with pytest.raises(ValueError, match="finite"):
        reception.compare([heard("a", "R1", 0, math.nan), heard("b", "R1", 0, 1)])
