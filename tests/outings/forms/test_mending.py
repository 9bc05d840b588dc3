"""The form that corrects many contacts at once."""

import datetime

import pytest
from django.core.exceptions import ValidationError

from equipment.models import Antenna, Arrangement, Change
from outings import geography
from outings.forms.mending import MendForm, NearestOutings, shift
from outings.models import Contact, Pause, Stint
from tests.making import a_contact, a_moment, a_site, a_stint, an_outing

DB = pytest.mark.django_db


def a_form(contacts, **given):
    """A valid form with what was given, for some contacts."""
    owner = contacts[0].owner
    rows = Contact.objects.filter(pk__in=[contact.pk for contact in contacts])
    form = MendForm({"stints": "follow", **given}, contacts=rows, operator=owner)
    assert form.is_valid(), form.errors
    return form


def mended(contacts, **given):
    """Preview and apply; what the preview said. The result must be what it said, column by column."""
    form = a_form(contacts, **given)
    preview = form.preview()
    before = {c.pk: c for c in Contact.objects.filter(pk__in=[c.pk for c in contacts])}
    form.keep(contacts[0].owner)
    after = {c.pk: c for c in Contact.objects.filter(pk__in=[c.pk for c in contacts])}
    told = {line.contact.pk: {c.column: (c.before, c.after) for c in line.columns} for line in preview.lines}
    really = {}
    for pk in before:
        changed = {
            column: (getattr(before[pk], column), getattr(after[pk], column)) for column in Contact.tracked()
            if getattr(before[pk], column) != getattr(after[pk], column)
        }
        for column in {"stint_id", "outing_id"} & set(changed):
            changed[column] = tuple(getattr(rows[pk], column[:-3]) for rows in (before, after))
        if changed:
            really[pk] = changed
    assert told == really
    assert preview.changing == len(really)
    return preview


def stored(row):
    return type(row).everything.get(pk=row.pk)


def an_arrangement(owner, name="sloping"):
    antenna = Antenna.objects.create(owner=owner, name="Wire")
    return Arrangement.objects.create(owner=owner, antenna=antenna, name=name)


@pytest.mark.parametrize(("typed", "minutes"), [
    ("-47 s", -47 / 60), ("2 min 30 s", 2.5), ("+95s", 95 / 60),
    ("90", 90), ("+90", 90), ("-90", -90), ("−90", -90), ("1:30", 90), ("-1:30", -90), ("2h", 120), ("-2 h", -120),
    ("1 h 30", 90), ("1h30min", 90), ("45 min", 45), ("- 45 min", -45), ("0", 0),
])
def test_a_shift_is_read_as_people_type_it(typed, minutes):
    assert shift(typed) == datetime.timedelta(minutes=minutes)


@pytest.mark.parametrize("typed", ["", "soon", "1:60", "1.5 h", "--5", "5 days", "2 min 30", "99999999", ",5", "٣"])
def test_a_shift_that_cannot_be_read_is_refused(typed):
    with pytest.raises(ValidationError):
        shift(typed)


@DB
def test_a_shift_over_utc_midnight_takes_the_day_along():
    outing = an_outing(start="2026-05-01 22:00")
    late = a_contact(outing, at="2026-05-01 23:30", ended_at=a_moment("2026-05-01 23:59:30"))
    early = a_contact(outing, call="QA7K", at="2026-05-01 21:59")
    preview = mended([late, early], shift="2 h")
    assert (preview.changing, preview.new_day) == (2, 1)
    assert (stored(late).started_at, stored(late).ended_at) == (
        a_moment("2026-05-02 01:30"), a_moment("2026-05-02 01:59:30"))
    assert stored(early).started_at == a_moment("2026-05-01 23:59")
    mended([late], shift="-2 h")
    assert stored(late).started_at == late.started_at


