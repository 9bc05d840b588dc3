"""Distances, reports and what was spent, compared with like held to like."""

import itertools
import math

import numpy as np
import pytest

from outings.evidence import comparison, gains, reach, reports, strata
from tests import checks

CASE = checks.cases("evidence", "T7-W")[0].values[0]  # R 4.2.2, wilcox.test, exact
BLOCK = ("outing", "20m", "SSB", 3)


def one_by_one(name, values, block=BLOCK):
    """Every contact a stint of its own: independent of the others."""
    return [strata.Sample(name, (value,), block, f"{name} {i} {block}") for i, value in enumerate(values)]


def row_of(judgement, name):
    return next(row for row in judgement.arrangements if row.arrangement == name)


def some_blocks(seed=4, blocks=5):
    rng = np.random.default_rng(seed)
    samples = []
    for block in range(blocks):
        for name, n in (("a", 6), ("b", 4 + block)):
            values = rng.normal(1000 + 300 * block + 80 * (name == "a"), 200, n)
            samples += one_by_one(name, values, (f"o{block}", "20m", "CW", 2))
    return samples


def test_within_one_block_the_shift_is_that_of_hodges_and_lehmann():
    x, y = CASE.inputs["x"], CASE.inputs["y"]
    found = reach.compare_distances(one_by_one("y", y) + one_by_one("x", x))
    assert found.reference == "x"  # more contacts
    row = row_of(found, "y")
    assert row.difference == pytest.approx(-CASE.expected["shift"], abs=0.01)
    # the t interval of the rank test is near the exact one
    assert row.difference_low == pytest.approx(-CASE.expected["high"], rel=0.08)
    assert row.difference_high == pytest.approx(-CASE.expected["low"], rel=0.08)


def test_ranks_of_independent_contacts_vary_as_scipys_rank_test_has_it():
    from scipy.stats import mannwhitneyu

    x, y = CASE.inputs["x"], CASE.inputs["y"]
    first, second = one_by_one("a", x), one_by_one("b", y)
    found = strata.contrast(first, second, 4)
    scores = found.ranked()
    z = scores[found.first].sum() / math.sqrt(found.spread(scores)[0])
    p = mannwhitneyu(x, y, method="asymptotic", use_continuity=False).pvalue
    assert 2 * (1 - 0.5 * (1 + math.erf(abs(z) / math.sqrt(2)))) == pytest.approx(p, rel=1e-9)


def test_ranks_within_blocks_vary_as_all_permutations_within_blocks_do():
    rng = np.random.default_rng(1)
    x, y = ("x", "20m", "CW", 1), ("y", "20m", "CW", 1)
    first = one_by_one("a", rng.normal(size=2), x) + one_by_one("a", rng.normal(size=3), y)
    second = one_by_one("b", rng.normal(size=3), x) + one_by_one("b", rng.normal(size=2), y)
    found = strata.contrast(first, second, 4)
    scores = found.ranked()
    blocks = [scores[found.block == block] for block in (0, 1)]
    choices = itertools.product(itertools.combinations(blocks[0], 2), itertools.combinations(blocks[1], 3))
    every = [sum(one) + sum(other) for one, other in choices]
    assert found.spread(scores)[0] == pytest.approx(np.mean(np.square(every)), rel=1e-9)


def test_the_difference_of_shares_within_blocks_is_that_of_least_squares_with_blocks_as_factors():
    import statsmodels.api as sm

    samples = some_blocks()
    row = next(row for row in reach.compare_beyond(samples, 1500).arrangements if row.difference)
    beyond = np.array([float(sample.values[0] > 1500) for sample in samples])
    blocks = sorted({sample.block for sample in samples})
    columns = [
        [sample.arrangement == row.arrangement, *[sample.block == block for block in blocks]] for sample in samples
    ]
    fit = sm.OLS(beyond, np.array(columns, float)).fit()
    assert row.difference == pytest.approx(fit.params[0], rel=1e-9)
    assert (row.difference_high - row.difference_low) / 2 == pytest.approx(fit.bse[0] * 2, rel=0.25)


def test_what_lies_between_blocks_does_not_count():
    # every contact of "a" is 300 km nearer than those of "b" in its block, but "a" was used more on the farther band
    samples = []
    for band, usual, n in (("40m", 600, (20, 4)), ("15m", 3000, (4, 20))):
        for name, count, shift in (("b", n[0], 300), ("a", n[1], 0)):
            samples += one_by_one(name, [usual + shift + 10 * i for i in range(count)], ("o", band, "SSB", 2))
    found = reach.compare_distances(samples)
    a, b = row_of(found, "a"), row_of(found, "b")
    assert a.value > b.value
    assert (a.difference or 0) - (b.difference or 0) < -200
    assert "band" in found.held_fixed


