"""What happens to a stint: its hours, its boundaries, and the contacts that follow."""

import datetime

import pytest

from equipment.models import Change
from outings.models import Contact, Pause, Stint, StintError
from tests.making import a_contact, a_moment, a_radio, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db


def at(clock, day="2026-05-01"):
    return a_moment(f"{day} {clock}")


def fresh(row):
    return type(row).everything.get(pk=row.pk)


def begun(clock="13:00", **fields):
    return a_stint(start=f"2026-05-01 {clock}", minutes=None, **fields)


def test_a_stint_that_begins_and_stops_was_on_the_air_for_the_time_between():
    outing = an_outing()
    stint = Stint(owner=outing.owner, outing=outing, band="40m", mode="CW", power_w=5)
    stint.begin(outing.owner, at("13:00"))
    assert fresh(stint).on_air_s is None
    stint.stop(outing.owner, at("13:41:30"))
    assert fresh(stint).on_air_s == 41 * 60 + 30


def test_pauses_are_not_on_air_time():
    stint = begun()
    stint.pause(stint.owner, at("13:10"))
    assert stint.seconds_on_air(at("13:30")) == 600
    stint.resume(stint.owner, at("13:25"))
    assert stint.seconds_on_air(at("13:30")) == 900
    stint.pause(stint.owner, at("13:40"))
    stint.resume(stint.owner, at("13:45"))
    stint.stop(stint.owner, at("14:00"))
    assert fresh(stint).on_air_s == (60 - 15 - 5) * 60


def test_a_pause_still_open_at_the_stop_ends_with_the_stint():
    stint = begun()
    stint.pause(stint.owner, at("13:40"))
    stint.stop(stint.owner, at("14:00"))
    assert fresh(stint).on_air_s == 40 * 60
    assert stint.pauses.get().ended_at == at("14:00")


def test_stopping_in_the_past_cuts_pauses_that_lie_after():
    stint = begun()
    stint.pause(stint.owner, at("13:20"))
    stint.resume(stint.owner, at("13:30"))
    stint.pause(stint.owner, at("13:50"))
    stint.stop(stint.owner, at("13:25"))
    assert fresh(stint).on_air_s == 20 * 60
    assert [p.ended_at for p in stint.pauses.all()] == [at("13:25")]


def test_overlapping_pauses_from_two_devices_count_once():
    stint = a_stint(minutes=60)
    for start, end in (("13:10", "13:30"), ("13:20", "13:40")):
        Pause(stint=stint, started_at=at(start), ended_at=at(end)).save()
    assert fresh(stint).seconds_on_air() == 30 * 60


def test_what_cannot_be_is_refused_with_the_reason():
    stint = begun()
    actor = stint.owner
    for attempt, reason in [
        (lambda: stint.resume(actor, at("13:10")), "not paused"),
        (lambda: stint.pause(actor, at("12:59")), "cannot begin before"),
        (lambda: stint.stop(actor, at("13:00")), "cannot stop before"),
        (lambda: stint.follow_with(actor, at("12:00"), band="40m"), "cannot be before"),
    ]:
        with pytest.raises(StintError, match=reason):
            attempt()
    stint.pause(actor, at("13:10"))
    with pytest.raises(StintError, match="paused already"):
        stint.pause(actor, at("13:12"))
    with pytest.raises(StintError, match="began only"):
        stint.resume(actor, at("13:09"))
    stint.resume(actor, at("13:15"))
    with pytest.raises(StintError, match="went on until 13:15"):
        stint.pause(actor, at("13:14"))
    stint.stop(actor, at("14:00"))
    for attempt in (stint.pause, stint.resume, stint.stop, stint.follow_with):
        with pytest.raises(StintError, match="ended at 14:00"):
            attempt(actor, at("14:10"))


