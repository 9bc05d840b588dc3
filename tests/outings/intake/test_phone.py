"""What phones hand in is taken once, in any order; conflicts keep both versions."""

import datetime
import itertools
import random
import uuid

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from equipment.models import Change
from outings.field import entries
from outings.intake import phone
from outings.models import ChecklistLine, Contact, FieldEntry, Outing, Pause, Remark, Stint
from tests import making

pytestmark = pytest.mark.django_db

NOW = datetime.datetime(2026, 5, 1, 16, 0, tzinfo=datetime.UTC)


def at(minute, second=0):
    return f"2026-05-01T{13 + minute // 60:02}:{minute % 60:02}:{second:02}Z"


class Phone:
    """A phone that makes entries as the field page does."""

    def __init__(self, outing, clock_error_s=0):
        self.id, self.outing, self.acts, self.error = uuid.uuid4(), outing, {}, clock_error_s

    def entry(self, kind, subject=None, *, base=0, minute=0, action="put", **values):
        subject = subject or uuid.uuid4()
        self.acts[subject] = self.acts.get(subject, 0) + 1
        if kind not in ("pause", "outing"):
            values = {"outing": str(self.outing.uuid), **values}
        return {
            "id": str(uuid.uuid4()), "kind": kind, "action": action, "subject": str(subject), "seq": self.acts[subject],
            "base": base, "edited_at": at(minute), "values": values,
        }

    def contact(self, call="Q0XYZ", minute=5, subject=None, **more):
        values = {"call": call, "started_at": at(minute), "mode": "SSB", "band": "20m", "seconds_known": True}
        kept = {name: more.pop(name) for name in ("base", "action") if name in more}
        return self.entry("contact", subject, minute=minute, **kept, **{**values, **more})

    def stint(self, minute=0, subject=None, **more):
        values = {"started_at": at(minute), "mode": "SSB", "band": "20m", **more}
        return self.entry("stint", subject, minute=minute, **values)

    def request(self, *some):
        now = NOW + datetime.timedelta(seconds=self.error)
        return entries.Request(self.id, now, tuple(entries.read_entry(one) for one in some))


def hand_in(operator, phone_, *some):
    return phone.hand_in(operator, phone_.request(*some), now=NOW)


@pytest.fixture
def outing():
    return making.an_outing()


def test_entries_of_every_kind_are_taken_and_kept_as_they_came(outing):
    mine = Phone(outing)
    pack, radio = making.a_pack(outing.owner), making.a_radio(outing.owner)
    stint = uuid.uuid4()
    answers = hand_in(
        outing.owner, mine,
        mine.stint(0, stint, radio=radio.pk, pack=pack.pk, power_w=5, ended_at=at(60), calling="calling"),
        mine.entry("pause", stint=str(stint), started_at=at(20), ended_at=at(30)),
        mine.contact("q0xyz/p", 10, stint=str(stint), their_grid="JO22"),
        mine.contact("Q7?", 12, stint=str(stint)),
        mine.entry("reading", pack=pack.pk, at=at(15), voltage_v=13.1, doing="receiving"),
        mine.entry("remark", at=at(16), about="noise", value=4, text="power line"),
        mine.entry("tick", text="Mast", section="pack", ticked_at=at(1)),
    )
    assert [answer.outcome for answer in answers] == ["taken"] * 7
    kept = Stint.objects.get(uuid=stint)
    assert kept.on_air_s == 50 * 60 and kept.radio == radio
    contact = Contact.objects.get(call="Q0XYZ/P")
    assert contact.stint == kept and contact.distance_km > 0 and contact.station_call == outing.station_call
    assert Contact.objects.get(call="Q7?").pending
    assert pack.readings.get().voltage_v == 13.1 and Remark.objects.get().text == "power line"
    assert ChecklistLine.objects.get().ticked_at
    assert FieldEntry.objects.count() == 7
    assert FieldEntry.objects.filter(kind="contact").first().values["call"] == "q0xyz/p"


