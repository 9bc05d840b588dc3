"""Forms of the contacts."""

import datetime

import pytest
from django.http import QueryDict

from outings.forms.contacts import ContactFilter
from outings.models import Contact, ContactConflict
from tests.making import a_contact, a_site, an_operator, an_outing

pytestmark = pytest.mark.django_db


def calls(owner, query):
    """The calls that a filter keeps, in their order in the log."""
    contacts = ContactFilter(QueryDict(query), owner).filtered(Contact.objects.of(owner))
    return list(contacts.values_list("call", flat=True))


@pytest.fixture
def log():
    """The owner of a log of four unlike contacts."""
    owner = an_operator()
    morning = an_outing(owner, start="2026-05-01 08:00")
    evening = an_outing(owner, start="2026-05-01 22:00", site=morning.site, station_call="Q1ABC")
    a_contact(morning, call="Q0XYZ", at="2026-05-01 08:10", their_grid="JO31", qsl_sent="Y")
    a_contact(morning, call="Q0XY/P", at="2026-05-01 09:10", mode="CW", submode="", band="40m", qsl_rcvd="Y")
    a_contact(evening, call="Q7?A", at="2026-05-01 23:59:59", pending=True, comment="weak, near Reed Point")
    a_contact(evening, call="QA0X", at="2026-05-02 00:00", mode="MFSK", submode="FT4", problems=[["RST_SENT", "?"]])
    return owner


@pytest.mark.parametrize(("query", "kept"), [
    ("", ["Q0XYZ", "Q0XY/P", "Q7?A", "QA0X"]),
    ("call=q0xy", ["Q0XYZ", "Q0XY/P"]),
    ("call=0x&match=contains", ["Q0XYZ", "Q0XY/P", "QA0X"]),
    ("call=0x", []),
    ("call=%25", []),
    ("call=_0&match=contains", []),
    ("since=2026-05-02", ["QA0X"]),
    ("until=2026-05-01", ["Q0XYZ", "Q0XY/P", "Q7?A"]),
    ("band=40M", ["Q0XY/P"]),
    ("family=phone", ["Q0XYZ", "Q7?A"]),
    ("family=cw", ["Q0XY/P"]),
    ("family=data", ["QA0X"]),
    ("mode=ft4", ["QA0X"]),
    ("station_call=q1abc", ["Q7?A", "QA0X"]),
    ("pending=on", ["Q7?A"]),
    ("gridless=on&since=2026-05-01&until=2026-05-01", ["Q0XY/P", "Q7?A"]),
    ("marked=on", ["QA0X"]),
    ("text=reed+p", ["Q7?A"]),
    ("qsl=sent", ["Q0XYZ"]),
    ("qsl=waiting", ["Q0XYZ"]),
    ("qsl=owed", ["Q0XY/P"]),
    ("qsl=unsent&family=cw", ["Q0XY/P"]),
])
def test_a_filter_keeps_what_it_names(log, query, kept):
    assert calls(log, query) == kept


def test_a_filter_keeps_the_contacts_of_one_outing(log):
    outing = Contact.objects.get(call="QA0X").outing
    assert calls(log, f"outing={outing.pk}") == ["Q7?A", "QA0X"]


def test_a_filter_finds_conflicts_until_they_are_settled(log):
    contact = Contact.objects.get(call="Q0XYZ")
    conflict = ContactConflict.objects.create(contact=contact, revision=1, values={"band": "40m"})
    assert calls(log, "conflict=on") == ["Q0XYZ"]
    conflict.settled_at = datetime.datetime.now(datetime.UTC)
    conflict.save()
    assert calls(log, "conflict=on") == []


@pytest.mark.parametrize("query", [
    "since=yesterday", "until=2026-13-01", "outing=999999", "family=smoke", "sort=colour",
    "since=2026-05-02&until=2026-05-01",
])
def test_a_filter_that_cannot_be_read_chooses_nothing(log, query):
    assert calls(log, query) == []


def test_a_filter_does_not_know_another_operators_outing(log):
    other = an_outing(an_operator("Q2DEF"))
    assert calls(log, f"outing={other.pk}") == []
    assert calls(other.owner, "call=q0") == []


def test_a_filter_is_written_back_without_what_is_empty(log):
    form = ContactFilter(QueryDict("call=q0&band=&page=7&pending=on&sort=call"), log)
    assert form.query() == "call=q0&pending=on&sort=call"
    assert form.query(sort=None, after="x") == "call=q0&pending=on&after=x"
    assert not form.is_empty()
    assert ContactFilter(QueryDict("sort=call&page=2"), log).is_empty()


def test_a_long_log_offers_its_newest_outings_and_the_chosen_one(monkeypatch, django_assert_num_queries):
    monkeypatch.setattr("outings.forms.contacts.NewestOutings.SHOWN", 2)
    site = a_site()
    outings = [an_outing(site=site, start=f"2026-05-0{day} 10:00") for day in (1, 2, 3, 4)]
    form = ContactFilter({"outing": str(outings[0].pk)}, site.owner)
    with django_assert_num_queries(2):
        offered = [str(value) for value, _ in form.fields["outing"].choices]
    assert offered == ["", str(outings[3].pk), str(outings[2].pk), str(outings[0].pk)]
    assert form.is_valid() and form.cleaned_data["outing"] == outings[0]
    assert not ContactFilter({"outing": "9" * 40}, site.owner).is_valid()
    assert len(list(ContactFilter({"outing": "x"}, site.owner).fields["outing"].choices)) == 3
