"""Pages of contacts: the list, one contact, mending."""

import datetime

import pytest
from django.test import Client
from django.urls import reverse

from equipment.models import Change
from outings.models import Contact, ContactConflict, Stint
from outings.queries import contacts
from tests.making import a_contact, a_moment, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db

PAGES = ["contact", "contact_edit", "contact_withdraw"]


def typed(contact, **changes):
    """What the edit form of a contact sends when only some fields are touched."""
    from outings.forms.contacts import ContactForm

    form = ContactForm(instance=Contact.everything.get(pk=contact.pk))
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: "" if value is None else value for name, value in sent.items()}
    if not sent["pending"]:
        del sent["pending"]
    return {**sent, **changes}


def stored(contact):
    return Contact.everything.get(pk=contact.pk)


def edit(client, contact, **changes):
    return client.post(reverse("outings:contact_edit", args=[contact.pk]), typed(contact, **changes))


@pytest.fixture
def contact():
    """A contact within a stint."""
    return a_contact(stint=a_stint())


@pytest.fixture
def client(contact, client_of):
    """The owner's client."""
    return client_of(contact.owner)


# --- the list ---


@pytest.mark.parametrize("sort", ["", "oldest", "call", "-call"])
def test_a_call_is_found_alike_among_few_and_among_too_many_to_count(contact, client, monkeypatch, sort):
    for minute, call in enumerate(["Q7AB", "QA7K", "Q7XYZ", "Q7AA"]):
        a_contact(contact.outing, call=call, at=f"2026-05-01 13:{20 + minute}")
    found = []
    for counted in (contacts.COUNTED, 1):
        monkeypatch.setattr(contacts, "COUNTED", counted)
        page = client.get(reverse("outings:contact_list"), {"call": "q7", "sort": sort}).context["page"]
        found.append([one.call for one in page.contacts])
    assert found[0] == found[1] and sorted(found[0]) == ["Q7AA", "Q7AB", "Q7XYZ"]


def test_the_list_shows_the_filtered_contacts_newest_first(contact, client):
    a_contact(contact.outing, call="QA7K", at="2026-05-01 13:20", pending=True)
    a_contact(contact.outing, call="Q5NO", at="2026-05-01 13:30")
    page = client.get(reverse("outings:contact_list")).content.decode()
    assert page.index("Q5NO") < page.index("QA7K") < page.index("Q0XYZ")
    assert "<strong>3</strong> contacts" in page
    page = client.get(reverse("outings:contact_list"), {"pending": "on"}).content.decode()
    assert "QA7K" in page
    assert "Q5NO" not in page


def test_the_list_says_what_is_wrong_with_a_filter_and_keeps_it(client):
    page = client.get(reverse("outings:contact_list"), {"since": "2026-02-30", "call": "q0"}).content.decode()
    assert "This filter cannot be read" in page
    assert 'value="2026-02-30"' in page
    assert 'value="q0"' in page
    assert "Q0XYZ" not in page


def test_the_list_without_contacts_says_so(client_of):
    assert b"No contacts yet" in client_of(an_operator("Q2DEF")).get(reverse("outings:contact_list")).content


def test_the_list_answers_htmx_with_the_rows_alone(client):
    page = client.get(reverse("outings:contact_list"), headers={"HX-Request": "true"}).content
    assert b"Q0XYZ" in page
    assert b"<html" not in page


def test_the_list_takes_as_many_queries_for_many_contacts_as_for_few(contact, client, django_assert_max_num_queries):
    for minute in range(20):
        a_contact(contact.outing, call=f"Q{minute % 10}ABC", at=f"2026-05-01 14:{minute:02d}", their_grid="JO31")
    with django_assert_max_num_queries(8):
        client.get(reverse("outings:contact_list"))