@DB
def test_contacts_that_leave_their_stint_by_a_shift_are_counted_and_find_another_or_none():
    first = a_stint()
    second = a_stint(first.outing, start="2026-05-01 14:00")
    stays = a_contact(stint=first, at="2026-05-01 13:05")
    moves = a_contact(stint=first, call="QA7K", at="2026-05-01 13:45")
    leaves = a_contact(stint=second, call="Q5NO", at="2026-05-01 14:50")
    preview = mended([stays, moves, leaves], shift="30")
    assert (preview.moving, preview.leaving) == (1, 1)
    assert [stored(c).stint for c in (stays, moves, leaves)] == [first, second, None]


@DB
def test_stints_that_were_wrong_too_move_with_their_contacts_and_their_pauses():
    stint = a_stint(power_w=10)
    pause = Pause(stint=stint, owner=stint.owner, started_at=a_moment("2026-05-01 13:20"),
                  ended_at=a_moment("2026-05-01 13:30"))
    pause.keep(stint.owner)
    stint.keep(stint.owner)
    contact = a_contact(stint=stint)
    bystander = a_contact(stint=stint, call="QA7K", at="2026-05-01 13:50")
    preview = mended([contact], shift="-60", power="500 mW", tuned="40m", way="cw", stints="correct")
    assert (len(preview.stints), preview.bystanders, preview.leaving) == (1, 1, 0)
    row = stored(stint)
    assert (row.started_at, row.ended_at) == (a_moment("2026-05-01 12:00"), a_moment("2026-05-01 13:00"))
    assert (row.power_w, row.band, row.mode, row.submode, row.on_air_s) == (0.5, "40m", "CW", "", 50 * 60)
    assert Pause.objects.get().started_at == a_moment("2026-05-01 12:20")
    assert (stored(contact).stint, stored(contact).started_at) == (stint, a_moment("2026-05-01 12:10"))
    assert stored(bystander).started_at == bystander.started_at


@DB
def test_a_mend_of_contacts_stints_and_pauses_is_taken_back_whole():
    stint = a_stint()
    Pause(stint=stint, owner=stint.owner, started_at=a_moment("2026-05-01 13:20"),
          ended_at=a_moment("2026-05-01 13:30")).keep(stint.owner)
    stint.keep(stint.owner)
    contact = a_contact(stint=stint)
    before = [list(rows.everything.values_list(*rows.tracked())) for rows in (Contact, Stint, Pause)]
    form = a_form([contact], shift="-60", tuned="40m", stints="correct")
    batch = form.keep(stint.owner)
    assert Change.objects.filter(batch=batch).count() == 3
    assert Change.objects.filter(batch=batch).take_back(stint.owner) == 3
    assert [list(rows.everything.values_list(*rows.tracked())) for rows in (Contact, Stint, Pause)] == before


@DB
def test_another_arrangement_takes_contacts_to_the_stint_that_had_it_or_corrects_the_stint():
    stint = a_stint()
    sloping = an_arrangement(stint.owner)
    beside = a_stint(stint.outing, arrangement=sloping)
    contact = a_contact(stint=stint)
    mended([contact], arrangement=sloping.pk)
    assert stored(contact).stint == beside
    other = an_arrangement(stint.owner, "vertical")
    preview = mended([contact], arrangement=other.pk, stints="correct")
    assert stored(beside).arrangement == other
    assert (stored(contact).stint, len(preview.stints), preview.changing) == (beside, 1, 0)
    leaves = mended([contact], arrangement=sloping.pk)
    assert (leaves.leaving, stored(contact).stint) == (1, None)


@DB
@pytest.mark.parametrize(("given", "expected"), [
    ({"tuned": "40m"}, {"band": "40m", "frequency_hz": None}),
    ({"tuned": "20m"}, {"band": "20m", "frequency_hz": 14_285_000}),
    ({"tuned": "14.3"}, {"band": "20m", "frequency_hz": 14_300_000}),
    ({"way": "ft4"}, {"mode": "MFSK", "submode": "FT4"}),
    ({"power": "0"}, {"power_w": 0}),
    ({"station_call": "q1abc/m"}, {"station_call": "Q1ABC/M"}),
    ({"operator_call": "q2def"}, {"operator_call": "Q2DEF"}),
    ({"qsl_sent": "Y"}, {"qsl_sent": "Y", "qsl_rcvd": ""}),
])
def test_a_correction_reaches_its_columns_and_no_others(given, expected):
    contact = a_contact()
    mended([contact], **given)
    row = stored(contact)
    assert {name: getattr(row, name) for name in expected} == expected