def test_a_change_ends_the_stint_and_begins_the_next_at_that_second_with_the_rest_carried_over():
    stint = begun(band="20m", frequency_hz=14_285_000, mode="SSB", submode="USB", tuner_in=True, setup_min=12)
    following = stint.follow_with(stint.owner, at("13:30:15"), band="40m", frequency_hz=None, power_w=5)
    assert fresh(stint).ended_at == following.started_at == at("13:30:15")
    assert fresh(stint).on_air_s == 30 * 60 + 15
    assert (following.band, following.frequency_hz, following.power_w) == ("40m", None, 5)
    assert (following.mode, following.submode, following.tuner_in, following.calling) == ("SSB", "USB", True, "calling")
    assert following.running and following.setup_min is None
    assert following.predecessor.pk == stint.pk


def test_a_change_some_minutes_ago_takes_the_contacts_since_along_with_band_and_mode():
    stint = begun(band="20m", frequency_hz=14_285_000, mode="SSB", submode="USB", power_w=10)
    before = a_contact(stint=stint, at="2026-05-01 13:10", rst_sent="59", rst_rcvd="57")
    since = a_contact(stint=stint, at="2026-05-01 13:40", rst_sent="59", rst_rcvd="57")
    own = a_contact(stint=stint, at="2026-05-01 13:41", frequency_hz=14_300_000, power_w=2)
    following = stint.follow_with(
        stint.owner, at("13:30"), band="40m", frequency_hz=7_030_000, mode="CW", submode="", power_w=5
    )
    assert fresh(before).stint_id == stint.pk and fresh(before).band == "20m"
    since = fresh(since)
    assert since.stint_id == following.pk
    assert (since.band, since.frequency_hz, since.mode, since.submode) == ("40m", 7_030_000, "CW", "")
    assert (since.power_w, since.rst_sent, since.rst_rcvd) == (5, "599", "57")
    own = fresh(own)  # what was typed for it alone stays
    assert (own.stint_id, own.band, own.frequency_hz, own.power_w) == (following.pk, "20m", 14_300_000, 2)


def test_a_contact_from_a_file_keeps_its_own_band_and_mode():
    from outings.models import ImportedFile

    stint = begun(band="20m", mode="FT8", submode="", frequency_hz=14_074_000)
    file = ImportedFile.objects.create(owner=stint.owner, name="digital.adi")
    contact = a_contact(
        stint=stint, at="2026-05-01 13:40", mode="FT8", submode="", frequency_hz=14_074_000, imported_by=file
    )
    stint.follow_with(stint.owner, at("13:30"), band="40m", frequency_hz=7_074_000)
    contact = fresh(contact)
    assert (contact.band, contact.frequency_hz, contact.stint_id) == ("20m", 14_074_000, None)


def test_a_change_inside_a_pause_splits_it_between_both():
    stint = begun()
    stint.pause(stint.owner, at("13:20"))
    stint.resume(stint.owner, at("13:40"))
    following = stint.follow_with(stint.owner, at("13:30"), band="40m")
    assert fresh(stint).on_air_s == 20 * 60
    following.stop(stint.owner, at("14:00"))
    assert fresh(following).on_air_s == 20 * 60


def test_a_change_while_paused_goes_on_paused():
    stint = begun()
    stint.pause(stint.owner, at("13:20"))
    following = stint.follow_with(stint.owner, at("13:30"), band="40m")
    assert fresh(stint).on_air_s == 20 * 60
    assert following.open_pause.started_at == at("13:30")
    following.resume(stint.owner, at("13:35"))
    following.stop(stint.owner, at("13:45"))
    assert fresh(following).on_air_s == 10 * 60


def two_stints(boundary="13:30", end="14:00"):
    first = begun(band="20m", frequency_hz=14_285_000)
    second = first.follow_with(first.owner, at(boundary), band="40m", frequency_hz=7_100_000)
    if end:
        second.stop(first.owner, at(end))
    return first, second


def test_a_boundary_moved_back_takes_contacts_along_and_gives_each_its_hours():
    first, second = two_stints()
    contact = a_contact(stint=first, at="2026-05-01 13:15", frequency_hz=14_285_000)
    second.move_boundary(first.owner, at("13:10"))
    assert (fresh(first).on_air_s, fresh(second).on_air_s) == (10 * 60, 50 * 60)
    assert fresh(first).ended_at == fresh(second).started_at == at("13:10")
    assert (fresh(contact).stint_id, fresh(contact).band, fresh(contact).frequency_hz) == (second.pk, "40m", 7_100_000)