def test_the_same_entry_again_is_had_and_changes_nothing(outing):
    mine = Phone(outing)
    one = mine.contact()
    assert hand_in(outing.owner, mine, one)[0].outcome == "taken"
    again = hand_in(outing.owner, mine, one, one)
    assert [answer.outcome for answer in again] == ["had", "had"] and again[0].revision == 1
    assert Contact.objects.count() == 1 and Contact.objects.get().revision == 1


def test_many_new_contacts_cost_hardly_more_queries_than_a_few_and_one_that_is_refused_holds_up_none(outing):
    def asked(count):
        mine = Phone(outing)
        stint = mine.stint(0)
        hand_in(outing.owner, mine, stint)
        some = [mine.contact(f"Q{number}ABC", 5, stint=stint["subject"]) for number in range(count)]
        some[1]["values"]["outing"] = str(uuid.uuid4())
        with CaptureQueriesContext(connection) as queries:
            answers = hand_in(outing.owner, mine, *some)
        assert [answer.outcome for answer in answers] == ["taken", "refused", *["taken"] * (count - 2)]
        assert [answer.identity for answer in answers] == [one["id"] for one in some]
        return len(queries)

    assert asked(80) <= asked(3) + 8  # SQLite takes some 18 contacts at once
    assert Contact.objects.filter(stint__isnull=False).count() == Change.objects.filter(
        kind="outings.contact", cause="phone", action="create", leads=True
    ).count() == 81
    assert FieldEntry.objects.filter(kind="contact", revision=1, outing=outing).count() == 81