def test_pages_lead_to_each_other_and_miss_nothing(contact, client):
    for minute in range(120):
        a_contact(contact.outing, call=f"Q{minute % 10}AB", at=f"2026-05-02 {10 + minute // 60}:{minute % 60:02d}")
    for sort in ("", "oldest", "call", "-call"):
        seen, mark = [], ""
        for _ in range(3):
            page = client.get(reverse("outings:contact_list"), {"sort": sort, "after": mark}).context["page"]
            seen += [c.pk for c in page.contacts]
            mark = page.next
        assert mark is None
        assert len(seen) == len(set(seen)) == 121
        back = client.get(reverse("outings:contact_list"), {"sort": sort, "before": page.previous}).context["page"]
        assert [c.pk for c in back.contacts] == seen[50:100]


# --- who may ---


@pytest.mark.parametrize("name", PAGES)
def test_visitors_are_sent_to_log_in(contact, name):
    response = Client().get(reverse(f"outings:{name}", args=[contact.pk]))
    assert response.status_code == 302
    assert reverse("login") in response["Location"]


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("method", ["get", "post"])
def test_another_operator_finds_no_such_contact(contact, name, method, client_of):
    other = client_of(an_operator("Q2DEF"))
    address = reverse(f"outings:{name}", args=[contact.pk])
    if name != "contact" or method == "get":
        assert getattr(other, method)(address, typed(contact, name="Mallory")).status_code == 404
    assert (stored(contact).name, stored(contact).deleted_at) == ("", None)


def test_a_visitor_changes_nothing(contact):
    visitor = Client()
    edit(visitor, contact, name="Mallory")
    visitor.post(reverse("outings:contact_withdraw", args=[contact.pk]))
    visitor.post(reverse("outings:contact_mend") + f"?chosen={contact.pk}", {"shift": "60", "stints": "follow"})
    assert stored(contact).revision == 1


# --- one contact ---


def test_the_page_shows_what_is_known_and_what_was_not_taken(contact, client):
    contact.raw = [["CALL", "", "q0xyz"], ["APP_QXLAB_ODD", "S", "<b>bold</b>"]]
    contact.problems = [["STATE", "XX is no state of this entity"]]
    contact.their_grid, contact.name = "JO31", "Kim"
    contact.keep(contact.owner)
    page = client.get(contact.get_absolute_url()).content.decode()
    for text in ("Q0XYZ", "14.285", "Kim", "JO31", "XX is no state", "APP_QXLAB_ODD", "&lt;b&gt;bold", "15:10"):
        assert text in page
    assert "km" in page


def test_the_history_says_from_what_to_what(contact, client):
    edit(client, contact, tuned="7032.5", way="cw")
    page = " ".join(client.get(contact.get_absolute_url()).content.decode().split())
    assert "frequency: 14.285 MHz → 7.0325 MHz" in page
    assert "band: 20m → 40m" in page
    assert "submode: USB → –" in page


def test_the_page_of_a_contact_takes_a_bounded_number_of_queries(contact, client, django_assert_max_num_queries):
    for number in range(12):
        contact.name = f"Name {number}"
        contact.keep(contact.owner)
    with django_assert_max_num_queries(12):
        client.get(contact.get_absolute_url())


def test_a_deleted_contact_keeps_its_page_and_comes_back(contact, client):
    address = reverse("outings:contact_withdraw", args=[contact.pk])
    assert b"Delete the contact with Q0XYZ?" in client.get(address).content
    assert stored(contact).deleted_at is None
    client.post(address)
    assert stored(contact).deleted_at
    assert b"Bring back" in client.get(contact.get_absolute_url()).content
    client.post(reverse("outings:contact_bring_back", args=[contact.pk]))
    assert stored(contact).deleted_at is None


def test_bringing_back_is_refused_to_others(contact, client_of):
    contact.withdraw(contact.owner)
    address = reverse("outings:contact_bring_back", args=[contact.pk])
    assert client_of(an_operator("Q2DEF")).post(address).status_code == 404
    Client().post(address)
    assert stored(contact).deleted_at


# --- editing ---


def test_saving_untouched_changes_nothing(contact, client):
    contact.frequency_hz, contact.started_at = 14_285_017, contact.started_at.replace(second=7, microsecond=5)
    contact.qsl_sent, contact.power_w = "X", 0.0051
    contact.keep(contact.owner)
    assert edit(client, contact).status_code == 302
    assert stored(contact).revision == 2