def test_a_boundary_moved_forward_gives_contacts_and_pauses_back():
    first, second = two_stints()
    for start, end in (("13:32", "13:36"), ("13:38", "13:46")):
        Pause(stint=second, started_at=at(start), ended_at=at(end)).save()
    contact = a_contact(stint=second, at="2026-05-01 13:39", band="40m", frequency_hz=7_100_000)
    second.move_boundary(first.owner, at("13:40"))
    assert fresh(first).on_air_s == (40 - 4 - 2) * 60
    assert fresh(second).on_air_s == (20 - 6) * 60
    assert (fresh(contact).stint_id, fresh(contact).band) == (first.pk, "20m")


def test_a_boundary_moved_there_and_back_leaves_the_hours_as_they_were():
    first, second = two_stints()
    Pause(stint=first, started_at=at("13:10"), ended_at=at("13:25")).save()
    first.keep(first.owner)
    hours = first.on_air_s, second.on_air_s
    for clock in ("13:15", "13:30", "13:50", "13:05", "13:30"):
        second = fresh(second)
        second.move_boundary(first.owner, at(clock))
    assert (fresh(first).on_air_s, fresh(second).on_air_s) == hours == (15 * 60, 30 * 60)


def test_a_boundary_keeps_within_its_two_stints():
    first, second = two_stints()
    with pytest.raises(StintError, match="must begin later"):
        fresh(second).move_boundary(first.owner, at("13:00"))
    with pytest.raises(StintError, match="must begin before"):
        fresh(second).move_boundary(first.owner, at("14:00"))


def test_a_stint_with_none_before_moves_its_start_alone():
    stint = a_stint(minutes=60)
    early = a_contact(stint.outing, at="2026-05-01 12:50")
    stint.move_boundary(stint.owner, at("12:45"))
    assert fresh(stint).on_air_s == 75 * 60
    assert fresh(early).stint_id == stint.pk
    stint.move_boundary(stint.owner, at("12:55"))
    assert fresh(early).stint_id is None


def test_moving_a_boundary_is_one_batch_of_history_that_can_be_taken_back():
    first, second = two_stints()
    contact = a_contact(stint=first, at="2026-05-01 13:15", frequency_hz=14_285_000)
    second.move_boundary(first.owner, at("13:10"))
    change = Change.objects.filter(cause="move").leading().first()
    assert change.together().count() == 3  # both stints and the contact
    change.take_back_batch(first.owner)
    assert fresh(first).ended_at == at("13:30") and fresh(first).on_air_s == 30 * 60
    assert (fresh(contact).stint_id, fresh(contact).band) == (first.pk, "20m")


def test_two_radios_at_once_are_two_stints_with_hours_of_their_own():
    outing = an_outing()
    one, other = a_radio(outing.owner, "Low bands"), a_radio(outing.owner, "High bands")
    for radio, start in ((one, "13:00"), (other, "13:20")):
        Stint(owner=outing.owner, outing=outing, radio=radio, band="20m", mode="CW").begin(outing.owner, at(start))
    first, second = outing.stints.all()
    first.stop(outing.owner, at("14:00"))
    second.stop(outing.owner, at("14:30"))
    assert [stint.on_air_s for stint in outing.stints.all()] == [3600, 4200]


def test_one_radio_is_not_on_the_air_twice():
    outing = an_outing()
    radio = a_radio(outing.owner)
    running = a_stint(outing, minutes=None, radio=radio)
    again = Stint(owner=outing.owner, outing=outing, radio=radio, band="40m", mode="CW")
    with pytest.raises(StintError, match="on the air already from 2026-05-01 13:00:00 on UTC, on 20m USB"):
        again.begin(outing.owner, at("13:30"))
    again.started_at, again.ended_at = at("12:30"), at("13:10")
    with pytest.raises(StintError, match="on the air already"):
        again.add(outing.owner)
    again.ended_at = at("13:00")
    again.add(outing.owner)
    assert fresh(again).on_air_s == 30 * 60
    assert fresh(running).running


