"""Rows that remember: keeping, deleting, bringing back, and taking changes back."""

import datetime
import uuid

import pytest

from equipment.models import CannotTakeBack, Change, Pack, PackReading, Radio
from outings.models import Contact, Outing, Site, Stint
from tests.making import an_operator

pytestmark = pytest.mark.django_db

AT = datetime.datetime(2026, 5, 1, 23, 58, 12, 345678, datetime.UTC)


def a_log(owner):
    """An outing with one kept contact in one kept stint."""
    site = Site.objects.create(
        owner=owner, name="Reed Point", latitude_deg=52, longitude_deg=13, grid="JO62ma", time_zone="Europe/Berlin"
    )
    outing = Outing(owner=owner, site=site, station_call="Q1ABC/P", window_start=AT)
    outing.keep(owner)
    stint = Stint(owner=owner, outing=outing, band="20m", mode="CW", started_at=AT)
    stint.keep(owner)
    return outing, stint, a_kept_contact(owner, outing, stint)


def a_kept_contact(owner, outing, stint, call="Q0XYZ", **fields):
    contact = Contact(
        owner=owner, outing=outing, stint=stint, call=call, started_at=AT, band="20m", mode="CW",
        station_call="Q1ABC/P", **fields
    )
    contact.keep(owner)
    return contact


def stored(contact):
    return Contact.everything.get(pk=contact.pk)


def test_keeping_a_new_row_writes_its_creation_with_all_columns():
    owner = an_operator()
    _, stint, contact = a_log(owner)
    line = contact.history().get()
    assert (line.action, line.actor, line.owner, line.revision) == ("create", owner, owner, 1)
    assert line.after["call"] == "Q0XYZ"
    assert line.after["stint_id"] == stint.pk
    assert line.after["started_at"] == "2026-05-01T23:58:12.345678+00:00"
    assert line.before == {}


def test_keeping_a_changed_row_raises_the_revision_and_writes_only_what_differs():
    owner, other = an_operator(), an_operator("Q2DEF")
    _, _, contact = a_log(owner)
    contact.band, contact.qsl_sent_on = "40m", datetime.date(2026, 5, 3)
    change = contact.keep(other, cause="mend")
    assert (change.before, change.after) == (
        {"band": "20m", "qsl_sent_on": None}, {"band": "40m", "qsl_sent_on": "2026-05-03"}
    )
    assert (change.actor, change.cause, stored(contact).revision) == (other, "mend", 2)
    assert contact.history().first() == change


def test_keeping_a_row_in_which_nothing_changed_writes_nothing():
    owner = an_operator()
    _, _, contact = a_log(owner)
    before = stored(contact).changed_at
    assert stored(contact).keep(owner) is None
    assert (stored(contact).revision, stored(contact).changed_at) == (1, before)
    assert contact.history().count() == 1


def test_a_revision_is_counted_from_what_is_stored_not_from_what_was_read():
    owner = an_operator()
    _, _, contact = a_log(owner)
    old = stored(contact)
    contact.name = "Sam"
    contact.keep(owner)
    old.comment = "late"
    old.name = "Sam"
    assert old.keep(owner).revision == 3


def test_a_withdrawn_row_is_hidden_and_comes_back():
    owner = an_operator()
    _, _, contact = a_log(owner)
    assert contact.withdraw(owner).action == "delete"
    assert not Contact.objects.filter(pk=contact.pk).exists()
    assert Contact.everything.filter(pk=contact.pk).exists()
    assert contact.bring_back(owner).action == "restore"
    assert Contact.objects.get(pk=contact.pk).revision == 3


def test_many_rows_are_kept_with_as_many_queries_as_a_few(django_assert_num_queries):
    owner = an_operator()
    outing, stint, first = a_log(owner)
    contacts = [first] + [a_kept_contact(owner, outing, stint, f"Q{n}ABC") for n in range(40)]
    batch = uuid.uuid4()
    for contact in contacts:
        contact.band, contact.stint = "40m", None
    with django_assert_num_queries(6):  # savepoint and its end, head of the batch, lock and read, update, history
        changes = Contact.keep_all(contacts, owner, cause="mend", batch=batch)
    assert len(changes) == 41
    assert set(Contact.objects.values_list("band", "stint_id", "revision")) == {("40m", None, 2)}
    assert Change.objects.filter(batch=batch).count() == 41


def test_a_page_of_history_shows_a_batch_once():
    owner = an_operator()
    _, stint, contact = a_log(owner)
    batch = uuid.uuid4()
    contact.band = stint.band = "40m"
    head = stint.keep(owner, batch=batch)
    contact.keep(owner, batch=batch)
    leading = list(Change.objects.of(owner).filter(whole=None).leading())  # the site has a line of its own
    assert leading[0] == head
    assert len(leading) == 4


def test_taking_back_a_change_restores_every_kind_of_column():
    owner = an_operator()
    outing, stint, contact = a_log(owner)
    other = Stint(owner=owner, outing=outing, band="40m", mode="CW", started_at=AT)
    other.keep(owner)
    contact.qsl_sent_on = datetime.date(2026, 5, 3)
    contact.raw = [["CALL", "", "q0xyz"]]
    contact.keep(owner)
    contact.started_at, contact.qsl_sent_on, contact.raw = AT + datetime.timedelta(hours=2), None, None
    contact.stint, contact.frequency_hz, contact.power_w, contact.pending = other, 7_030_000, 0.005, True
    change = contact.keep(owner)
    change.refresh_from_db()
    assert change.take_back(owner) == 1
    row = stored(contact)
    assert (row.started_at, row.qsl_sent_on, row.raw) == (AT, datetime.date(2026, 5, 3), [["CALL", "", "q0xyz"]])
    assert (row.stint, row.frequency_hz, row.power_w, row.pending) == (stint, None, None, False)
    assert row.history().first().cause == "take back"