def test_new_contacts_among_other_entries_are_taken_in_the_order_of_the_request(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    stint = mine.stint(0)
    some = [
        mine.contact("Q1ABC", 1, stint=stint["subject"]), stint, mine.contact("Q2ABC", 2, stint=stint["subject"]),
        mine.contact("Q3ABC", 3, subject), mine.contact("Q3ABD", 4, subject), mine.contact("Q4ABC", 5),
    ]
    answers = hand_in(outing.owner, mine, *some)
    assert [(answer.identity, answer.outcome) for answer in answers] == [(one["id"], "taken") for one in some]
    kept = Stint.objects.get()
    assert [*Contact.objects.order_by("started_at").values_list("call", "stint", "revision")] == [
        ("Q1ABC", kept.pk, 2), ("Q2ABC", kept.pk, 1), ("Q3ABD", None, 2), ("Q4ABC", None, 1),
    ]


def test_what_another_request_stores_meanwhile_is_had_at_the_second_try(outing, monkeypatch):
    mine = Phone(outing)
    one, take = mine.contact(), phone._hand_in

    def overtaken(*asked):
        monkeypatch.setattr(phone, "_hand_in", take)
        take(*asked)
        raise IntegrityError("field_entry_once")

    monkeypatch.setattr(phone, "_hand_in", overtaken)
    assert hand_in(outing.owner, mine, one)[0].outcome == "had"
    assert Contact.objects.get().revision == 1


def test_an_edit_that_overtakes_its_first_version_stays(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    first, edit = mine.contact("Q0XYZ", 5, subject), mine.contact("Q0XYA", 6, subject)
    hand_in(outing.owner, mine, edit)
    assert hand_in(outing.owner, mine, first)[0].outcome == "taken"
    assert Contact.objects.get().call == "Q0XYA"
    assert FieldEntry.objects.get(seq=1).outcome == FieldEntry.Outcome.OLDER


def test_contacts_and_pauses_that_come_before_their_stint_find_it(outing):
    mine, stint = Phone(outing), uuid.uuid4()
    early = [
        mine.contact("Q0XYZ", 10, stint=str(stint)),
        mine.entry("pause", stint=str(stint), started_at=at(20), ended_at=at(30)),
    ]
    assert [answer.outcome for answer in hand_in(outing.owner, mine, *early)] == ["taken", "taken"]
    assert Contact.objects.get().stint is None and not Pause.objects.exists()
    hand_in(outing.owner, mine, mine.stint(0, stint, ended_at=at(60)))
    assert Contact.objects.get().stint.uuid == stint and Stint.objects.get().on_air_s == 50 * 60


def test_a_deletion_leaves_a_tombstone_and_a_later_edit_brings_it_back(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    first = mine.contact("Q0XYZ", 5, subject)
    gone = mine.contact("Q0XYZ", 6, subject, action="delete")
    back = mine.contact("Q0XYZ", 7, subject, comment="it was good after all")
    hand_in(outing.owner, mine, first, gone)
    assert not Contact.objects.exists() and Contact.everything.get().deleted_at
    hand_in(outing.owner, mine, back)
    assert Contact.objects.get().comment == "it was good after all"


def test_a_deletion_that_overtakes_its_contact_keeps_it_away(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    first, gone = mine.contact("Q0XYZ", 5, subject), mine.contact("Q0XYZ", 6, subject, action="delete")
    hand_in(outing.owner, mine, gone)
    hand_in(outing.owner, mine, first)
    assert not Contact.objects.exists()


def test_edits_of_different_columns_on_phone_and_laptop_are_both_kept(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    hand_in(outing.owner, mine, mine.contact("Q0XYZ", 5, subject))
    contact = Contact.objects.get()
    contact.name = "Ada"
    contact.keep(outing.owner)
    hand_in(outing.owner, mine, mine.contact("Q0XYZ", 6, subject, base=1, state="NO"))
    contact = Contact.objects.get()
    assert (contact.name, contact.state) == ("Ada", "NO")
    assert not FieldEntry.objects.open_conflicts().exists()


@pytest.mark.parametrize("phone_later", [True, False])
def test_the_later_edit_of_the_same_column_wins_and_the_other_is_kept(outing, phone_later):
    mine, subject = Phone(outing), uuid.uuid4()
    hand_in(outing.owner, mine, mine.contact("Q0XYZ", 5, subject))
    contact = Contact.objects.get()
    contact.name = "Ada"
    contact.keep(outing.owner)
    Change.objects.filter(subject=subject, action="change").update(
        at=NOW - datetime.timedelta(minutes=120 if phone_later else 0)
    )
    (answer,) = hand_in(outing.owner, mine, mine.contact("Q0XYZ", 120, subject, base=1, name="Eva"))
    assert answer.outcome == "taken" and answer.conflict
    conflict = FieldEntry.objects.open_conflicts().get()
    assert (Contact.objects.get().name, conflict.lost["name"]) == (("Eva", "Ada") if phone_later else ("Ada", "Eva"))
    phone.settle(outing.owner, conflict, take_lost=True)
    assert Contact.objects.get().name == ("Ada" if phone_later else "Eva")
    assert not FieldEntry.objects.open_conflicts().exists()


def test_a_phone_whose_clock_is_wrong_does_not_win_by_it(outing):
    mine, subject = Phone(outing, clock_error_s=3 * 3600), uuid.uuid4()
    hand_in(outing.owner, mine, mine.contact("Q0XYZ", 5, subject))
    contact = Contact.objects.get()
    contact.name = "Ada"
    contact.keep(outing.owner)
    Change.objects.filter(subject=subject, action="change").update(at=NOW - datetime.timedelta(minutes=10))
    # 15:50 by its clock, 12:50 in truth
    hand_in(outing.owner, mine, mine.contact("Q0XYZ", 170, subject, base=1, name="Eva"))
    assert Contact.objects.get().name == "Ada"
    assert FieldEntry.objects.latest("id").clock_error_s == 3 * 3600


def test_another_operators_outing_gear_and_rows_are_out_of_reach(outing):
    stranger = making.an_operator("Q9ZZZ")
    theirs, mine = Phone(outing), Phone(outing)
    pack = making.a_pack(outing.owner)
    subject = uuid.uuid4()
    hand_in(outing.owner, mine, mine.contact("Q0XYZ", 5, subject))
    own = making.an_outing(stranger, site=making.a_site(stranger))
    answers = hand_in(
        stranger, theirs, theirs.contact(), theirs.stint(),
        theirs.entry("reading", pack=pack.pk, at=at(1), voltage_v=13),
        theirs.contact("Q0XYZ", 6, subject, action="delete"),
        theirs.entry("outing", site=outing.site.pk, station_call="Q9ZZZ", window_start=at(0)),
    )
    assert [a.outcome for a in answers] == ["refused", "refused", "refused", "taken", "refused"]
    assert "not known here" in answers[0].reason
    assert Contact.objects.get().owner == outing.owner and Contact.objects.get().deleted_at is None
    at_own = Phone(own)
    assert hand_in(stranger, at_own, at_own.stint(radio=making.a_radio(outing.owner).pk))[0].outcome == "refused"


def test_the_next_site_is_an_outing_made_in_the_field(outing):
    mine, subject = Phone(outing), uuid.uuid4()
    following = making.a_site(outing.owner, "Gull Bank")
    made = mine.entry("outing", subject, site=following.pk, station_call="Q1ABC/P", window_start=at(90), bands=["40m"])
    there = Phone(Outing(uuid=subject))
    there.id = mine.id
    answers = hand_in(outing.owner, mine, made, there.contact("Q0XYZ", 95))
    assert [a.outcome for a in answers] == ["taken", "taken"]
    assert Outing.objects.get(uuid=subject).contacts.get().station_call == "Q1ABC/P"


def state(operator):
    """Everything that a log holds, without keys and times of storing."""
    contacts = Contact.objects.of(operator).values_list("uuid", "call", "name", "comment", "stint__uuid", "pending")
    stints = Stint.objects.of(operator).values_list("uuid", "band", "started_at", "ended_at", "on_air_s")
    return sorted(contacts, key=str), sorted(stints, key=str)


@pytest.mark.parametrize("seed", range(6))
def test_any_order_and_any_repetition_of_what_two_phones_typed_end_the_same(seed):
    """The entries of a day of two phones, shuffled, cut into requests and repeated, against the same in order."""
    chance = random.Random(seed)
    results = []
    for shuffled in (False, True):
        operator = making.an_operator(f"Q{int(shuffled)}A{'ABCDEF'[seed]}")
        outing = making.an_outing(operator, site=making.a_site(operator))
        number = itertools.count()
        made = random.Random(seed)
        acts = []
        for _ in range(2):
            one = Phone(outing)
            one.id = uuid.UUID(int=made.getrandbits(128), version=4)
            stint = uuid.UUID(int=made.getrandbits(128), version=4)
            acts.append((one, one.stint(0, stint, ended_at=at(100))))
            acts.append((one, one.entry("pause", stint=str(stint), started_at=at(30), ended_at=at(40))))
            for _ in range(12):
                subject = uuid.UUID(int=made.getrandbits(128), version=4)
                minute = made.randrange(100)
                acts.append((one, one.contact(f"Q{next(number) % 10}XY", minute, subject, stint=str(stint))))
                if made.random() < 0.4:
                    acts.append((one, one.contact("Q5EDT", minute + 1, subject, stint=str(stint), name="edited")))
                if made.random() < 0.2:
                    acts.append((one, one.contact("Q5EDT", minute + 2, subject, action="delete")))
        sent = list(acts)
        if shuffled:
            sent += chance.sample(acts, len(acts) // 2)
            chance.shuffle(sent)
        while sent:
            size = chance.randint(1, 7) if shuffled else 1
            part, sent = sent[:size], sent[size:]
            for phone_, group in itertools.groupby(part, key=lambda act: act[0]):
                answers = hand_in(operator, phone_, *[act for _, act in group])
                assert {answer.outcome for answer in answers} <= {"taken", "had"}
        for phone_, act in acts:
            assert hand_in(operator, phone_, act)[0].outcome == "had"
        results.append(state(operator))
    assert results[0] == results[1]
