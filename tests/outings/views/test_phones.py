"""The page of what phones handed in: conflicts, clocks, remarks, and who may not."""

import datetime
import uuid

import pytest
from django.urls import reverse

from outings.field import entries
from outings.intake import phone
from outings.models import Contact, FieldEntry, Remark, Stint
from tests import making

pytestmark = pytest.mark.django_db

NOW = making.a_moment("2026-05-01 16:00")


class Phone:
    """A phone whose clock is off by some seconds, handing in what was typed on it."""

    def __init__(self, outing, error_s=0):
        self.id, self.outing, self.error_s, self.acts = uuid.uuid4(), outing, error_s, {}

    def hand_in(self, *acts, now=NOW):
        asked = entries.Request(
            self.id, now + datetime.timedelta(seconds=self.error_s), tuple(map(entries.read_entry, acts)))
        return phone.hand_in(self.outing.owner, asked, now=now)

    def entry(self, kind, subject=None, *, base=0, action="put", edited="2026-05-01T13:30:00Z", **values):
        subject = subject or uuid.uuid4()
        self.acts[subject] = self.acts.get(subject, 0) + 1
        return {
            "id": str(uuid.uuid4()), "kind": kind, "action": action, "subject": str(subject), "base": base,
            "seq": self.acts[subject], "edited_at": edited, "values": {"outing": str(self.outing.uuid), **values},
        }

    def contact(self, call="Q0XYZ", subject=None, *, at="13:10:20", **more):
        values = {"call": call, "started_at": f"2026-05-01T{at}Z", "band": "20m", "mode": "SSB", "seconds_known": True}
        return self.entry("contact", subject, **{**values, **more})


@pytest.fixture
def outing():
    return making.an_outing()


def address(outing, name="phones", *keys):
    return reverse(f"outings:{name}", args=[outing.pk, *keys])


def text_of(client, outing):
    return " ".join(client.get(address(outing)).content.decode().replace("\u00a0", " ").split())


def a_conflict(outing):
    """A contact whose name the log and then a phone changed."""
    mine, subject = Phone(outing), uuid.uuid4()
    mine.hand_in(mine.contact("Q0XYZ", subject))
    contact = Contact.objects.get(uuid=subject)
    contact.name = "Ada"
    contact.keep(outing.owner)
    later = (datetime.datetime.now(datetime.UTC) + datetime.timedelta(hours=1)).strftime("%Y-%m-%dT%H:%M:%SZ")
    mine.hand_in(mine.contact("Q0XYZ", subject, base=1, edited=later, name="Eva"))
    return FieldEntry.objects.open_conflicts().get()


def test_it_says_which_phones_handed_in_what_and_when(client_of, outing):
    first, second = Phone(outing), Phone(outing)
    first.hand_in(
        first.contact(), first.contact("Q7ABC", at="13:20:00"), first.entry("remark", at="2026-05-01T13:00:00Z"))
    second.hand_in(second.contact("Q5DEF"), second.contact(action="delete"))
    page = text_of(client_of(outing.owner), outing)
    assert "3: 2 contacts, 1 remark" in page and "2: 2 contacts; 1 of them deletion" in page
    assert "Phone 1" in page and "Phone 2" in page and "right to the second" in page
    assert f"/field/?outing={outing.uuid}" in page


def test_an_outing_without_phones_says_how_to_begin(client_of, outing):
    assert "Nothing was handed in yet" in text_of(client_of(outing.owner), outing)


@pytest.mark.parametrize(("take", "name"), [("log", "Eva"), ("other", "Ada")])
def test_both_versions_stand_side_by_side_until_one_is_chosen(client_of, outing, take, name):
    conflict = a_conflict(outing)
    client = client_of(outing.owner)
    page = text_of(client, outing)
    assert "<td>Eva</td><td>Ada</td>" in page and "two versions" in page
    assert "1 entry from phones met another change" in client.get("/").content.decode()
    client.post(address(outing, "phone_conflict", conflict.pk), {"take": take})
    assert Contact.objects.get().name == name
    assert "two versions" not in text_of(client, outing)
    assert "met another change" not in client.get("/").content.decode()


def test_a_settling_without_a_choice_or_twice_changes_nothing(client_of, outing):
    conflict, client = a_conflict(outing), client_of(outing.owner)
    answer = client.post(address(outing, "phone_conflict", conflict.pk), {"take": "both"}, follow=True)
    assert "Choose which version" in answer.content.decode() and FieldEntry.objects.open_conflicts().exists()
    client.post(address(outing, "phone_conflict", conflict.pk), {"take": "log"})
    assert client.post(address(outing, "phone_conflict", conflict.pk), {"take": "other"}).status_code == 404
    assert Contact.objects.get().name == "Eva"


