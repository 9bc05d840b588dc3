"""The figures of the performance page: what counts, in which group, up to when, and whose."""

import datetime
import random
import statistics

import pytest
from django.utils import timezone

from outings.evidence import distances, rates
from outings.models import Contact, Pause, Stint
from outings.queries import performance
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


def located(stint, call, km, bearing=10.0, **fields):
    """A contact at a distance and bearing, whatever its grid would give."""
    contact = a_contact(stint=stint, call=call, **fields)
    Contact.objects.filter(pk=contact.pk).update(distance_km=km, distance_error_km=2.0, bearing_deg=bearing)
    return contact


def found_for(operator, by="arrangement", **options):
    return performance.performance(operator, Stint.objects.of(operator), by, **options)


def by_label(found):
    return {group.label: group for group in found.groups}


def test_a_group_has_its_hours_contacts_and_rate():
    outing = an_outing()
    arrangement = an_arrangement(an_antenna(outing.owner, "Wire"), "sloping")
    stint = a_stint(outing, arrangement=arrangement, minutes=75)
    a_stint(outing, arrangement=arrangement, start="2026-05-01 15:00", minutes=45)
    for number in range(17):
        a_contact(stint=stint, call=f"Q{number % 10}AB{'CD'[number // 10]}")
    group = by_label(found_for(outing.owner))["Wire, sloping"]
    assert (group.stints, group.contacts, group.on_air_h) == (2, 17, 2.0)
    assert group.rate == rates.rate(17, 2.0)
    assert (group.with_position, group.without_position, group.median, group.farthest) == (0, 17, None, None)


def test_distances_count_only_where_they_are_known():
    stint = a_stint()
    numbers = random.Random(2)
    km = [round(numbers.uniform(50, 9000), 3) for _ in range(21)]
    for number, distance in enumerate(km):
        located(stint, f"Q1A{chr(65 + number)}", distance)
    a_contact(stint=stint, call="Q9ZZZ")
    group = found_for(stint.owner).groups[0]
    assert (group.contacts, group.with_position, group.without_position) == (22, 21, 1)
    assert group.median == distances.quantile(km)
    assert group.median.value == statistics.median(km)
    assert group.upper_tenth == distances.quantile(km, 0.9)
    assert group.farthest.distance_km == max(km)
    assert group.farthest.call == f"Q1A{chr(65 + km.index(max(km)))}"
    assert group.km_per_watt.value == pytest.approx(statistics.median(km) / 10)
    assert group.ordered_km == tuple(sorted(km))


def test_doubtful_and_deleted_contacts_do_not_count():
    stint = a_stint()
    a_contact(stint=stint, call="Q1AAA")
    a_contact(stint=stint, call="Q1A?A", pending=True)
    a_contact(stint=stint, call="Q1BBB").withdraw(stint.owner)
    group = found_for(stint.owner).groups[0]
    assert (group.contacts, group.doubtful) == (1, 1)


def test_a_deleted_stint_does_not_count():
    outing = an_outing()
    a_stint(outing).withdraw(outing.owner)
    assert found_for(outing.owner).groups == ()


def test_contacts_in_no_stint_are_counted_apart():
    stint = a_stint()
    a_contact(stint.outing, call="Q1AAA")
    a_contact(stint.outing, call="Q1A?B", pending=True)
    found = found_for(stint.owner)
    assert (found.stintless, found.total.contacts) == (1, 0)


def test_a_running_stint_counts_up_to_now_without_its_pauses():
    stint = a_stint(minutes=None)
    Pause.objects.create(stint=stint, started_at=a_moment("2026-05-01 13:20"), ended_at=a_moment("2026-05-01 13:35"))
    a_contact(stint=stint)
    group = found_for(stint.owner, now=a_moment("2026-05-01 14:00")).groups[0]
    assert (group.on_air_h, group.running, group.rate.per_h) == (0.75, 1, pytest.approx(4 / 3))


def test_a_stint_without_time_has_no_rate():
    stint = a_stint(minutes=0)
    group = found_for(stint.owner).groups[0]
    assert (group.on_air_h, group.rate) == (0, None)


def test_inferred_hours_are_told_apart():
    outing = an_outing()
    a_stint(outing, minutes=60)
    a_stint(outing, start="2026-05-01 15:00", minutes=30, inferred=True, inferred_rule="gaps of 15 minutes")
    group = found_for(outing.owner).groups[0]
    assert (group.stints, group.inferred, group.on_air_h, group.inferred_h) == (2, 1, 1.5, 0.5)