@DB
def test_a_contact_with_a_band_that_its_stint_does_not_have_leaves_it():
    contact = a_contact(stint=a_stint())
    assert mended([contact], tuned="40m").leaving == 1


def two_outings():
    """An outing with a stint and two contacts, and another at a site far away, over the same hours."""
    stint = a_stint()
    contacts = [a_contact(stint=stint, their_grid="JO31"), a_contact(stint=stint, call="QA7K", at="2026-05-01 13:45")]
    far = a_site(stint.owner, "High Moor", latitude_deg=48.1, longitude_deg=11.6)
    return stint, contacts, an_outing(site=far)


@DB
def test_contacts_moved_to_another_outing_have_its_stint_and_its_distances_and_come_back():
    stint, contacts, target = two_outings()
    there = a_stint(target, minutes=30)
    before = [stored(contact).distance_km for contact in contacts]
    preview = mended(contacts, outing=target.pk)
    assert (preview.changing, preview.moving, preview.leaving) == (2, 1, 1)
    assert [(stored(c).outing, stored(c).stint) for c in contacts] == [(target, there), (target, None)]
    way = geography.way(target.site.place, geography.place_of_grid("JO31"))
    assert stored(contacts[0]).distance_km == pytest.approx(way.distance_km)
    Change.objects.leading().first().take_back_batch(target.owner)
    assert {(stored(c).outing, stored(c).stint) for c in contacts} == {(stint.outing, stint)}
    assert [stored(contact).distance_km for contact in contacts] == before


@DB
def test_stints_move_to_the_other_outing_with_all_of_their_contacts_or_not_at_all():
    stint, contacts, target = two_outings()
    following = a_stint(stint.outing, start="2026-05-01 14:00", follows=stint)
    form = MendForm(
        {"stints": "correct", "outing": target.pk}, contacts=Contact.objects.filter(pk=contacts[0].pk),
        operator=stint.owner,
    )
    assert not form.is_valid()
    assert "have 1 more contact that was not chosen" in " ".join(form.non_field_errors())
    preview = mended(contacts, outing=target.pk, stints="correct")
    assert (len(preview.stints), preview.moving, preview.leaving) == (1, 0, 0)
    assert stored(stint).outing == target and {stored(c).stint for c in contacts} == {stint}
    assert stored(following).predecessor is None, "a boundary lies between stints of one outing"


@DB
def test_the_outings_offered_are_those_nearest_in_time(monkeypatch):
    contact = a_contact()
    monkeypatch.setattr(NearestOutings, "SHOWN", 1)
    for start in ("2024-05-01 13:00", "2026-06-01 13:00", "2027-05-01 13:00"):
        an_outing(site=contact.outing.site, start=start)
    form = MendForm(contacts=Contact.objects.all(), operator=contact.owner)
    offered = [f"{value.instance.window_start:%Y-%m-%d}" for value, _ in list(form.fields["outing"].choices)[1:]]
    assert offered == ["2026-06-01", "2026-05-01"], "its own is the one before"


@DB
def test_contacts_that_are_so_already_are_not_touched():
    contact = a_contact()
    preview = mended([contact], power="10")
    assert (preview.count, preview.changing) == (1, 0)
    assert stored(contact).revision == 1


@DB
def test_mending_many_takes_no_more_queries_than_mending_few(django_assert_max_num_queries):
    stint = a_stint()
    contacts = [a_contact(stint=stint, call=f"Q{n}ABC", at=f"2026-05-01 13:{n:02d}") for n in range(50)]
    form = a_form(contacts, shift="1", power="5")
    with django_assert_max_num_queries(10):
        form.preview()
    with django_assert_max_num_queries(14):
        form.keep(stint.owner)
    assert Contact.objects.filter(power_w=5).count() == 50


@DB
def test_distances_are_kept_by_mending():
    contact = a_contact(their_grid="JO31")
    mended([contact], power="5")
    assert stored(contact).distance_km == contact.distance_km is not None
