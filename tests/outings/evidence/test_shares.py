"""Shares with their intervals and adjusted p values against R, scipy and statsmodels."""

import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from outings.evidence import shares
from tests import checks


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-L"))
def test_a_share_has_its_exact_and_its_wilson_interval(case):
    found = shares.share(case.inputs["successes"], case.inputs["outings"])
    checks.holds(case, {name: getattr(found, name) for name in case.expected})


@pytest.mark.parametrize("case", checks.cases("evidence", "T7-M"))
def test_p_values_are_adjusted_for_several_comparisons(case):
    checks.holds(
        case, {"holm": shares.holm(case.inputs["p"]), "bh": shares.benjamini_hochberg(case.inputs["p"])}
    )


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_adjusted_p_values_keep_the_order_given_and_never_shrink(p_values):
    # Reference for Benjamini-Hochberg: scipy.stats.false_discovery_control.
    assert shares.benjamini_hochberg(p_values) == pytest.approx(list(scipy.stats.false_discovery_control(p_values)))
    for adjusted in (shares.holm(p_values), shares.benjamini_hochberg(p_values)):
        assert all(p <= raised + 1e-15 and raised <= 1 for p, raised in zip(p_values, adjusted, strict=True))
    assert sum(shares.holm(p_values)) >= sum(shares.benjamini_hochberg(p_values)) - 1e-9


def test_all_or_none_succeeded_has_an_end_at_the_edge():
    assert shares.share(5, 5).exact_high == 1
    assert shares.share(0, 5).exact_low == 0


@pytest.mark.parametrize(("successes", "trials"), [(0, 0), (4, 3), (-1, 3)])
def test_what_is_no_share_is_refused(successes, trials):
    with pytest.raises(ValueError, match="no share"):
        shares.share(successes, trials)


def test_what_is_no_p_value_is_refused():
    for adjust in (shares.holm, shares.benjamini_hochberg):
        with pytest.raises(ValueError, match="p value"):
            adjust([0.1, 1.2])
    assert shares.holm([]) == shares.benjamini_hochberg([]) == []