def test_two_radios_at_once_have_each_their_hours():
    outing = an_outing()
    for name in ("Left", "Right"):
        a_stint(outing, radio=a_radio(outing.owner, name))
    found = found_for(outing.owner, "radio")
    assert {label: group.on_air_h for label, group in by_label(found).items()} == {"Left": 1.0, "Right": 1.0}
    assert found.total.on_air_h == 2.0


def test_stints_are_grouped_by_each_dimension_and_the_key_finds_them_again():
    owner = an_operator()
    wire, whip = an_antenna(owner, "Wire"), an_antenna(owner, "Whip")
    flat = an_arrangement(wire, "flat", tap="2", feedpoint_height_m=3)
    a_band_setting(flat, "40m", tap="5")
    outings = [an_outing(site=a_site(owner, "Reed Point")),
               an_outing(site=a_site(owner, "Crow Hill"), solar_flux=120, k_index=2)]
    made = [
        {"arrangement": flat, "radio": a_radio(owner, "Small"), "pack": a_pack(owner, "One"),
         "power_w": 5, "band": "40m", "mode": "CW", "submode": "", "calling": "calling"},
        {"arrangement": an_arrangement(wire, "steep"), "radio": a_radio(owner, "Large"), "other_source": "mains",
         "power_w": 0.5, "band": "20m", "mode": "SSB", "submode": "LSB", "calling": "answering"},
        {"arrangement": an_arrangement(whip, "short", tap="2"), "pack": a_pack(owner, "Two"), "power_w": None,
         "band": "", "mode": "MFSK", "submode": "FT4", "calling": ""},
        {"arrangement": None, "power_w": 5, "band": "20m", "mode": "SSB", "submode": "USB", "calling": "both"},
    ]
    for number, fields in enumerate(made):
        a_stint(outings[number % 2], start=f"2026-05-01 1{number}:00", **fields)
    labels = {
        "arrangement": {"Wire, flat", "Wire, steep", "Whip, short", "no arrangement noted"},
        "antenna": {"Wire", "Whip", "no antenna noted"},
        "radio": {"Small", "Large", "no radio noted"},
        "pack": {"One", "Two", "mains", "no source noted"},
        "power": {"5 W", "500 mW", "no power noted"},
        "tap": {"tap 5", "tap 2", "no tap noted"},
        "height": {"3\u00a0m high", "no height noted"},
        "band": {"40m", "20m", "no band noted"},
        "mode": {"CW", "SSB", "FT4"},
        "site": {"Reed Point", "Crow Hill"},
        "calling": {"calling", "answering", "both", "not noted"},
        "light": {"day"},
        "season": {"spring"},
        "solar_flux": {"no solar flux noted", "middle"},
        "k_index": {"no K index noted", "quiet"},
    }
    assert set(labels) == set(performance.DIMENSIONS)
    for by, dimension in performance.DIMENSIONS.items():
        found = found_for(owner, by)
        assert {group.label for group in found.groups} == labels[by], by
        for group in found.groups:
            again = Stint.objects.of(owner).filter(dimension.where(group.key))
            assert again.count() == group.stints, (by, group.key)
        assert sum(group.stints for group in found.groups) == found.total.stints == 4
        assert Stint.objects.of(owner).filter(dimension.where("no such key")).count() == 0


def test_bands_stand_by_frequency_and_powers_by_size():
    outing = an_outing()
    for number, (band, power_w) in enumerate([("15m", 10), ("40m", 0.5), ("", None), ("2m", 5)]):
        a_stint(outing, start=f"2026-05-01 1{number}:00", band=band, power_w=power_w)
    assert [group.label for group in found_for(outing.owner, "band").groups] == ["40m", "15m", "2m", "no band noted"]
    assert [group.label for group in found_for(outing.owner, "power").groups] == [
        "500 mW", "5 W", "10 W", "no power noted",
    ]


def test_another_operators_stints_and_contacts_never_count():
    stint = a_stint()
    mine = a_contact(stint=stint, call="Q1AAA")
    other = an_operator("Q2DEF")
    theirs = a_stint(an_outing(other))
    a_contact(stint=theirs, call="Q1BBB")
    Contact.objects.filter(pk=a_contact(stint=stint, call="Q1CCC").pk).update(owner=other)  # a guest's, in my stint
    found = performance.performance(stint.owner, Stint.objects.all())
    assert (found.total.stints, found.total.contacts) == (1, 1)
    assert mine.owner == stint.owner