def test_stints_that_hang_together_widen_the_interval():
    rng = np.random.default_rng(8)
    alone, together = [], []
    for number in range(12):
        name = "ab"[number % 2]
        values = 1500 + 600 * rng.normal() + 100 * rng.normal(size=8)
        block = (f"o{number // 4}", "20m", "SSB", 1)
        alone += [strata.Sample(name, (value,), block, f"{number} {i}") for i, value in enumerate(values)]
        together.append(strata.Sample(name, tuple(values), block, f"{number}"))
    widths = []
    for samples in (alone, together):
        row = row_of(reach.compare_distances(samples), "b")
        widths.append(row.difference_high - row.difference_low)
    assert widths[1] > 1.5 * widths[0]
    assert reach.compare_distances(together).correlation > 0.5


def test_a_correlation_that_the_data_were_made_with_is_found():
    rng = np.random.default_rng(3)
    samples = []
    for number in range(400):
        values = math.sqrt(0.3) * rng.normal() + math.sqrt(0.7) * rng.normal(size=6)
        block = (f"o{number // 8}", "20m", "SSB", 1)
        samples.append(strata.Sample("ab"[number % 2], tuple(values), block, f"{number}"))
    assert reports.compare_reports(samples).correlation == pytest.approx(0.3, abs=0.04)


def test_arrangements_never_on_one_band_and_day_are_not_told_apart():
    found = reach.compare_distances(
        one_by_one("a", range(100, 120), ("o1", "20m", "SSB", 1))
        + one_by_one("b", range(100, 130), ("o2", "20m", "SSB", 1))
    )
    row = row_of(found, "a")
    assert row.difference is None
    assert row.reason == "never used on the same outing as b: cannot be told apart"
    assert found.verdict.startswith("These cannot be compared yet")
    few = reach.compare_distances(one_by_one("a", (1, 2)) + one_by_one("b", (3, 4, 5)))
    assert "too few to tell" in row_of(few, "a").reason


def test_an_upper_tenth_needs_contacts_and_shifts_with_them():
    rng = np.random.default_rng(5)
    samples = []
    for block in range(8):
        for name, shift in (("a", 900), ("b", 0)):
            values = 1000 * np.exp(0.6 * rng.normal(size=15)) + shift
            samples += one_by_one(name, values, (f"o{block}", "20m", "SSB", 1))
    found = reach.compare_upper_tenth(samples)
    row = row_of(found, "b")
    assert row.difference_low < -900 < row.difference_high
    assert found.measure == "upper tenth of the distances" and not found.remarks
    small = reach.compare_upper_tenth(one_by_one("a", range(5)) + one_by_one("b", range(4)))
    assert "upper tenth" in row_of(small, "b").reason


def test_with_too_few_contacts_for_a_tenth_the_upper_quarter_is_compared():
    rng = np.random.default_rng(3)
    samples = []
    for block in range(8):
        for name, shift in (("a", 900), ("b", 0)):
            values = 1000 * np.exp(0.4 * rng.normal(size=2)) + shift
            samples += one_by_one(name, values, (f"o{block}", "20m", "SSB", 1))
    found = reach.compare_upper_tenth(samples)
    row = row_of(found, "b")
    assert found.measure == "upper quarter of the distances" and "too few to tell the upper tenth" in found.remarks[0]
    assert row.difference_low < -900 < row.difference_high
    own = sorted(value for sample in samples if sample.arrangement == "b" for value in sample.values)
    assert row.value == pytest.approx(np.quantile(own, 0.75), rel=0.1)


@pytest.mark.parametrize("call", [
    lambda: reach.compare_distances([]), lambda: reach.compare_distances(one_by_one("a", (1, 2, 3))),
])
def test_nothing_to_compare_says_what_there_is(call):
    with pytest.raises(strata.NothingToCompare):
        call()


def test_senseless_values_are_refused():
    with pytest.raises(ValueError, match="finite"):
        reach.compare_distances(one_by_one("a", (math.nan,)))
    with pytest.raises(ValueError, match="block"):
        reach.compare_distances([strata.Sample("a", (1.0,), ("o", "20m"))])
    with pytest.raises(ValueError, match="positive"):
        reach.compare_beyond([], 0)


@pytest.mark.parametrize(("report", "decibels", "db"), [
    # IARU Region 1 technical recommendation R.1: 6 dB an S unit (from memory)
    ("59", False, 54), ("57", False, 42), ("599", False, 54), ("5NN", False, 54), ("579", False, 42),
    ("59+20", False, 74), ("59+20dB", False, 74), ("-12", True, -12), ("+05", True, 5), ("R-12", True, None),
    ("", False, None), ("-12", False, None), ("5", False, None), ("60", False, None), ("57+20", False, None),
    ("loud", False, None),
])
def test_strength_is_read_off_a_report(report, decibels, db):
    assert reports.strength_db(report, decibels=decibels) == db


def test_outings_with_the_usual_report_for_everybody_are_left_out_whole():
    formal = [reports.Exchanged("formal", "599", "599", "599")] * 9 + [reports.Exchanged("formal", "559", "5NN", "599")]
    honest = [reports.Exchanged("honest", "59", "57", "59"), reports.Exchanged("honest", "55", "59", "59")] * 5
    one_sided = [reports.Exchanged("one side", "57", "59", "59")] * 10
    few = [reports.Exchanged("few", "57", "55", "59")] * 3
    digital = [reports.Exchanged("digital", "-10", "-12", "")] * 8
    assert reports.honest_outings(formal + honest + one_sided + few + digital) == (
        {"honest", "digital"}, {"formal", "one side", "few"}
    )