@pytest.mark.parametrize(("changes", "expected"), [
    ({"call": "q7abc /p"}, {"call": "Q7ABC/P", "pending": False}),
    ({"call": "q7?bc"}, {"call": "Q7?BC", "pending": True}),
    ({"clock": "1322"}, {"started_at": a_moment("2026-05-01 13:22"), "seconds_known": False}),
    ({"clock": "13:22:07"}, {"started_at": a_moment("2026-05-01 13:22:07"), "seconds_known": True}),
    ({"ended": "0005"}, {"ended_at": a_moment("2026-05-02 00:05")}),
    ({"tuned": "40m"}, {"band": "40m", "frequency_hz": None}),
    ({"tuned": "7.0325"}, {"band": "40m", "frequency_hz": 7_032_500}),
    ({"tuned": "432200 kHz"}, {"band": "70cm", "frequency_hz": 432_200_000}),
    ({"tuned": ""}, {"band": "", "frequency_hz": None}),
    ({"tuned_rx": "14300"}, {"band_rx": "20m", "frequency_rx_hz": 14_300_000, "frequency_hz": 14_285_000}),
    ({"way": "ft4"}, {"mode": "MFSK", "submode": "FT4"}),
    ({"power": "500 mW"}, {"power_w": 0.5}),
    ({"power": ""}, {"power_w": None}),
    ({"station_call": "q9/q1abc"}, {"station_call": "Q9/Q1ABC"}),
    ({"dxcc": "291", "state": "OR"}, {"dxcc": 291, "state": "OR"}),
    ({"serial_rcvd": "007"}, {"serial_rcvd": 7}),
    ({"prop_mode": "sat", "sat_name": "QO-7"}, {"prop_mode": "SAT", "sat_name": "QO-7"}),
    ({"qsl_sent": "Y", "qsl_sent_on": "2026-06-01", "qsl_note": "card 12"}, {
        "qsl_sent": "Y", "qsl_sent_on": datetime.date(2026, 6, 1), "qsl_note": "card 12"}),
])
def test_an_edit_reaches_its_columns(contact, client, changes, expected):
    assert edit(client, contact, **changes).status_code == 302
    row = stored(contact)
    assert {name: getattr(row, name) for name in expected} == expected


@pytest.mark.parametrize(("field", "value", "message"), [
    ("call", "", "required"),
    ("call", "Q0_XYZ", "letters, digits and slashes"),
    ("day", "2026-02-30", "valid date"),
    ("day", "2031-01-01", "still ahead"),
    ("clock", "2561", "no time 2561"),
    ("tuned", "loud", "Give a band"),
    ("way", "smoke signals", "is no mode"),
    ("power", "lots", "is not a power"),
    ("power", "50000", "more than any amateur station"),
    ("their_grid", "ZZ99", "Z"),
    ("dxcc", "9999", "no entity 9999"),
    ("serial_sent", "-1", "greater than or equal to 0"),
    ("prop_mode", "PIGEON", "The standard knows"),
    ("station_call", "Q1?", "no ?"),
    ("comment", "x" * 256, "at most 255"),
    ("qsl_sent", "Ω", "valid choice"),
    ("stint", "999999", "valid choice"),
])
def test_a_refused_edit_says_why_and_keeps_what_was_typed(contact, client, field, value, message):
    response = edit(client, contact, **{field: value, "notes": "a long story\nin two lines"})
    assert response.status_code == 422
    page = response.content.decode()
    assert message in page
    assert "a long story" in page
    assert stored(contact).revision == 1


def test_a_new_grid_square_gives_distance_and_bearing_and_drops_the_old_position(contact, client):
    contact.their_latitude_deg, contact.their_longitude_deg = 0.0, 0.0
    contact.keep(contact.owner)
    edit(client, contact, their_grid="jo31ab")
    row = stored(contact)
    assert (row.their_grid, row.their_latitude_deg) == ("JO31ab", None)
    assert 400 < row.distance_km < 600
    assert 240 < row.bearing_deg < 280
    edit(client, contact, their_grid="")
    assert stored(contact).distance_km is None


