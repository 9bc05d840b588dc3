"""Which gear works: the judgement of a log, its words, what is remembered, and the demo scenario's known truth."""

import datetime
from pathlib import Path

import pytest
from django.core.cache import cache

from outings.demo import gear, loading, scenario
from outings.evidence import comparison as pure
from outings.models import Contact, Stint
from outings.queries import comparison, remembering
from tests.making import a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_remembered():
    cache.clear()


def filled(stint, count):
    """A stint with so many contacts."""
    Contact.objects.bulk_create([
        Contact(
            owner=stint.owner, outing=stint.outing, stint=stint, call=f"Q{number}AB", band=stint.band, mode=stint.mode,
            station_call="Q1ABC/P", started_at=stint.started_at + datetime.timedelta(minutes=number % 20),
        )
        for number in range(count)
    ])
    return stint


def in_turns(operator, counts, band="20m", **fields):
    """A wire and a whip in turns on an outing for each pair of counts, half an hour each."""
    ways = fields.pop("ways", None) or [
        an_arrangement(an_antenna(operator, name), "up") for name in ("Wire", "Whip")
    ]
    for day, pair in enumerate(counts, 1):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00")
        for number, (way, count) in enumerate(zip(ways, pair, strict=True)):
            start = f"2026-05-{day:02} 12:{30 * number:02}"
            filled(a_stint(outing, arrangement=way, start=start, minutes=30, band=band, **fields), count)
    return ways


def asked(operator, by="arrangement", **options):
    return comparison.judged(operator, Stint.objects.all(), by, **options)


def by_label(found):
    return {line.label: line for line in found.lines}


def test_a_clear_difference_is_told_with_what_was_held_fixed():
    operator = an_operator()
    in_turns(operator, [(22, 8), (19, 6), (25, 9), (21, 7), (24, 8), (20, 6)])
    found = asked(operator)
    assert found.state == "told" and found.compares
    assert "times the contacts per hour" in found.verdict or "of the contacts per hour" in found.verdict
    assert found.held_fixed == ("outing",)
    lines = by_label(found)
    better = lines["Wire, up"]
    assert (better.contacts, better.stints, better.on_air_h) == (131, 6, 3.0)
    told = next(line for line in found.lines if not line.is_reference)
    assert told.claimed and told.raw_effect == pytest.approx(told.effect, rel=0.05)
    assert told.why.startswith("About the same")
    assert told.in_blocks.strata == 6 and told.in_blocks.ratio == pytest.approx(told.effect, rel=0.05)
    assert "told apart: no more hours" in found.next[0]


def test_little_data_is_open_and_says_what_would_settle_it():
    operator = an_operator()
    in_turns(operator, [(12, 7), (9, 6)])
    found = asked(operator)
    assert found.state == "open" and found.verdict.startswith("The data cannot tell")
    assert " more on the air on 20m with " in found.next[0] and "in turns would settle it" in found.next[0]


def test_one_arrangement_alone_is_shown_raw_with_what_to_do():
    operator = an_operator()
    outing = an_outing(operator)
    filled(a_stint(outing, arrangement=an_arrangement(an_antenna(operator, "Wire"), "up"), minutes=75), 17)
    found = asked(operator)
    line, = found.lines
    # Source: 17 contacts in 1.25 h give 13.6 an hour, 7.9225 to 21.7749 (R's poisson.test, check value T7-A03).
    assert (found.state, line.value, line.low, line.high) == (
        "alone", 13.6, pytest.approx(7.9225, rel=1e-4), pytest.approx(21.7749, rel=1e-4)
    )
    assert line.effect is None and "Use another arrangement" in found.next[0]


def test_no_stint_is_empty():
    assert asked(an_operator()).state == "empty"


def test_what_was_never_used_together_is_not_told_apart():
    operator = an_operator()
    for day, name in enumerate(("Wire", "Whip"), 1):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00")
        way = an_arrangement(an_antenna(operator, name), "up")
        filled(a_stint(outing, arrangement=way, start=f"2026-05-{day:02} 12:00"), 10 * day)
    found = asked(operator)
    assert found.state == "apart" and not found.compares
    assert "never used on the same outing" in found.verdict
    assert found.next == (
        "To tell Whip, up from Wire, up: use them on one outing, in turns on the same band. Two stints of half an hour "
        "each make a beginning.",
    )
    other = next(line for line in found.lines if not line.is_reference)
    assert (other.effect, other.in_blocks, other.is_told) == (None, None, False) and other.reason


def test_no_contact_in_hours_of_trying_is_a_ratio_of_zero_with_an_upper_end():
    operator = an_operator()
    in_turns(operator, [(9, 0), (8, 0), (11, 0), (10, 0)])
    whip = by_label(asked(operator))["Whip, up"]
    assert not whip.is_reference and whip.why == ""
    assert whip.effect == whip.effect_low == 0 < whip.effect_high < 1