def test_reports_in_one_block_differ_as_a_t_test_has_it():
    from scipy.stats import ttest_ind

    first, second = [54, 48, 42, 54, 60, 54, 48], [42, 48, 42, 36, 48, 42, 54, 42]
    row = row_of(reports.compare_reports(one_by_one("a", first) + one_by_one("b", second)), "a")
    test = ttest_ind(first, second)
    assert row.difference == pytest.approx(np.mean(first) - np.mean(second))
    interval = test.confidence_interval()  # scipy 1.17, equal variances
    assert row.difference_low == pytest.approx(interval.low, rel=1e-6)
    assert row.difference_high == pytest.approx(interval.high, rel=1e-6)


def an_observation(name, contacts, spent, outing):
    return comparison.Observation(name, contacts, spent, (outing, "20m", "SSB", 1), f"{name} {outing}")


def test_contacts_for_what_was_spent_are_compared_as_rates_are():
    counts = {("a", "o1"): 20, ("b", "o1"): 12, ("a", "o2"): 30, ("b", "o2"): 13, ("a", "o3"): 25, ("b", "o3"): 15}
    hourly = comparison.compare([an_observation(name, n, 1.0, outing) for (name, outing), n in counts.items()])
    # "a" weighs 3 kg, "b" 1 kg: its ratio is a third of that by the hour, and so are the ends of its interval
    found = gains.compare_gains([
        an_observation(name, n, gains.weight_h(1.0, 3.0 if name == "a" else 1.0), outing)
        for (name, outing), n in counts.items()
    ], "weight")
    assert found.reference == "a"
    by_hour = {row.arrangement: row for row in hourly.arrangements}
    by_weight = {row.arrangement: row for row in found.arrangements}
    times = 1 / 3 if hourly.reference == "b" else 3
    name = "a" if hourly.reference == "b" else "b"
    if hourly.reference == "a":
        assert by_weight["b"].ratio == pytest.approx(times * by_hour[name].ratio, rel=1e-3)
    else:
        assert by_weight["b"].ratio == pytest.approx(1 / (times * by_hour[name].ratio), rel=1e-3)
    assert found.more_hours_needed is None
    assert "kilogram" in found.verdict


def test_energy_follows_the_currents():
    # 2 h at 13.2 V, 0.4 A on receive, 2.4 A on transmit, Morse while calling: f 0.4, k 0.45:
    # 0.4 (0.45 2.4 + 0.55 0.4) + 0.6 0.4 = 0.76 A; 13.2 2 0.76 = 20.064 Wh. By hand.
    assert gains.energy_wh(2, 13.2, 0.4, 2.4, "Morse", "calling") == pytest.approx(20.064)
    # slots: 12.64 s of 30 s at full current, R: 12*(12.64/30*2+(1-12.64/30)*0.5)
    assert gains.energy_wh(1, 12, 0.5, 2.0, "slots") == pytest.approx(13.584)
    with pytest.raises(ValueError, match="positive"):
        gains.energy_wh(0, 12, 0.5, 2.0, "voice")


def test_set_up_is_shared_out_by_time():
    assert gains.with_setup_min(0.5, 20, 0.25) == pytest.approx(35)
    with pytest.raises(ValueError):
        gains.with_setup_min(0, 20)
    with pytest.raises(ValueError):
        gains.weight_h(1, 0)


@pytest.mark.parametrize(("mode", "family", "keyed"), [
    ("FT8", "DATA", "slots"), ("CW", "CW", "Morse"), ("SSB", "PHONE", "voice"), ("FM", "PHONE", "steady"),
    ("RTTY", "DATA", "steady"),
])
def test_how_a_mode_keys(mode, family, keyed):
    assert gains.keying(mode, family) == keyed


def test_what_never_met_the_reference_is_compared_by_way_of_others():
    # "c" meets only "b", which meets the reference "a": by hand, the two differences add up, and so do the variances
    rng = np.random.default_rng(6)
    samples = one_by_one("a", rng.normal(2000, 150, 60), ("alone", "20m", "SSB", 1))
    for block, (first, second) in enumerate([("a", "b"), ("b", "c")] * 3):
        for name in (first, second):
            values = rng.normal({"a": 2000, "b": 1700, "c": 1400}[name], 150, 10)
            samples += one_by_one(name, values, (f"o{block}", "20m", "SSB", 1))
    found = reports.compare_reports(samples)
    b, c = row_of(found, "b"), row_of(found, "c")
    assert (found.reference, b.indirect, c.indirect) == ("a", False, True)
    step = reports.compare_reports([sample for sample in samples if sample.arrangement != "a"])
    assert step.reference == "b"
    assert c.difference == pytest.approx(b.difference + row_of(step, "c").difference)
    width = [row.difference_high - row.difference_low for row in (b, row_of(step, "c"), c)]
    assert width[2] == pytest.approx(math.hypot(*width[:2]), rel=0.02)
    assert c.difference_low < -600 < c.difference_high
    assert "by way of these" in found.remarks[0]
