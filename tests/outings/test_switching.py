"""Switching plans and what they could show, held against closed forms and exact enumeration."""

from itertools import groupby, pairwise

import numpy as np
import pytest

from outings.evidence import switching
from tests.checks import cases, holds


@pytest.mark.parametrize("case", cases("evidence", "T7-G"))
def test_minutes_for_a_ratio(case):
    slower, ratio = case.inputs["rate_b_per_hour"], case.inputs["ratio"]
    minutes = switching.minutes_each(slower, ratio)
    holds(case, {
        "minutes_log_formula": minutes, "minutes_root_formula": switching.minutes_each_by_roots(slower, ratio),
        "minutes_exact_test": minutes,
    })


def test_two_hours_do_not_show_a_difference_of_a_fifth():
    shown = switching.smallest_ratio(20, 60, dispersion=2.0)
    assert shown > 1.5
    assert switching.minutes_each(20, shown, 2.0) == pytest.approx(60, rel=1e-6)


def test_power_at_the_planned_time_is_what_was_promised():
    """Simulated with the exact conditional test, which the formula is 2 to 3 % short of."""
    from scipy.stats import binomtest

    rng = np.random.default_rng(5)
    hours = switching.minutes_each(20, 2.0) / 60
    counts = rng.poisson([[40 * hours, 20 * hours]] * 1000)
    known = {}
    for a, b in counts.tolist():
        known.setdefault((a, b), binomtest(a, a + b, 0.5).pvalue < 0.05)
    assert np.mean([known[a, b] for a, b in counts.tolist()]) == pytest.approx(0.80, abs=0.045)


@pytest.mark.parametrize("order", ["random", "ABBA"])
def test_every_round_gives_every_arrangement_equal_time_within_the_minutes(order):
    blocks = switching.plan(["wire", "whip", "loop"], 125, 10, seed=4, order=order, change_min=2)
    assert blocks[-1].end_min <= 125
    for _, turn in groupby(blocks, key=lambda block: block.pair):
        turn = list(turn)
        assert sorted(block.arrangement for block in turn) == ["loop", "whip", "wire"]
        assert all(block.end_min - block.start_min == 10 for block in turn)
    for one, two in pairwise(blocks):
        wanted = 2 if one.arrangement != two.arrangement else 0
        assert two.start_min - one.end_min == pytest.approx(wanted)


def test_abba_turns_every_round_and_a_seed_repeats_its_order():
    names = [block.arrangement for block in switching.plan(["a", "b"], 80, 10, order="ABBA")]
    assert names == ["a", "b", "b", "a", "a", "b", "b", "a"]
    assert switching.plan(["a", "b"], 300, 10, seed=8) == switching.plan(["a", "b"], 300, 10, seed=8)
    assert switching.plan(["a", "b"], 300, 10, seed=8) != switching.plan(["a", "b"], 300, 10, seed=9)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [((["a", "a"], 60, 10), "two different"), ((["a", "b"], 15, 10), "too few"), ((["a", "b"], 60, 0), "needs time")],
)
def test_a_plan_that_cannot_be_is_refused(arguments, word):
    with pytest.raises(ValueError, match=word):
        switching.plan(*arguments)


@pytest.mark.parametrize("arguments", [(0, 1.5), (20, 1.0), (20, -1)])
def test_senseless_rates_and_ratios_are_refused(arguments):
    for formula in (switching.minutes_each, switching.minutes_each_by_roots):
        with pytest.raises(ValueError, match="positive"):
            formula(*arguments)


def test_the_outlook_of_blocks_says_what_they_could_show():
    # 8 blocks of 15 min of two arrangements: 60 min each. By the log formula (above, 73.5 min for a ratio of 2 at 20 an
    # hour) a doubling does not quite show; a dispersion of 2 doubles all times
    blocks = switching.plan(("a", "b"), 120, 15, seed=1)
    found = switching.outlook(blocks, 20)
    assert found.minutes_each == 60
    assert 2 < found.smallest_ratio < 2.3
    assert dict(found.needed)[2.0] == pytest.approx(2 * 73.514, rel=1e-3)
    assert dict(switching.outlook(blocks, 20, 2).needed)[2.0] == pytest.approx(4 * 73.514, rel=1e-3)
    assert switching.outlook(blocks, 0.1).smallest_ratio is None