def test_a_contact_that_leaves_its_stint_finds_another_or_none(contact, client):
    later = a_stint(contact.outing, start="2026-05-01 14:00", band="40m")
    edit(client, contact, clock="1430", tuned="40m")
    assert stored(contact).stint == later
    edit(client, contact, clock="1900")
    assert stored(contact).stint is None


def test_a_stint_that_was_not_on_the_air_then_is_refused(contact, client):
    later = a_stint(contact.outing, start="2026-05-01 14:00")
    response = edit(client, contact, stint=str(later.pk))
    assert b"not on the air at 13:10 UTC" in response.content
    assert stored(contact).stint != later


def test_a_stint_of_another_outing_is_no_choice(contact, client):
    other = a_stint(an_outing(contact.owner, site=contact.outing.site))
    assert edit(client, contact, stint=str(other.pk)).status_code == 422


def test_an_edit_on_an_old_revision_shows_what_changed_and_keeps_what_was_typed(contact, client):
    sent = typed(contact, name="Sam", comment="nice")
    contact.name = "Kim"
    contact.keep(contact.owner)
    response = client.post(reverse("outings:contact_edit", args=[contact.pk]), sent)
    page = " ".join(response.content.decode().split())
    assert response.status_code == 422
    assert "changed elsewhere while you were editing" in page
    assert '<th scope="row">Name</th><td>Kim</td><td>Sam</td>' in page
    assert 'value="Sam"' in page
    assert stored(contact).name == "Kim"
    again = {**sent, "revision": response.context["form"]["revision"].value()}
    assert client.post(reverse("outings:contact_edit", args=[contact.pk]), again).status_code == 302
    assert (stored(contact).name, stored(contact).comment) == ("Sam", "nice")


# --- conflicts ---


@pytest.mark.parametrize(("take", "name"), [("log", "Kim"), ("other", "Sam")])
def test_a_conflict_is_shown_and_settled_either_way(contact, client, take, name):
    contact.name = "Kim"
    contact.keep(contact.owner)
    conflict = ContactConflict.objects.create(contact=contact, revision=1, values={"name": "Sam", "odd": 1})
    page = " ".join(client.get(contact.get_absolute_url()).content.decode().split())
    assert '<th scope="row">Name</th><td>Kim</td><td>Sam</td>' in page
    address = reverse("outings:contact_conflict", args=[contact.pk, conflict.pk])
    client.post(address, {"take": "neither"})
    assert ContactConflict.objects.get().settled_at is None
    client.post(address, {"take": take})
    assert stored(contact).name == name
    assert ContactConflict.objects.get().settled_at
    assert b"two places" not in client.get(contact.get_absolute_url()).content


def test_a_conflict_is_no_business_of_others(contact, client_of):
    conflict = ContactConflict.objects.create(contact=contact, revision=1, values={"name": "Sam"})
    address = reverse("outings:contact_conflict", args=[contact.pk, conflict.pk])
    assert client_of(an_operator("Q2DEF")).post(address, {"take": "other"}).status_code == 404
    Client().post(address, {"take": "other"})
    assert stored(contact).name == ""


# --- mending ---


def mend(client, query, **sent):
    """Preview a correction, then apply it; the last response."""
    address = reverse("outings:contact_mend") + f"?{query}"
    sent = {"stints": "follow", **sent}
    response = client.post(address, sent)
    if not response.context["preview"]:
        return response
    return client.post(address, {**sent, "apply": response.context["preview"].fingerprint})


