"""Switching plans and what they could show, held against closed forms and exact enumeration."""

import math
from itertools import groupby, pairwise

import numpy as np
import pytest

from outings.evidence import comparison, switching
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
    shown = switching.smallest_ratio(20, 6, 10, dispersion=2.0)
    assert shown > 1.5
    assert switching.shown_log_ratio(20, shown, 6, 10, 2.0) == pytest.approx(math.log(shown), rel=1e-6)


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
    with pytest.raises(ValueError, match="positive"):
        switching.rounds_needed(*arguments, 10)


def test_with_many_blocks_the_outlook_is_the_formula_for_two_rates():
    """Where the judgement knows the dispersion well, and it is the usual one, nothing is left but the log formula."""
    minutes = switching.rounds_needed(60, 1.1, 10, comparison.PRIOR_DISPERSION) * 10
    assert minutes == pytest.approx(switching.minutes_each(60, 1.1, comparison.PRIOR_DISPERSION), rel=0.01)


def test_the_outlook_of_blocks_says_what_they_could_show():
    # 8 blocks of 15 min of two arrangements: 60 min each. By the log formula (above) 73.5 min show a ratio of 2 at 20
    # an hour; so few blocks say little of the dispersion, and the judgement allows for that
    blocks = switching.plan(("a", "b"), 120, 15, seed=1)
    found = switching.outlook(blocks, 20)
    assert found.minutes_each == 60
    assert 2.3 < found.smallest_ratio < 3.5
    assert 2 * 73.514 < dict(found.needed)[2.0] < 2 * 2 * 73.514
    assert dict(switching.outlook(blocks, 20, 2).needed)[2.0] > dict(found.needed)[2.0]
    assert switching.outlook(blocks, 0.05).smallest_ratio is None
    three = switching.outlook(switching.plan(("a", "b", "c"), 180, 15, seed=1), 20)
    assert three.minutes_each == 60 and dict(three.needed)[2.0] > dict(found.needed)[2.0]


@pytest.mark.parametrize(("slower_per_h", "ratio"), [(20, 2.0), (10, 3.0)])
def test_a_short_test_shows_what_its_outlook_promises(slower_per_h, ratio):
    """Independent contacts, about 20 blocks: 80 % of 200 tests, give or take three standard errors."""
    rounds = switching.rounds_needed(slower_per_h, ratio, 10)
    rng = np.random.default_rng(2)
    shown = 0
    for _ in range(200):
        rows = [
            comparison.Observation(
                name, int(rng.poisson(slower_per_h / 6 * factor)), 1 / 6, ("day", "20m", "SSB", 3), f"{number}{name}",
                f"{number}",
            )
            for number in range(rounds) for name, factor in (("a", ratio), ("b", 1.0))
        ]
        row = next(row for row in comparison.compare(rows).arrangements if row.arrangement == "a")
        shown += row.p_holm is not None and row.p_holm < 0.05
    assert 0.72 < shown / 200 < 0.95