def test_taking_back_a_creation_withdraws_the_row():
    owner = an_operator()
    _, _, contact = a_log(owner)
    assert contact.history().get().take_back(owner) == 1
    assert stored(contact).deleted_at


def test_taking_back_a_deletion_brings_the_row_back():
    owner = an_operator()
    _, _, contact = a_log(owner)
    contact.withdraw(owner).take_back(owner)
    assert stored(contact).deleted_at is None
    assert contact.history().first().action == "restore"


def test_taking_back_can_be_taken_back():
    owner = an_operator()
    _, _, contact = a_log(owner)
    contact.band = "40m"
    contact.keep(owner).take_back(owner)
    assert stored(contact).band == "20m"
    contact.history().first().take_back_batch(owner)
    assert stored(contact).band == "40m"


def test_a_change_of_other_columns_since_does_not_stand_in_the_way():
    owner = an_operator()
    _, _, contact = a_log(owner)
    contact.band = "40m"
    change = contact.keep(owner)
    contact.name = "Sam"
    contact.keep(owner)
    change.take_back(owner)
    assert (stored(contact).band, stored(contact).name) == ("20m", "Sam")


def test_a_column_that_moved_on_is_named_and_nothing_is_restored():
    owner = an_operator()
    _, _, contact = a_log(owner)
    contact.band, contact.mode = "40m", "SSB"
    change = contact.keep(owner)
    contact.band = "15m"
    contact.keep(owner)
    with pytest.raises(CannotTakeBack) as refused:
        change.take_back(owner)
    [conflict] = refused.value.conflicts
    assert (conflict.column, conflict.was, conflict.now) == ("band", "40m", "15m")
    assert "band was changed again since" in str(refused.value)
    assert (stored(contact).band, stored(contact).mode, stored(contact).revision) == ("15m", "SSB", 3)


def test_a_row_that_was_deleted_since_is_named():
    owner = an_operator()
    _, _, contact = a_log(owner)
    contact.band = "40m"
    change = contact.keep(owner)
    contact.withdraw(owner)
    with pytest.raises(CannotTakeBack, match="was deleted since"):
        change.take_back(owner)


def test_a_row_that_it_pointed_to_and_that_is_gone_is_named():
    owner = an_operator()
    _, stint, contact = a_log(owner)
    contact.stint = None
    change = contact.keep(owner)
    stint.withdraw(owner)
    with pytest.raises(CannotTakeBack, match="stint that it had is gone"):
        change.take_back(owner)
    radio = Radio.objects.create(owner=owner, name="Little radio")
    stint.bring_back(owner)
    stint.radio = radio
    stint.keep(owner)
    stint.radio = None
    change = stint.keep(owner)
    radio.delete()
    with pytest.raises(CannotTakeBack, match="radio that it had is gone"):
        change.take_back(owner)


def test_a_batch_is_taken_back_whole_across_models_and_repeated_changes():
    owner = an_operator()
    outing, stint, contact = a_log(owner)
    batch = uuid.uuid4()
    contact.stint, contact.band = None, "40m"
    contact.keep(owner, batch=batch)
    contact.band = "15m"
    contact.keep(owner, batch=batch)
    stint.withdraw(owner, batch=batch)
    added = a_kept_contact(owner, outing, None, "Q9NEW")
    added.name = "Kim"
    change = added.keep(owner, batch=batch)
    assert change.take_back_batch(owner) == 3
    row = stored(contact)
    assert (row.band, row.stint, Stint.objects.get().deleted_at, stored(added).name) == ("20m", stint, None, "")


def test_a_batch_with_one_conflict_is_left_whole():
    owner = an_operator()
    outing, stint, contact = a_log(owner)
    other = a_kept_contact(owner, outing, stint, "Q9NEW")
    batch = uuid.uuid4()
    contact.band = other.band = "40m"
    Contact.keep_all([contact, other], owner, batch=batch)
    other.band = "15m"
    other.keep(owner)
    lines = Change.objects.of(owner).filter(batch=batch)
    with pytest.raises(CannotTakeBack):
        lines.take_back(owner, dry_run=True)
    with pytest.raises(CannotTakeBack):
        lines.first().take_back_batch(owner)
    assert (stored(contact).band, stored(other).band) == ("40m", "15m")


def test_looking_at_what_would_be_taken_back_changes_nothing():
    owner = an_operator()
    _, _, contact = a_log(owner)
    contact.band = "40m"
    contact.keep(owner)
    assert contact.history()[:1].model.objects.filter(pk=contact.history().first().pk).take_back(owner, dry_run=True)
    assert stored(contact).band == "40m"


def test_readings_of_packs_remember_too():
    owner = an_operator()
    pack = Pack.objects.create(owner=owner, name="Pack one", chemistry="LiFePO4")
    reading = PackReading(owner=owner, pack=pack, at=AT, voltage_v=13.1)
    reading.keep(owner)
    reading.voltage_v = 13.3
    reading.keep(owner).take_back(owner)
    assert PackReading.objects.get().voltage_v == 13.1