def test_a_stint_added_afterwards_takes_in_the_contacts_that_it_covers_and_suits():
    outing = an_outing()
    inside = a_contact(outing, at="2026-05-01 13:10")
    at_its_end = a_contact(outing, at="2026-05-01 14:00")
    other_band = a_contact(outing, at="2026-05-01 13:20", band="40m", frequency_hz=7_100_000)
    other_mode = a_contact(outing, at="2026-05-01 13:20", mode="CW", submode="")
    outside = a_contact(outing, at="2026-05-01 14:01")
    stint = Stint(
        owner=outing.owner, outing=outing, band="20m", mode="SSB", started_at=at("13:00"), ended_at=at("14:00")
    )
    stint.add(outing.owner)
    assert set(stint.contacts.all()) == {inside, at_its_end}
    assert {fresh(c).stint_id for c in (other_band, other_mode, outside)} == {None}


def test_a_time_without_seconds_belongs_to_a_stint_that_begins_within_its_minute():
    stint = a_stint(start="2026-05-01 13:00:30", minutes=10)
    contact = Contact(outing=stint.outing, started_at=at("13:00"), seconds_known=False, band="20m", mode="SSB")
    assert stint.covers(contact)
    contact.seconds_known = True
    assert not stint.covers(contact)


def test_an_edited_stint_passes_its_values_on_and_lets_go_of_contacts_that_it_no_longer_covers():
    stint = a_stint(minutes=60, frequency_hz=14_285_000)
    stays = a_contact(stint=stint, at="2026-05-01 13:10")
    leaves = a_contact(stint=stint, at="2026-05-01 13:50")
    stint.ended_at, stint.band, stint.frequency_hz = at("13:30"), "17m", 18_140_000
    stint.correct(stint.owner)
    assert fresh(stint).on_air_s == 30 * 60
    assert (fresh(stays).band, fresh(stays).frequency_hz, fresh(stays).stint_id) == ("17m", 18_140_000, stint.pk)
    assert fresh(leaves).stint_id is None
    stint.ended_at = at("13:00")
    with pytest.raises(StintError, match="later than the start"):
        stint.correct(stint.owner)


def test_a_deleted_stint_leaves_its_contacts_and_takes_them_in_when_it_comes_back():
    stint = a_stint()
    contact = a_contact(stint=stint)
    stint.withdraw(stint.owner)
    assert fresh(contact).stint_id is None and fresh(contact).band == "20m"
    fresh(stint).bring_back(stint.owner)
    assert fresh(contact).stint_id == stint.pk


def test_contacts_of_a_deleted_stint_go_to_another_that_covers_them():
    stint = a_stint()
    other = a_stint(stint.outing, start="2026-05-01 12:00", minutes=180)
    contact = a_contact(stint=stint)
    stint.withdraw(stint.owner)
    assert fresh(contact).stint_id == other.pk


def test_moving_many_contacts_costs_few_queries(django_assert_max_num_queries):
    first, second = two_stints()
    for minute in range(10, 30):
        a_contact(stint=first, at=f"2026-05-01 13:{minute}", call=f"Q{minute % 10}A{chr(65 + minute % 26)}")
    second = fresh(second)
    with django_assert_max_num_queries(60):
        second.move_boundary(first.owner, at("13:05"))
    assert second.contacts.count() == 20


def test_stints_of_others_are_not_touched():
    stint = a_stint(radio=None)
    theirs = a_stint(an_outing(an_operator("Q2DEF")), minutes=None)
    contact = a_contact(stint=theirs, at="2026-05-01 13:10")
    stint.withdraw(stint.owner)
    assert fresh(contact).stint_id == theirs.pk
    assert Stint.objects.of(stint.owner).count() == 0
    assert fresh(theirs).ended_at is None and fresh(theirs).started_at == at("13:00")


def test_a_contact_in_the_second_in_which_its_stint_began_is_in_it():
    stint = a_stint(start="2026-05-01 13:00:10")
    stint.started_at += datetime.timedelta(milliseconds=640)
    assert stint.covers(a_contact(stint.outing, at="2026-05-01 13:00:10"))
    assert not stint.covers(a_contact(stint.outing, at="2026-05-01 13:00:09"))