def test_directions_are_counted_by_eighths_of_the_compass():
    stint = a_stint()
    for call, bearing in (("Q1AAA", 350.0), ("Q1BBB", 22.4), ("Q1CCC", 22.5), ("Q1DDD", 180.0)):
        located(stint, call, 500.0, bearing)
    located(stint, "Q1EEE", 0.0, None)
    found = found_for(stint.owner)
    assert {sector.name: sector.contacts for sector in found.sectors if sector.contacts} == {
        "north": 2, "north-east": 1, "south": 1,
    }
    assert found.groups[0].directions.n == 4
    assert found.groups[0].with_position == 5


def test_the_map_has_a_dot_for_each_contact_or_for_each_cell_of_many():
    stint = a_stint()
    located(stint, "Q1AAA", 800.0, 45.0)
    few = found_for(stint.owner)
    assert [(dot.distance_km, dot.bearing_deg, dot.contacts) for dot in few.dots] == [(800.0, 45.0, 1)]
    assert (few.centre.label, few.centre.latitude_deg) == (stint.outing.site.name, stint.outing.site.latitude_deg)
    numbers = random.Random(3)
    Contact.objects.bulk_create(
        Contact(
            owner=stint.owner, outing=stint.outing, stint=stint, call="Q1AAA", started_at=stint.started_at, band="20m",
            station_call="Q1ABC", distance_km=numbers.uniform(0, 20_000), bearing_deg=numbers.uniform(0, 359.9),
        )
        for _ in range(performance.DOTS + 400)
    )
    many = found_for(stint.owner)
    assert sum(dot.contacts for dot in many.dots) == performance.DOTS + 401
    assert len(many.groups[0].ordered_km) == performance.POINTS
    assert many.groups[0].with_position == performance.DOTS + 401


def test_an_operator_without_stints_has_no_figures():
    found = found_for(an_operator(home_grid=""))
    assert (found.groups, found.dots, found.centre, found.total.rate) == ((), (), None, None)


def test_the_figures_take_as_many_queries_for_many_stints_as_for_one(django_assert_num_queries):
    stint = a_stint()
    located(stint, "Q1AAA", 700.0)
    with django_assert_num_queries(4):  # stints with contacts, the farthest, the site, contacts in no stint
        found_for(stint.owner)
    for number in range(12):
        more = a_stint(an_outing(stint.owner), arrangement=an_arrangement(an_antenna(stint.owner), f"way {number}"))
        located(more, f"Q2A{chr(65 + number)}", 100.0 + number)
    with django_assert_num_queries(4):
        found_for(stint.owner)
    for _ in range(3):
        a_stint(an_outing(stint.owner), minutes=None)
    with django_assert_num_queries(6):  # those that run, and their pauses
        found_for(stint.owner, now=timezone.now() + datetime.timedelta(hours=1))


def test_the_stints_behind_a_figure_take_four_queries(django_assert_num_queries):
    stint = a_stint()
    a_contact(stint=stint)
    a_contact(stint=stint, call="Q1A?A", pending=True)
    a_stint(stint.outing, start="2026-05-01 15:00")
    with django_assert_num_queries(4):  # which stints, all of them, their pauses, how many there are
        found = performance.stints_behind(Stint.objects.of(stint.owner)).stints
        assert [(row.outing.site.name, row.contact_count, row.seconds_on_air()) for row in found] == [
            ("Reed Point", 0, 3600), ("Reed Point", 1, 3600),
        ]


def test_the_stints_behind_a_figure_come_in_pages_forth_and_back():
    outing = an_outing()
    begun = [a_stint(outing, start=f"2026-05-01 {12 + number // 2}:00").pk for number in range(5)]  # pairs at once
    stints, seen, after = Stint.objects.of(outing.owner), [], ""
    while after is not None:
        page = performance.stints_behind(stints, after=after, size=2)
        seen.append([stint.pk for stint in page.stints])
        before, after = page.previous, page.next
    assert seen == [begun[:2:-1], begun[2:0:-1], begun[:1]] and page.count == 5
    assert [stint.pk for stint in performance.stints_behind(stints, before=before, size=2).stints] == begun[2:0:-1]
    assert [stint.pk for stint in performance.stints_behind(stints, after="nonsense", size=2).stints] == begun[:2:-1]
