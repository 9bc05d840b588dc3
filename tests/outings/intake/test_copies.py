"""What waits on a phone comes in with its copy: once, by the same door, and only into the log that it belongs to."""

import json
import uuid

import pytest
from django.core.files.base import ContentFile

from equipment.models import PackReading
from outings.intake import importing, preview, uploads
from outings.models import Contact, FieldEntry, Outing, Remark, Stint
from tests import making
from tests.outings.intake.test_phone import Phone, at, hand_in

pytestmark = pytest.mark.django_db


def a_field(name, text):
    return f"<APP_STATIONLOG_{name}:{len(text)}:S>{text} \n"


def a_copy(entries, phone_id, contacts=()):
    """The file that a phone saves; `contacts` are (call, UUID)."""
    records = "".join(
        f"<CALL:{len(call)}>{call} <QSO_DATE:8>20260501 <TIME_ON:6>130500 <BAND:3>20m <MODE:3>SSB "
        f"<STATION_CALLSIGN:7>Q1ABC/P <MY_GRIDSQUARE:6>JO62QM "
        f"{a_field('UUID', str(identity)).strip()}<EOR>\n" for call, identity in contacts
    )
    text = entries if isinstance(entries, str) else json.dumps(entries)
    return f" A copy\n<ADIF_VER:5>3.1.7 \n{a_field('PHONE', str(phone_id))}{a_field('ENTRIES', text)}<EOH>\n{records}"


def imported(operator, text):
    """Stage, read and import a file; what was done."""
    staged = uploads.stage(operator, ContentFile(text.encode(), name="copy.adi"))
    preview.read_through(staged)
    assert staged.status == staged.Status.READ, staged.message
    staged.status = staged.Status.IMPORTING
    staged.save()
    importing.carry_out(staged)
    assert staged.status == staged.Status.IMPORTED, staged.message
    return {name: count for name, count in staged.summary["result"].items() if count}


@pytest.fixture
def outing():
    return making.an_outing()


def test_everything_that_waited_comes_in_once_and_the_phone_hands_in_nothing_new(outing):
    mine, stint, contact = Phone(outing), uuid.uuid4(), uuid.uuid4()
    pack = making.a_pack(outing.owner)
    entries = [
        mine.contact("Q0XYZ", 5, contact, stint=str(stint)), mine.stint(0, stint, ended_at=at(60)),
        mine.entry("reading", pack=pack.pk, at=at(15), voltage_v=13.1), mine.entry("remark", at=at(16), text="wind"),
    ]
    copy = a_copy(entries, mine.id, [("Q0XYZ", contact)])
    assert imported(outing.owner, copy) == {"handed_in": 4, "known": 1}
    assert Contact.objects.get().stint == Stint.objects.get() and not Stint.objects.get().inferred
    assert PackReading.objects.get().voltage_v == 13.1 and Remark.objects.get().text == "wind"
    assert [answer.outcome for answer in hand_in(outing.owner, mine, *entries)] == ["had"] * 4
    assert imported(outing.owner, copy) == {"known": 1}


def test_an_outing_made_in_the_field_comes_before_what_was_typed_there(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    there = Phone(Outing(uuid=subject))
    site = making.a_site(outing.owner, "Gull Bank")
    made = mine.entry("outing", subject, site=site.pk, station_call="Q1ABC/P", window_start=at(90))
    assert imported(outing.owner, a_copy([mine.contact("Q7ABC"), there.contact("Q0XYZ", 95), made], mine.id)) == {
        "handed_in": 3,
    }
    assert Outing.objects.get(uuid=subject).contacts.get().call == "Q0XYZ"


def test_more_than_a_request_takes_comes_in_all_the_same_and_refused_entries_are_counted(outing):
    mine = Phone(outing)
    entries = [mine.entry("remark", at=at(1), text=f"note {number}") for number in range(501)]
    entries.append(mine.entry("remark", at="yesterday", text="when?"))
    assert imported(outing.owner, a_copy(entries, mine.id)) == {"handed_in": 501, "not_taken": 1}
    assert Remark.objects.count() == 501


def test_the_copy_of_another_log_brings_its_contacts_alone(outing):
    mine, contact = Phone(outing), uuid.uuid4()
    pack = making.a_pack(outing.owner)
    entries = [mine.contact("Q0XYZ", 10, contact), mine.entry("reading", pack=pack.pk, at=at(15), voltage_v=13.1)]
    stranger = making.an_operator("Q9ZZZ")
    result = imported(stranger, a_copy(entries, mine.id, [("Q0XYZ", contact)]))
    assert result["new"] == 1 and "handed_in" not in result
    assert Contact.objects.get().owner == stranger and not PackReading.objects.exists()
    assert not FieldEntry.objects.exists()


@pytest.mark.parametrize("entries", ["{", "5", "[5, null]", '[{"kind": {}}]', "[" * 5000, '{"kind": "contact"}'])
def test_a_broken_field_is_passed_over_and_the_contacts_come_in(outing, entries):
    result = imported(outing.owner, a_copy(entries, "no phone", [("Q0XYZ", uuid.uuid4())]))
    assert result["new"] == 1 and Contact.objects.get().call == "Q0XYZ" and not FieldEntry.objects.exists()


def test_a_copy_of_a_phone_that_handed_in_before_is_known_by_it(outing):
    mine, elsewhere = Phone(outing), uuid.uuid4()
    hand_in(outing.owner, mine, mine.contact("Q7ABC"))
    site = making.a_site(outing.owner, "Gull Bank")
    made = mine.entry("outing", elsewhere, site=site.pk, station_call="Q1ABC/P", window_start=at(90))
    assert imported(outing.owner, a_copy([made], mine.id)) == {"handed_in": 1}
    assert Outing.objects.get(uuid=elsewhere).site == site
    assert FieldEntry.objects.latest("id").phone == mine.id