def test_mending_is_previewed_done_as_a_batch_and_taken_back(contact, client):
    other = a_contact(contact.outing, call="QA7K", at="2026-05-01 13:20", stint=contact.stint)
    untouched = a_contact(contact.outing, call="Q5NO", at="2026-05-01 13:30", stint=contact.stint)
    query = f"chosen={contact.pk}&chosen={other.pk}"
    page = client.post(reverse("outings:contact_mend") + f"?{query}", {"power": "5", "stints": "follow"})
    assert page.context["preview"].changing == 2
    assert stored(contact).power_w == 10
    text = " ".join(page.content.decode().split())
    assert '<td data-label="Before">10 W</td>' in text
    response = mend(client, query, power="5")
    assert response.status_code == 302
    assert [stored(c).power_w for c in (contact, other, untouched)] == [5, 5, 10]
    assert client.get(response["Location"]).context["count"] == 2
    client.post(response["Location"])
    assert [stored(c).power_w for c in (contact, other)] == [10, 10]


def test_mending_takes_the_whole_filter(contact, client):
    for number in range(60):
        a_contact(contact.outing, call=f"Q{number % 10}AB", at=f"2026-05-01 14:{number:02d}")
    mend(client, f"outing={contact.outing.pk}", operator_call="q2def")
    assert Contact.objects.filter(operator_call="Q2DEF").count() == 61


def test_mending_is_refused_where_the_log_has_moved_on_since_the_preview(contact, client):
    address = reverse("outings:contact_mend") + f"?chosen={contact.pk}"
    seal = client.post(address, {"power": "5", "stints": "follow"}).context["preview"].fingerprint
    contact.name = "Kim"
    contact.keep(contact.owner)
    page = client.post(address, {"power": "5", "stints": "follow", "apply": seal})
    assert b"has changed since the preview" in page.content
    assert stored(contact).power_w == 10
    client.post(address, {"power": "5", "stints": "follow", "apply": ""})
    assert stored(contact).power_w == 10


def test_mending_nothing_and_bad_values_are_refused(contact, client):
    address = reverse("outings:contact_mend") + f"?chosen={contact.pk}"
    page = client.post(address, {"stints": "follow"})
    assert (page.status_code, b"Nothing to correct was given" in page.content) == (422, True)
    page = client.post(address, {"stints": "follow", "shift": "a while", "tuned": "loud"})
    assert page.status_code == 422
    assert b'value="a while"' in page.content


def test_mending_leaves_other_operators_alone(contact, client_of):
    other = an_operator("Q2DEF")
    page = client_of(other).get(reverse("outings:contact_mend") + f"?chosen={contact.pk}")
    assert b"No contacts were chosen" in page.content
    mend(client_of(other), f"chosen={contact.pk}", power="5")
    mend(client_of(other), f"outing={contact.outing.pk}", power="5")
    assert stored(contact).power_w == 10


def test_mending_moves_contacts_to_another_outing_of_ones_own_alone(contact, client):
    mine, foreign = an_outing(site=contact.outing.site), an_outing(an_operator("Q2DEF"))
    refused = mend(client, f"chosen={contact.pk}", outing=foreign.pk)
    assert refused.status_code == 422 and stored(contact).outing == contact.outing
    page = client.post(
        reverse("outings:contact_mend") + f"?chosen={contact.pk}", {"outing": mine.pk, "stints": "follow"}
    )
    assert f'<td data-label="After"><strong>{mine}</strong>' in " ".join(page.content.decode().split())
    response = mend(client, f"chosen={contact.pk}", outing=mine.pk)
    assert stored(contact).outing == mine and stored(contact).stint is None
    client.post(response["Location"])
    assert (stored(contact).outing, stored(contact).stint) == (contact.outing, contact.stint)


def test_mending_cannot_use_another_operators_arrangement(contact, client):
    from equipment.models import Antenna, Arrangement

    other = an_operator("Q2DEF")
    antenna = Antenna.objects.create(owner=other, name="Wire")
    foreign = Arrangement.objects.create(owner=other, antenna=antenna, name="sloping")
    assert mend(client, f"chosen={contact.pk}", arrangement=foreign.pk, stints="correct").status_code == 422
    assert Stint.objects.get().arrangement is None
    assert not Change.objects.filter(cause="mend").exists()
