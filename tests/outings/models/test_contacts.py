"""Contacts: duplicates, distance and bearing, and the stint that each belongs to."""

import pytest

from outings import geography
from outings.models import Contact
from tests.making import a_contact, a_site, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db


def fresh(row):
    return type(row).everything.get(pk=row.pk)


@pytest.fixture
def first():
    return a_contact(call="Q0XYZ", at="2026-05-01 13:10", their_reference="QS-0001")


def repeated(first, **fields):
    """Whether a second contact with the same station, an hour later unless told otherwise, repeats the first."""
    fields = {"at": "2026-05-01 14:10", "call": first.call, **fields}
    outing = fields.pop("outing", first.outing)
    second = a_contact(outing, **fields)
    return list(Contact.objects.duplicates_of(second)) == [first]


def test_the_same_call_band_mode_family_and_utc_day_is_a_duplicate(first):
    assert repeated(first)


def test_a_duplicate_is_found_before_it_is_saved(first):
    second = Contact(
        owner=first.owner, outing=first.outing, call="Q0XYZ", started_at=first.started_at, band="20m", mode="AM",
        station_call=first.station_call,
    )
    assert list(Contact.objects.duplicates_of(second)) == [first]


@pytest.mark.parametrize(
    "other",
    [
        {"call": "Q0XYZ/P"}, {"band": "40m", "frequency_hz": 7_100_000}, {"mode": "CW", "submode": ""},
        {"mode": "FT8", "submode": ""}, {"station_call": "Q1ABC"}, {"at": "2026-05-02 00:00"},
    ],
)
def test_another_call_band_mode_family_own_call_or_utc_day_is_none(first, other):
    assert not repeated(first, **other)


@pytest.mark.parametrize(("mode", "submode"), [("SSB", "LSB"), ("FM", ""), ("AM", "")])
def test_all_voice_modes_are_one_family(first, mode, submode):
    assert repeated(first, mode=mode, submode=submode)


def test_all_digital_modes_are_one_family_apart_from_morse():
    digital = a_contact(mode="FT8", submode="")
    assert repeated(digital, mode="MFSK", submode="FT4")
    assert not repeated(digital, mode="CW", submode="", at="2026-05-01 14:20")


def test_the_day_is_the_utc_day_at_both_edges():
    outing = an_outing()
    late = a_contact(outing, at="2026-05-01 23:59:59")
    early = a_contact(outing, at="2026-05-02 00:00:00")
    again = a_contact(outing, at="2026-05-02 23:59:59")
    assert not Contact.objects.duplicates_of(late)
    assert list(Contact.objects.duplicates_of(again)) == [early]


def test_a_new_reference_of_theirs_makes_a_new_contact(first):
    assert not repeated(first, their_reference="QS-0002")
    assert repeated(first, their_reference="qs-0001", at="2026-05-01 14:20")
    assert not repeated(first, their_reference="QS-0001, QS-0003", at="2026-05-01 14:30")


def test_a_first_reference_of_theirs_makes_a_new_contact():
    without = a_contact()
    assert not repeated(without, their_reference="QS-0002")


def test_two_references_known_from_two_contacts_are_nothing_new(first):
    second = a_contact(first.outing, at="2026-05-01 14:10", their_reference="QS-0002")
    both = a_contact(first.outing, at="2026-05-01 15:10", their_reference="QS-0002,QS-0001")
    assert list(Contact.objects.duplicates_of(both)) == [first, second]


def test_another_outing_on_the_same_day_counts_by_its_own_references(first):
    site, owner = first.outing.site, first.owner
    same = an_outing(site=site, start="2026-05-01 17:00")
    assert repeated(first, outing=same, at="2026-05-01 17:10")
    more = an_outing(
        site=site, start="2026-05-01 19:00",
        references=[*site.references, {"programme": "Hills", "reference": "QH-7"}],
    )
    assert not repeated(first, outing=more, at="2026-05-01 19:10")
    none = an_outing(site=a_site(owner, "Back garden"), start="2026-05-01 20:00", references=[])
    assert not repeated(first, outing=none, at="2026-05-01 20:10")


def test_deleted_contacts_and_those_of_others_are_no_duplicates(first):
    theirs = a_contact(an_outing(an_operator("Q2DEF")), at="2026-05-01 14:10")
    assert not Contact.objects.duplicates_of(theirs)
    first.withdraw(first.owner)
    assert not repeated(first)


def test_of_two_that_repeat_each_other_only_the_earlier_stands_before(first):
    second = a_contact(first.outing, at=f"{first.started_at:%Y-%m-%d %H:%M}")
    assert not Contact.objects.duplicates_of(first).before(first)
    assert list(Contact.objects.duplicates_of(second).before(second)) == [first]


def test_looking_for_duplicates_costs_few_queries(first, django_assert_num_queries):
    for minute in range(20, 50):
        a_contact(first.outing, at=f"2026-05-01 13:{minute}", their_reference="QS-0001")
    with django_assert_num_queries(2):
        assert len(Contact.objects.duplicates_of(first)) == 30


def test_distance_and_bearing_follow_grid_and_site():
    site = a_site(latitude_deg=52.52, longitude_deg=13.37)
    contact = a_contact(an_outing(site=site), their_grid="IO91wm")
    way = geography.way(geography.Place(52.52, 13.37), geography.place_of_grid("IO91wm"))
    assert (contact.distance_km, contact.distance_error_km, contact.bearing_deg) == (
        way.distance_km, way.error_km, way.bearing_deg
    )
    assert contact.distance_error_km > 0
    contact.their_grid = ""
    contact.keep(contact.owner)
    assert fresh(contact).distance_km is None and fresh(contact).bearing_deg is None


def test_a_position_is_better_than_a_grid_and_an_unreadable_grid_is_none():
    contact = a_contact(their_grid="JO62", their_latitude_deg=51.5, their_longitude_deg=-0.1)
    assert contact.distance_error_km == 0
    assert a_contact(contact.outing, at="2026-05-01 13:20", their_grid="ZZ99").distance_km is None


def test_a_moved_site_moves_the_distances_of_its_contacts():
    site = a_site()
    contact, gridless = (
        a_contact(an_outing(site=site), their_grid="IO91wm"), a_contact(an_outing(site=site), at="2026-05-01 13:20")
    )
    site.latitude_deg = 48.1
    site.save()
    Contact.objects.of(site.owner).locate_from(site)
    moved = geography.way(geography.Place(48.1, site.longitude_deg), geography.place_of_grid("IO91wm"))
    assert fresh(contact).distance_km == pytest.approx(moved.distance_km)
    assert fresh(contact).revision == 1
    assert fresh(gridless).distance_km is None


def test_a_contact_settles_in_the_stint_that_suits_and_of_two_in_the_later_begun():
    outing = an_outing()
    early = a_stint(outing, minutes=60)
    a_stint(outing, minutes=60, band="40m")
    late = a_stint(outing, start="2026-05-01 14:00", minutes=60, frequency_hz=14_300_000)
    contact = Contact(owner=outing.owner, outing=outing, started_at=late.started_at, band="20m", mode="SSB")
    assert contact.settle() == late  # the boundary belongs to the stint that begins there
    assert (contact.frequency_hz, contact.power_w) == (14_300_000, 10)
    contact.started_at = early.started_at
    assert contact.settle() == early
    contact.mode = "CW"
    assert contact.settle() is None
