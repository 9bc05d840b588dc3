"""Stints as observations: split at hour blocks by the sun, without pauses, and nothing compared that is held fixed."""

import datetime

import pytest

from outings.models import Contact, Pause, Stint, SwitchingPlan
from outings.queries import observing
from tests.making import (
    a_band_setting,
    a_contact,
    a_moment,
    a_pack,
    a_radio,
    a_site,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def outing():
    """At 15 degrees east, where the mean sun is an hour ahead of UTC."""
    return an_outing(site=a_site(longitude_deg=15.0))


def seen(outing, by="arrangement", more=(), **options):
    return observing.observed(outing.owner, Stint.objects.all(), by, more, **options)


def used(outing, name="Wire", **fields):
    return a_stint(outing, arrangement=an_arrangement(an_antenna(outing.owner, name), "up"), **fields)


def test_a_stint_within_an_hour_block_is_one_observation(outing):
    stint = used(outing, start="2026-05-01 12:00", minutes=60)  # 13 to 14 h by the sun
    for call in ("Q1A", "Q1B"):
        a_contact(stint=stint, call=call)
    a_contact(stint=stint, call="Q1?", pending=True)
    one, = seen(outing).observations()
    assert (one.arrangement, one.contacts, one.on_air_h, one.stint) == ("Wire, up", 2, 1.0, f"{stint.pk}")
    assert one.block == (outing.pk, "20m", "SSB", 3, "calling")


def test_a_stint_that_crosses_a_block_is_split_with_its_contacts_and_stays_one_cluster(outing):
    stint = used(outing, start="2026-05-01 14:30", minutes=60)  # 15:30 to 16:30 by the sun
    for minute in (31, 40, 59):
        a_contact(stint=stint, call=f"Q1A{minute}", at=f"2026-05-01 14:{minute}")
    a_contact(stint=stint, call="Q1B", at="2026-05-01 15:00")
    first, second = seen(outing).observations()
    assert (first.contacts, first.on_air_h, first.block[3]) == (3, 0.5, 3)
    assert (second.contacts, second.on_air_h, second.block[3]) == (1, 0.5, 4)
    assert first.stint == second.stint


def test_the_boundary_is_at_the_sites_own_sun():
    """At 30 degrees west the sun is two hours behind UTC: 13:30 to 14:30 UTC crosses noon there."""
    outing = an_outing(site=a_site(longitude_deg=-30.0))
    used(outing, start="2026-05-01 13:30", minutes=60)
    assert [one.block[3] for one in seen(outing).observations()] == [2, 3]


def test_midnight_by_the_sun_ends_a_block_and_begins_the_first(outing):
    used(outing, start="2026-05-01 22:30", minutes=60)
    assert [one.block[3] for one in seen(outing).observations()] == [5, 0]


def test_pauses_are_taken_from_the_part_that_they_lie_in(outing):
    stint = used(outing, start="2026-05-01 14:30", minutes=60)
    for start, end in (("14:40", "14:50"), ("14:55", "15:10")):
        Pause(
            owner=outing.owner, stint=stint, started_at=a_moment(f"2026-05-01 {start}"),
            ended_at=a_moment(f"2026-05-01 {end}"),
        ).keep(outing.owner)
    stint.keep(outing.owner)
    first, second = seen(outing).observations()
    assert (first.on_air_h * 60, second.on_air_h * 60) == pytest.approx((15, 20))
    assert (first.on_air_h + second.on_air_h) * 3600 == pytest.approx(stint.on_air_s)


def test_a_part_that_was_all_pause_gives_its_contacts_to_the_part_beside_it(outing):
    stint = used(outing, start="2026-05-01 14:30", minutes=60)
    a_contact(stint=stint, call="Q1A", at="2026-05-01 15:05")
    Pause(
        owner=outing.owner, stint=stint, started_at=a_moment("2026-05-01 15:00"), ended_at=a_moment("2026-05-01 15:30")
    ).keep(outing.owner)
    stint.keep(outing.owner)
    one, = seen(outing).observations()
    assert (one.contacts, one.on_air_h, one.block[3]) == (1, 0.5, 3)


def test_a_stint_that_runs_counts_up_to_now_without_its_pause(outing):
    stint = used(outing, start="2026-05-01 12:00", minutes=None)
    a_contact(stint=stint, call="Q1A", at="2026-05-01 12:10")
    Pause(owner=outing.owner, stint=stint, started_at=a_moment("2026-05-01 12:20")).keep(outing.owner)
    found = seen(outing, now=a_moment("2026-05-01 12:50"))
    one, = found.observations()
    assert (one.contacts, one.on_air_h * 60) == (1, pytest.approx(20))
    assert next(iter(found.groups.values())).running == 1


def test_what_is_left_out_is_counted(outing):
    a_stint(outing, start="2026-05-01 09:00")
    stint = used(outing, start="2026-05-01 10:00", minutes=30)
    Stint.objects.filter(pk=stint.pk).update(on_air_s=0)
    used(outing, "Whip", start="2026-05-01 11:00", inferred=True)
    found = seen(outing)
    assert (found.unnoted, found.timeless, [group.label for group in found.groups.values()]) == (1, 1, ["Whip, up"])
    assert next(iter(found.groups.values())).inferred == 1


@pytest.mark.parametrize("by", observing.WAYS)
def test_what_is_compared_is_never_held_fixed(outing, by):
    """Two stints that differ in all that can be compared, and were made on the same outing in the same hour."""
    owner = outing.owner
    for number, (band, mode, submode) in enumerate([("20m", "SSB", "USB"), ("40m", "CW", "")]):
        antenna = an_antenna(owner, f"Antenna {number}")
        arrangement = an_arrangement(antenna, "up", tap=f"{number}", feedpoint_height_m=number + 1.0)
        a_band_setting(arrangement, band)
        a_stint(
            outing, start=f"2026-05-01 12:{30 * number:02}", minutes=20, band=band, mode=mode, submode=submode,
            arrangement=arrangement, radio=a_radio(owner, f"Radio {number}"), pack=a_pack(owner, f"Pack {number}"),
            power_w=5 + number,
        )
    found = seen(outing, by, more=(*observing.HOLDABLE, "nonsense"))
    first, second = found.observations()
    assert first.arrangement != second.arrangement and len(first.block) == 5 + len(found.also)
    assert by not in found.also and "nonsense" not in found.also
    if by in ("antenna", "tap", "height"):
        assert "arrangement" not in found.also  # it decides them
    place = {"band": 1, "mode": 2}.get(by)
    for at in (1, 2):
        assert (first.block[at] != second.block[at]) == (at != place)
    assert len(found.also_held) == len(found.also) and set(observing.WAYS[by].also) <= set(found.also)


def test_things_of_the_same_name_stay_two(outing):
    for hour in (9, 10):
        used(outing, "Wire", start=f"2026-05-01 {hour:02}:00")
    labels = [group.label for group in seen(outing).groups.values()]
    assert sorted(labels) == ["Wire, up", "Wire, up (2)"]


def test_one_band_alone_is_asked_without_reading_again(outing, django_assert_num_queries):
    for hour, band in ((9, "20m"), (10, "40m"), (11, "20m")):
        used(outing, f"Wire {hour}", start=f"2026-05-01 {hour:02}:00", band=band)
    found = seen(outing)
    with django_assert_num_queries(0):
        alone = found.on_band("20m")
        assert [group.label for group in alone.groups.values()] == ["Wire 9, up", "Wire 11, up"]
        assert {one.block[1] for one in alone.observations()} == {"20m"}


def test_another_operators_stints_and_contacts_never_count(outing):
    stint = used(outing, start="2026-05-01 12:00")
    a_contact(stint=stint, call="Q1A")
    other = an_operator("Q2DEF")
    used(an_outing(other), "Theirs")
    Contact.objects.filter(pk=a_contact(stint=stint, call="Q1B").pk).update(owner=other)  # a guest's, in my stint
    one, = seen(outing).observations()
    assert (one.arrangement, one.contacts) == ("Wire, up", 1)


def test_many_stints_take_as_many_queries_as_one(outing, django_assert_num_queries):
    stint = used(outing, start="2026-05-01 14:30")
    a_contact(stint=stint, call="Q1A")
    with django_assert_num_queries(3):  # stints with counts; contacts and pauses of those that are split
        seen(outing)
    for day in range(2, 14):
        more = an_outing(site=outing.site, start=f"2026-05-{day:02} 13:00")
        a_stint(more, start=f"2026-05-{day:02} 14:30", arrangement=stint.arrangement)
    with django_assert_num_queries(3):
        found = seen(outing)
    assert len(found.pieces) == 26


def test_without_a_stint_to_split_one_query_is_enough(outing, django_assert_num_queries):
    used(outing, start="2026-05-01 12:00")
    with django_assert_num_queries(1):
        seen(outing)


def test_hours_are_those_of_the_stints_whatever_the_longitude():
    for longitude_deg in (-179.9, -77.3, 0.0, 13.37, 179.9):
        owner = an_operator(f"Q1T{int(longitude_deg) + 200}")
        outing = an_outing(site=a_site(owner, longitude_deg=longitude_deg))
        start = a_moment("2026-05-01 00:00")
        for number in range(12):
            begun = start + datetime.timedelta(minutes=97 * number)
            used(outing, f"Wire {number}", start=f"{begun:%Y-%m-%d %H:%M}", minutes=90)
        found = observing.observed(owner, Stint.objects.all())
        assert sum(piece.on_air_s for piece in found.pieces) == pytest.approx(12 * 5400)
        assert all(0 <= piece.block[3] < 6 for piece in found.pieces)


def test_stints_of_one_round_of_a_fair_test_are_paired(outing):
    plan = SwitchingPlan(
        owner=outing.owner, outing=outing, minutes=60, block_min=10, change_min=0, order="ABBA", seed=1
    )
    ways = [an_arrangement(an_antenna(outing.owner, name), "up") for name in ("Wire", "Whip")]
    plan.make(outing.owner, ways)
    for number, block in enumerate(plan.blocks.all()[:4]):
        a_stint(outing, start=f"2026-05-01 12:{10 * number:02}", minutes=9, arrangement=block.arrangement, block=block)
    a_stint(outing, start="2026-05-01 13:00", minutes=9, arrangement=ways[0])
    pairs = [one.pair for one in sorted(seen(outing).observations(), key=lambda one: int(one.stint))]
    assert pairs[0] == pairs[1] != pairs[2] == pairs[3] and pairs[0].startswith(f"{plan.pk}/") and pairs[4] == ""