def test_better_circumstances_are_named_as_the_reason_of_a_flattering_raw_rate():
    """The whip had the better band four times of five; on each band both do the same."""
    operator = an_operator()
    ways = in_turns(operator, [(10, 10)])
    for day in range(2, 12):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00")
        bands = ("20m", "40m") if day % 5 else ("40m", "20m")
        for number, (way, band) in enumerate(zip(ways, bands, strict=True)):
            start = f"2026-05-{day:02} 12:{30 * number:02}"
            filled(a_stint(outing, arrangement=way, start=start, minutes=30, band=band), {"20m": 24, "40m": 6}[band])
    found = asked(operator)
    told = next(line for line in found.lines if not line.is_reference)
    assert told.effect_low < 1 < told.effect_high and found.state == "open"
    assert abs(told.raw_effect - 1) > 0.3
    assert "on 20m (" in told.why or "on 40m (" in told.why
    assert told.why.startswith(("Raw flatters it", "Raw wrongs it"))


def test_radios_are_compared_with_the_arrangement_held_fixed():
    operator = an_operator()
    in_turns(operator, [(12, 7), (9, 6)])
    found = asked(operator, "radio")
    assert found.state == "empty" and found.unnoted == 4 and found.also == ("arrangement",)


def test_from_four_on_raw_rates_are_drawn_together():
    operator = an_operator()
    ways = [an_arrangement(an_antenna(operator, f"Antenna {number}"), "up") for number in range(4)]
    outing = an_outing(operator)
    for number, way in enumerate(ways):
        filled(a_stint(outing, arrangement=way, start=f"2026-05-01 13:{14 * number:02}", minutes=12), 2 + 2 * number)
    lines = asked(operator).lines
    assert all(line.drawn for line in lines)
    raw, drawn = ([getattr(line, name) for line in lines] for name in ("value", "drawn"))
    assert max(one.per_h for one in drawn) <= max(raw) and min(one.per_h for one in drawn) >= min(raw)


def test_a_judgement_is_remembered_until_the_log_changes(monkeypatch):
    operator = an_operator()
    wire, _ = in_turns(operator, [(12, 7), (9, 6)])
    fits = []
    monkeypatch.setattr(pure, "_fitted", lambda design, fitted=pure._fitted: fits.append(1) or fitted(design))
    first, again = asked(operator), asked(operator)
    assert first == again and len(fits) == 1
    filled(Stint.objects.filter(arrangement=wire).first(), 1)
    assert asked(operator) != first and len(fits) == 2
    wire.name = "along the fence"
    wire.save()
    assert "Wire, along the fence" in by_label(asked(operator)) and len(fits) == 3


def test_nothing_of_an_older_version_of_the_code_is_remembered(monkeypatch):
    operator = an_operator()
    in_turns(operator, [(12, 7)])
    asked(operator)
    monkeypatch.setattr(remembering, "code_version", lambda: "another")
    fits = []
    monkeypatch.setattr(pure, "_fitted", lambda design, fitted=pure._fitted: fits.append(1) or fitted(design))
    asked(operator)
    assert fits


def test_what_is_remembered_lies_where_every_process_finds_it(settings):
    operator = an_operator()
    in_turns(operator, [(12, 7), (9, 6)])
    asked(operator)
    backend = settings.CACHES["default"]["BACKEND"]
    assert backend.endswith(("FileBasedCache", "DatabaseCache"))
    if backend.endswith("FileBasedCache"):
        assert list(Path(settings.CACHES["default"]["LOCATION"]).glob("*.djcache"))


def test_a_full_disk_costs_time_and_not_the_answer(monkeypatch):
    operator = an_operator()
    in_turns(operator, [(12, 7), (9, 6)])

    def full(*arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(remembering.cache, "set", full)
    assert asked(operator).lines


@pytest.mark.parametrize("measure", comparison.MEASURES)
def test_every_measure_answers_an_empty_log_and_one_with_stints(measure):
    operator = an_operator()
    assert asked(operator, measure=measure).state == "empty"
    in_turns(operator, [(12, 7), (9, 6)])
    found = asked(operator, measure=measure)
    assert found.verdict and (found.lines or found.state == "empty")


def test_the_demo_scenarios_known_truth_lies_within_the_intervals():
    """The year states its true rates; raw rates put the tall whip before the better dipole, the judgement does not."""
    operator = an_operator()
    loading.load(operator, datetime.date(2026, 11, 25))
    found = asked(operator)
    names = {
        f"{dict(gear.ANTENNAS)[antenna]['name']}, {fields['name']}": key
        for key, antenna, fields, _ in gear.ARRANGEMENTS
    }
    true = {line.label: scenario.BASE_PER_H[names[line.label]] for line in found.lines}
    told = [line for line in found.lines if line.is_told and not line.is_reference]
    assert len(told) >= 4
    for line in told:
        ratio = true[line.label] / true[found.reference]
        assert line.effect_low <= ratio <= line.effect_high, (line.label, ratio, line.effect_low, line.effect_high)
    dipole = next(line for line in told if names[line.label] == "dipole vee")
    assert names[found.reference] == "whip tall" and dipole.raw_effect < 1 < dipole.effect
    assert found.lines[0] == dipole and dipole.why.startswith("Raw wrongs it: answering")
    assert {names[line.label] for line in found.lines if not line.is_told} == {"whip coil", "loop"}
