"""Shared outings: inviting and answering, logging as a member, and what of the owner's a member never reaches."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from equipment.models import Change
from outings.models import Contact, Outing, OutingMember, Stint
from tests.making import (
    a_contact,
    a_kit,
    a_member,
    a_pack,
    a_radio,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)
from tests.outings.intake.test_phone import Phone, hand_in
from tests.stationlog.test_access import ROUTES, everything_kept
from tests.stationlog.test_access import address as filled

pytestmark = pytest.mark.django_db

LOG = {  # what a member reaches of an outing
    "log", "log_figures", "log_announce", "contact_log", "contact_known", "contact_strays", "contact_mend",
    "contact_take_back", "stint_begin", "stint_add", "stint_correct", "stint_change", "stint_pause", "stint_resume",
    "stint_stop", "stint_boundary", "stint_delete",
}


@pytest.fixture
def outing():
    owner = an_operator()
    kit = a_kit(owner, items=[a_radio(owner, "Little radio")])
    return an_outing(owner, kit=kit)


@pytest.fixture
def member(outing):
    return a_member(outing)


def address(name, *args):
    return reverse(f"outings:{name}", args=args)


def begin(client, outing, **data):
    data = {"begin-tuning": "20m", "begin-mode_typed": "CW", "begin-at": "", **data}
    return client.post(address("stint_begin", outing.pk), data)


def test_an_operator_is_invited_joins_and_is_taken_off(client_of, outing):
    other = an_operator("Q2DEF", name="Kim Moor")
    owner, guest = client_of(outing.owner), client_of(other)
    assert "Invite an operator" in owner.get(address("plan", outing.pk)).content.decode()
    assert owner.post(address("members", outing.pk), {"call_sign": "q2def"}).status_code == 302
    member = OutingMember.objects.get()
    assert "Join" in guest.get("/").content.decode() and guest.get(address("log", outing.pk)).status_code == 404
    answer = guest.post(address("membership_join", member.pk))
    assert answer.url == address("log", outing.pk) and guest.get(answer.url).status_code == 200
    assert str(outing) in guest.get(address("outing_list")).content.decode()
    owner.post(address("member_remove", outing.pk, member.pk))
    assert guest.get(address("log", outing.pk)).status_code == 404


def test_an_invitation_is_declined_after_a_question(client_of, outing):
    member = a_member(outing, joined_at=None)
    guest = client_of(member.operator)
    assert "Decline" in guest.get(address("membership_leave", member.pk)).content.decode()
    guest.post(address("membership_leave", member.pk))
    assert not OutingMember.objects.exists()


@pytest.mark.parametrize(("call_sign", "words"), [
    ("Q7NOT", "Nobody has an account here"), ("Q1ABC", "yours already"), ("", "required"), ("Q2DEF", "invited already"),
])
def test_who_cannot_be_invited_is_said(client_of, member, call_sign, words):
    answer = client_of(member.outing.owner).post(address("members", member.outing_id), {"call_sign": call_sign})
    assert answer.status_code == 422 and words in answer.content.decode()
    assert OutingMember.objects.count() == 1


def test_invitations_belong_to_owner_and_invited_alone(client_of, outing):
    member, stranger = a_member(outing, joined_at=None), client_of(an_operator("Q3GHI"))
    for path in (address("members", outing.pk), address("member_remove", outing.pk, member.pk),
                 address("membership_join", member.pk), address("membership_leave", member.pk)):
        assert stranger.post(path, {"call_sign": "Q3GHI"}).status_code == 404
        assert Client().post(path).url.startswith(reverse("login"))
    guest = client_of(member.operator)
    assert guest.post(address("members", outing.pk), {"call_sign": "Q3GHI"}).status_code == 404
    assert guest.post(address("member_remove", outing.pk, member.pk)).status_code == 404
    assert OutingMember.objects.get().joined_at is None


def test_what_a_member_logs_is_the_owners_with_the_member_as_operator(client_of, member):
    outing, guest = member.outing, client_of(member.operator)
    begin(guest, outing)
    assert guest.post(address("contact_log", outing.pk), {"call": "Q0XYZ"}).status_code == 302
    contact = Contact.objects.get()
    assert (contact.owner, contact.station_call, contact.operator_call) == (outing.owner, "Q1ABC/P", "Q2DEF")
    assert contact.stint == Stint.objects.get() and contact.stint.owner == outing.owner
    logged = Change.objects.of(outing.owner).filter(whole=None).exclude(kind="outings.outing")
    assert {change.actor for change in logged} == {member.operator}
    client_of(outing.owner).post(address("contact_log", outing.pk), {"call": "Q5ZZZ"})
    assert Contact.objects.get(call="Q5ZZZ").operator_call == "Q1ABC"


def test_undo_takes_back_what_one_logged_oneself(client_of, member):
    outing = member.outing
    a_stint(outing, minutes=None)
    guest, owner = client_of(member.operator), client_of(outing.owner)
    guest.post(address("contact_log", outing.pk), {"call": "Q0XYZ"})
    owner.post(address("contact_log", outing.pk), {"call": "Q5ZZZ"})
    assert guest.get(address("log", outing.pk)).context["log"].latest.call == "Q0XYZ"
    assert owner.get(address("log", outing.pk)).context["log"].latest.call == "Q5ZZZ"


def test_a_member_does_everything_on_the_log_page(client_of, member):
    outing, guest = member.outing, client_of(member.operator)
    begin(guest, outing, **{"begin-at": "-60"})
    stint = Stint.objects.get()
    guest.post(address("stint_pause", outing.pk, stint.pk), {f"when-{stint.pk}-at": "-50"})
    guest.post(address("stint_resume", outing.pk, stint.pk), {f"when-{stint.pk}-at": "-40"})
    guest.post(address("contact_log", outing.pk), {"call": "Q0XYZ"})
    contact = Contact.objects.get()
    mended = {f"c{contact.pk}-{name}": value for name, value in (
        ("call", "Q0XYZ"), ("time", f"{contact.started_at:%Y-%m-%d %H%M%S}"), ("tuning", "20m"), ("mode_typed", "CW"),
        ("name", "Ann"),
    )}
    guest.post(address("contact_mend", outing.pk, contact.pk), mended)
    assert Contact.objects.get().name == "Ann"
    guest.post(address("contact_take_back", outing.pk, contact.pk))
    assert not Contact.objects.exists()
    guest.post(address("contact_bring_back", outing.pk, contact.pk))
    guest.post(address("stint_stop", outing.pk, stint.pk), {f"when-{stint.pk}-at": ""})
    guest.post(address("log_announce", outing.pk), {"announce-at": ""})
    assert Contact.objects.exists() and Stint.objects.get().ended_at and Outing.objects.get().announced_at
    page = guest.get(address("log", outing.pk)).content.decode()
    assert "The log belongs to" in page
    for own in (address("contact", contact.pk), address("plan", outing.pk)):
        assert f'"{own}"' not in page


def test_a_member_is_told_of_no_other_contact_stint_or_gear_of_the_owner(client_of, member):
    outing, owner = member.outing, member.outing.owner
    a_pack(owner, "Secret pack"), an_arrangement(an_antenna(owner, "Secret mast"))
    secret = a_radio(owner, "Secret radio")
    elsewhere = an_outing(owner, site=outing.site, start="2026-05-01 01:00")
    a_contact(elsewhere, call="Q0XYZ", name="Secret name", at="2026-05-01 02:00")
    a_stint(elsewhere, radio=outing.kit.lines.get().item.radio, start="2026-05-01 01:00", minutes=None)
    a_stint(outing, minutes=None)
    guest = client_of(member.operator)
    typed = guest.post(address("contact_known", outing.pk), {"call": "Q0XYZ"}, headers={"HX-Request": "true"})
    pages = [guest.get(address(name, outing.pk)).content.decode() for name in ("log", "stint_add")]
    board = guest.get(f"/field/outings/{outing.uuid}/").content.decode()
    for page in (typed.content.decode(), *pages, board):
        assert "Secret" not in page
    assert all("Little radio" in page for page in (*pages, board))
    refused = begin(guest, outing, **{"begin-radio": secret.pk})
    assert refused.status_code == 422
    busy = begin(guest, outing, **{"begin-radio": outing.kit.lines.get().item_id})
    assert "on the air at another outing" in busy.content.decode() and "01:00" not in busy.content.decode()
    assert Stint.objects.filter(outing=outing).count() == 1


def test_a_members_own_log_says_who_was_worked_before(client_of, member):
    mine = an_outing(member.operator, start="2026-04-01 10:00")
    a_contact(mine, call="Q0XYZ", name="Ann", at="2026-04-01 11:00")
    page = client_of(member.operator).post(
        address("contact_known", member.outing_id), {"call": "Q0XYZ"}, headers={"HX-Request": "true"}
    ).content.decode()
    assert "Worked before" in page and "Ann" in page


def rows_of_the_owner(outing):
    """At the shared outing and elsewhere, with an id of every kind of row."""
    elsewhere = an_outing(outing.owner, site=outing.site, start="2026-03-01 10:00")
    for place in (outing, elsewhere):
        a_contact(place, stint=a_stint(place, start=f"{place.window_start:%Y-%m-%d %H:%M}"))
    return elsewhere


def test_a_member_reaches_the_log_of_the_outing_and_no_other_address_of_the_owners(client_of, member):
    outing = member.outing
    elsewhere = rows_of_the_owner(outing)
    guest = client_of(member.operator)
    before = everything_kept()
    here, walked = {str(outing.pk): str(outing.uuid), str(elsewhere.pk): str(elsewhere.uuid)}, 0
    for name, arguments in ROUTES:
        area, _, what = name.rpartition(":")
        if area != "outings" or "pk" not in arguments or what in ("membership_join", "membership_leave"):
            continue
        for number, identity in here.items():
            if what in LOG | {"contact_bring_back"} and number == str(outing.pk):
                continue
            path = filled(name, arguments, number, identity)
            for answer in (guest.get(path), guest.post(path, {"anything": "x"})):
                assert answer.status_code in (404, 405), f"{path} ({name}) answers with {answer.status_code}"
                walked += 1
    assert walked > 50 and everything_kept() == before
    contact = elsewhere.contacts.get()
    for name in ("contact_mend", "contact_take_back", "contact_bring_back"):
        assert guest.post(address(name, outing.pk, contact.pk)).status_code == 404
    for name in (name for name in LOG if name.startswith("stint_") and name not in ("stint_begin", "stint_add")):
        assert guest.post(address(name, outing.pk, elsewhere.stints.get().pk)).status_code == 404
    assert everything_kept() == before


@pytest.mark.parametrize("name", sorted(LOG))
def test_the_log_is_closed_to_who_was_invited_only_and_to_the_log_of_a_deleted_outing(client_of, outing, name):
    member = a_member(outing, joined_at=None)
    contact = a_contact(outing, stint=a_stint(outing))
    part = contact.stint_id if name.startswith("stint_") and name not in ("stint_begin", "stint_add") else (
        contact.pk if name in ("contact_mend", "contact_take_back") else None
    )
    path = address(name, outing.pk, *([part] if part else []))
    guest = client_of(member.operator)
    before = everything_kept()
    assert guest.post(path).status_code in (404, 405) and guest.get(path).status_code in (404, 405)
    member.joined_at = outing.window_start
    member.save()
    outing.withdraw(outing.owner)
    assert guest.post(path).status_code in (404, 405)
    outing.bring_back(outing.owner)
    assert {**everything_kept(), "equipment.Change": 0, "outings.Outing": 0, "outings.OutingMember": 0} == {
        **before, "equipment.Change": 0, "outings.Outing": 0, "outings.OutingMember": 0
    }


def test_a_members_phone_logs_and_deletes_there_and_reaches_nothing_else(member):
    outing, elsewhere = member.outing, rows_of_the_owner(member.outing)
    phone_, subject = Phone(outing), uuid.uuid4()
    assert hand_in(member.operator, phone_, phone_.contact("Q9NEW", 5, subject))[0].outcome == "taken"
    assert Contact.objects.get(call="Q9NEW").operator_call == "Q2DEF"
    assert hand_in(member.operator, phone_, phone_.contact("Q9NEW", 6, subject, action="delete"))[0].outcome == "taken"
    assert not Contact.objects.filter(call="Q9NEW").exists()
    other = elsewhere.contacts.get()
    before = everything_kept()["outings.Contact"]
    for action in ("put", "delete"):
        moved = hand_in(member.operator, phone_, phone_.contact("Q8BAD", 7, other.uuid, action=action, base=9))
        assert moved[0].outcome == "refused"
    gear = a_radio(outing.owner, "Secret radio")
    assert hand_in(member.operator, phone_, phone_.stint(radio=gear.pk))[0].outcome == "refused"
    assert everything_kept()["outings.Contact"] == before