def test_a_contact_deleted_in_one_place_and_edited_in_the_other_is_a_conflict(client_of, outing):
    mine, kept, gone = Phone(outing), uuid.uuid4(), uuid.uuid4()
    mine.hand_in(mine.contact("Q0XYZ", kept), mine.contact("Q7ABC", gone))
    edited, withdrawn = Contact.objects.get(uuid=kept), Contact.objects.get(uuid=gone)
    edited.name = "Ada"
    edited.keep(outing.owner)
    withdrawn.withdraw(outing.owner)
    answers = mine.hand_in(
        mine.contact("Q0XYZ", kept, base=1, action="delete"), mine.contact("Q7ABC", gone, base=1, name="Eva"))
    assert [answer.conflict for answer in answers] == [True, True]
    assert not Contact.objects.exists()
    client = client_of(outing.owner)
    assert text_of(client, outing).count("<td>there</td>") == 2
    for entry in FieldEntry.objects.open_conflicts():
        client.post(address(outing, "phone_conflict", entry.pk), {"take": "other"})
    assert dict(Contact.objects.values_list("call", "name")) == {"Q0XYZ": "Ada", "Q7ABC": "Eva"}


def test_times_of_a_wrong_clock_are_shifted_only_when_asked_and_can_be_taken_back(client_of, outing):
    fast, right, stint = Phone(outing, error_s=95), Phone(outing), uuid.uuid4()
    lasted = {"started_at": "2026-05-01T13:05:00Z", "ended_at": "2026-05-01T13:40:00Z"}
    fast.hand_in(
        fast.entry("stint", stint, band="20m", mode="SSB", **lasted),
        fast.contact("Q0XYZ", stint=str(stint)), fast.contact("Q7ABC", at="13:20:00", stint=str(stint)))
    right.hand_in(right.contact("Q5DEF"))
    client = client_of(outing.owner)
    page = text_of(client, outing)
    for words in ("The clock of phone 1 was fast", "+1 min 35 s", "2 contacts still have the time"):
        assert words in page
    assert Contact.objects.get(call="Q0XYZ").started_at == making.a_moment("2026-05-01 13:10:20")
    mend = page.split('href="/contacts/mend/?')[1].split('"')[0].replace("&amp;", "&")
    mend = f"/contacts/mend/?{mend}"
    offered = client.get(mend).content.decode()
    assert "Mend 2 contacts" in offered and 'value="-95 s"' in offered and "whose clock was off" in offered
    previewed = client.post(mend, {"shift": "-95 s", "stints": "correct"}).content.decode()
    assert "2 of 2 change" in previewed and "1 stint" in previewed
    assert Contact.objects.get(call="Q0XYZ").started_at == making.a_moment("2026-05-01 13:10:20")
    seal = previewed.split('name="apply" value="')[1].split('"')[0]
    done = client.post(mend, {"shift": "-95 s", "stints": "correct", "apply": seal})
    assert Contact.objects.get(call="Q0XYZ").started_at == making.a_moment("2026-05-01 13:08:45")
    assert Contact.objects.get(call="Q5DEF").started_at == making.a_moment("2026-05-01 13:10:20")
    assert Stint.objects.get().started_at == making.a_moment("2026-05-01 13:03:25")
    assert "was fast" not in text_of(client, outing)
    client.post(done.headers["Location"], {})
    assert Contact.objects.get(call="Q0XYZ").started_at == making.a_moment("2026-05-01 13:10:20")
    assert "was fast" in text_of(client, outing)


def test_a_clock_that_is_half_a_minute_off_offers_nothing(client_of, outing):
    mine = Phone(outing, error_s=-29)
    mine.hand_in(mine.contact())
    page = text_of(client_of(outing.owner), outing)
    assert "−29 s" in page and "/contacts/mend/" not in page


@pytest.mark.parametrize("query", ["phone=x", "phone=&outing=1", "phone={phone}&outing=0&least_s=90&most_s=99",
                                   "phone={phone}&outing={outing}&least_s=a&most_s=99"])
def test_an_address_of_a_shift_that_cannot_be_read_names_no_contact(client_of, outing, query):
    fast = Phone(outing, error_s=95)
    fast.hand_in(fast.contact())
    page = client_of(outing.owner).get("/contacts/mend/?" + query.format(phone=fast.id, outing=outing.pk))
    assert "No contacts were chosen" in page.content.decode()


