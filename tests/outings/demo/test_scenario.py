"""The invented year: the same from the same seed, of the promised size, at the true rates that it states."""

import datetime
import re
from collections import Counter, defaultdict

import pytest

from equipment.physics import sweep_files
from equipment.physics.sweep import lowest
from outings import geography
from outings.demo import gear, scenario, sweeps

TODAY = datetime.date(2026, 11, 25)


@pytest.fixture(scope="module")
def year():
    return scenario.scenario(TODAY)


@pytest.fixture(scope="module")
def many():
    return [scenario.scenario(TODAY, seed) for seed in range(40)]


def stints_of(year):
    return [(outing, stint) for outing in year.outings for stint in outing.stints]


def test_the_same_day_and_seed_give_the_same_year(year):
    assert scenario.scenario(TODAY) == year
    assert scenario.scenario(TODAY, seed=1) != year


def test_another_day_moves_the_same_outings(year):
    later = scenario.scenario(TODAY + datetime.timedelta(days=7))
    assert [o.window_start - n.window_start for o, n in zip(later.outings, year.outings, strict=True)] == (
        [datetime.timedelta(days=7)] * 24
    )


def test_it_has_the_promised_size(year):
    contacts = [contact for _, stint in stints_of(year) for contact in stint.contacts]
    assert len(year.outings) == 24
    assert len({outing.site for outing in year.outings}) == len(scenario.SITES) == 8
    assert {stint.arrangement for _, stint in stints_of(year)} == set(scenario.BASE_PER_H)
    assert (len(gear.ARRANGEMENTS), len(gear.ANTENNAS), len(gear.PACKS), len(gear.RADIOS)) == (7, 4, 3, 2)
    assert 850 <= len(contacts) <= 950
    span = max(c.at for c in contacts) - min(c.at for c in contacts)
    assert datetime.timedelta(days=330) < span < datetime.timedelta(days=366)


def test_one_outing_is_still_ahead_and_the_others_are_over(year):
    *held, planned = year.outings
    assert planned.window_start.date() == TODAY + datetime.timedelta(days=5)
    assert not planned.stints and all(outing.held and outing.stints for outing in held)
    assert max(outing.window_end for outing in held).date() < TODAY


def test_every_call_sign_begins_with_q_and_looks_like_one(year):
    for _, stint in stints_of(year):
        for contact in stint.contacts:
            pattern = r"Q[A-Z]?\d[A-Z0-9/]*\?" if contact.pending else r"Q[A-Z]?\d[A-Z]{2,3}(/P)?"
            assert re.fullmatch(pattern, contact.call), contact.call


def test_contacts_lie_in_their_stints_and_not_in_a_pause(year):
    for outing, stint in stints_of(year):
        assert outing.window_start <= stint.started_at < stint.ended_at <= outing.window_end
        for contact in stint.contacts:
            assert stint.started_at <= contact.at <= stint.ended_at
            assert stint.pause is None or not stint.pause[0] <= contact.at < stint.pause[1]


def test_no_station_is_worked_twice_in_a_stint(year):
    for _, stint in stints_of(year):
        calls = Counter(contact.call for contact in stint.contacts if not contact.pending)
        assert not calls or max(calls.values()) == 1


def test_distances_are_those_that_the_bands_usually_give(year):
    distances = defaultdict(list)
    for outing, stint in stints_of(year):
        here = next(place for place in scenario.SITES if place.key == outing.site)
        for contact in stint.contacts:
            if contact.grid:
                there = geography.place_of_grid(contact.grid)
                distances[stint.band].append(geography.inverse(
                    here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg
                )[0])
    middle = {band: sorted(values)[len(values) // 2] for band, values in distances.items()}
    assert 300 < middle["40m"] < 1000 < middle["20m"] < 2600 < max(map(max, distances.values())) < 20_004


def test_the_true_rates_come_out_over_many_seeds(many):
    contacts, expected = Counter(), Counter()
    for year in many:
        for _, stint in stints_of(year):
            contacts[stint.arrangement] += len(stint.contacts)
            expected[stint.arrangement] += stint.true_per_h * stint.on_air_h
    for arrangement, count in contacts.items():
        # 40 years leave 4 % of noise at the most: 6 stints and 25 contacts a year for the rarest arrangement
        assert count / expected[arrangement] == pytest.approx(1, abs=0.12), arrangement
    assert sum(contacts.values()) / sum(expected.values()) == pytest.approx(1, abs=0.03)


def test_bursts_make_the_counts_spread_wider_than_chance_alone(many):
    spread = []
    for year in many:
        for _, stint in stints_of(year):
            mean = stint.true_per_h * stint.on_air_h
            spread.append((len(stint.contacts) - mean) ** 2 / mean)
    assert sum(spread) / len(spread) > 1.5  # 1 without bursts; mean/shape more with them


def test_raw_rates_put_the_whip_before_the_better_dipole(year):
    contacts, hours = Counter(), Counter()
    for _, stint in stints_of(year):
        contacts[stint.arrangement] += len(stint.contacts)
        hours[stint.arrangement] += stint.on_air_h
    assert scenario.BASE_PER_H["dipole vee"] > scenario.BASE_PER_H["whip tall"]
    assert contacts["dipole vee"] / hours["dipole vee"] < contacts["whip tall"] / hours["whip tall"]


def test_every_arrangement_but_one_was_swept_and_its_file_reads(year):
    drawn = sweeps.sweeps(year.outings)
    assert drawn == sweeps.sweeps(year.outings) != sweeps.sweeps(year.outings, seed=1)
    assert {sweep.arrangement for sweep in drawn} == set(scenario.BASE_PER_H) - {sweeps.NEVER}
    dips = {drawing.dips[0][0] for drawing in sweeps.DRAWINGS}
    for sweep in drawn:
        curve = sweep_files.read(sweep.content, sweep.file_name).curve
        nearest = min(abs(lowest(curve).frequency_hz / 1e6 / mhz - 1) for mhz in dips)
        assert nearest < 0.02 and not curve.remarks