def test_another_operators_wrong_clock_is_out_of_reach(client_of, outing):
    fast = Phone(outing, error_s=95)
    fast.hand_in(fast.contact())
    mend = f"/contacts/mend/?phone={fast.id}&outing={outing.pk}&least_s=90&most_s=99&shift=-95+s"
    stranger = client_of(making.an_operator("Q9ZZZ"))
    assert "No contacts were chosen" in stranger.get(mend).content.decode()
    stranger.post(mend, {"shift": "-95 s", "stints": "follow", "apply": "x"})
    assert Contact.objects.get().started_at == making.a_moment("2026-05-01 13:10:20")


def typed(**changes):
    return {"day": "2026-05-01", "clock": "1345", "about": "noise", "value": "4,5", "text": "power line", **changes}


def test_remarks_are_added_edited_and_withdrawn_with_their_history(client_of, outing):
    client = client_of(outing.owner)
    assert client.post(address(outing, "remark_add"), typed()).status_code == 302
    remark = Remark.objects.get()
    assert (remark.about, remark.value, remark.at) == ("noise", 4.5, making.a_moment("2026-05-01 13:45"))
    assert "4.5" in text_of(client, outing) and "power line" in text_of(client, outing)
    client.post(address(outing, "remark_edit", remark.pk), typed(about="note", value="", text="quiet now"))
    assert Remark.objects.get().text == "quiet now" and Remark.objects.get().revision == 2
    assert "Delete the remark" in client.get(address(outing, "remark_withdraw", remark.pk)).content.decode()
    client.post(address(outing, "remark_withdraw", remark.pk))
    assert not Remark.objects.exists() and Remark.everything.get().deleted_at
    assert "quiet now" in client.get(reverse("outings:outing_changes", args=[outing.pk])).content.decode()


@pytest.mark.parametrize(("changes", "words"), [
    ({"clock": "2561"}, "HHMM"), ({"day": "soon"}, "year-month-day"), ({"value": ""}, "Give the number"),
    ({"value": "loud"}, "number"), ({"about": "note", "text": " "}, "needs words"), ({"about": "sky"}, "valid choice"),
    ({"text": "x" * 2001}, "2000"),
])
def test_a_remark_that_cannot_be_read_is_refused_and_keeps_what_was_typed(client_of, outing, changes, words):
    answer = client_of(outing.owner).post(address(outing, "remark_add"), typed(**changes))
    page = answer.content.decode()
    assert answer.status_code == 422 and words in page and not Remark.objects.exists()
    for value in {**typed(), **changes}.values():
        assert value.strip() in page or value == "sky"


def test_an_untouched_remark_keeps_its_time_to_the_microsecond(client_of, outing):
    remark = making.a_remark(outing)
    remark.at += datetime.timedelta(seconds=7, microseconds=5)
    remark.keep(outing.owner)
    client = client_of(outing.owner)
    unchanged = {"clock": "132007", "about": "note", "value": ""}
    client.post(address(outing, "remark_edit", remark.pk), typed(**unchanged, text="new words"))
    stored = Remark.objects.get()
    assert (stored.at, stored.text) == (remark.at, "new words")


def test_strangers_and_visitors_reach_nothing(client, client_of, outing):
    conflict, remark = a_conflict(outing), making.a_remark(outing)
    own = making.an_outing(making.an_operator("Q9ZZZ"))
    stranger = client_of(own.owner)
    for name, keys in (("phones", ()), ("phone_conflict", (conflict.pk,)), ("remark_add", ()),
                       ("remark_edit", (remark.pk,)), ("remark_withdraw", (remark.pk,))):
        assert client.post(address(outing, name, *keys), typed(take="other")).status_code == 302
        assert stranger.post(address(outing, name, *keys), typed(take="other")).status_code in (404, 405)
        if keys:  # another's row under an outing of one's own
            assert stranger.post(address(own, name, *keys), typed(take="other")).status_code == 404
    assert Remark.objects.get() == remark and Remark.objects.get().revision == 1
    assert FieldEntry.objects.open_conflicts().get() == conflict and Contact.objects.get().name == "Eva"


def test_the_page_takes_as_many_queries_for_much_as_for_little(client_of, outing, django_assert_max_num_queries):
    for number in range(3):
        fast = Phone(outing, error_s=40 + 20 * number)
        fast.hand_in(*(fast.contact(f"Q{number}{letter}A") for letter in "ABCDEF"))
        making.a_remark(outing)
    for _ in range(3):
        mine, subject = Phone(outing), uuid.uuid4()
        mine.hand_in(mine.contact("Q0XYZ", subject))
        Contact.objects.get(uuid=subject).withdraw(outing.owner)
        mine.hand_in(mine.contact("Q0XYZ", subject, base=1, name="Eva"))
    client = client_of(outing.owner)
    with django_assert_max_num_queries(10):
        assert client.get(address(outing)).content.decode().count("two versions") == 3
