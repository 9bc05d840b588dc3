"""Pages of what was changed, and taking it back."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from outings.models import ChecklistLine, Contact
from tests.making import a_contact, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def contact():
    """A contact whose name was changed twice."""
    contact = a_contact(stint=a_stint())
    for name in ("Kim", "Sam"):
        contact.name = name
        contact.keep(contact.owner)
    return contact


@pytest.fixture
def client(contact, client_of):
    return client_of(contact.owner)


def stored(contact):
    return Contact.everything.get(pk=contact.pk)


def address(change):
    return reverse("outings:change", args=[change.pk])


def test_everything_that_was_changed_is_listed_newest_first_a_batch_as_one(contact, client):
    batch = uuid.uuid4()
    other = a_contact(contact.outing, call="QA7K")
    for row in (contact, other):
        row.power_w = 5
    Contact.keep_all([contact, other], contact.owner, cause="mend", batch=batch)
    page = " ".join(client.get(reverse("outings:change_list")).content.decode().split())
    assert page.index("2 changes together") < page.index("Kim → Sam") < page.index("– → Kim")
    assert page.count("(mend)") == 1


def test_the_list_goes_on_to_older_changes(contact, client):
    for number in range(90):
        contact.name = f"Name {number}"
        contact.keep(contact.owner)
    seen, before = 0, ""
    for _ in range(3):
        response = client.get(reverse("outings:change_list"), {"before": before})
        seen += len(response.context["entries"])
        before = response.context["onwards"] or ""
    assert (seen, before) == (96, "")  # the site of the outing among them
    assert client.get(reverse("outings:change_list"), {"before": "x" * 30}).status_code == 200


def test_the_list_takes_a_bounded_number_of_queries(contact, client, django_assert_max_num_queries):
    for number in range(30):
        a_contact(contact.outing, call=f"Q{number}ABC"[-6:])
    with django_assert_max_num_queries(12):
        client.get(reverse("outings:change_list"))


def test_an_outing_lists_its_stints_contacts_and_ticks_and_no_others(contact, client):
    line = ChecklistLine(owner=contact.owner, outing=contact.outing, text="Third guy line")
    line.keep(contact.owner)
    a_contact(an_outing(contact.owner, site=contact.outing.site), call="Q9OTHER")
    page = client.get(reverse("outings:outing_changes", args=[contact.outing.pk])).content.decode()
    for text in ("Third guy line", "Q0XYZ", "20m USB 13:00", "Outing"):
        assert text in page
    assert "Q9OTHER" not in page


def test_a_change_is_looked_at_and_taken_back(contact, client):
    change = contact.history().first()
    page = client.get(address(change)).content.decode()
    assert "Kim → Sam" in " ".join(page.split())
    assert stored(contact).name == "Sam"
    response = client.post(address(change), {"next": contact.get_absolute_url()})
    assert response["Location"] == contact.get_absolute_url()
    assert stored(contact).name == "Kim"


def test_a_change_that_was_overtaken_says_by_what_and_stays(contact, client):
    change = contact.history()[1]
    page = " ".join(client.get(address(change)).content.decode().split())
    assert "cannot be taken back now" in page
    assert "name was changed again since (it was Kim, now it is Sam)" in page
    response = client.post(address(change), follow=True)
    assert b"Nothing was taken back" in response.content
    assert stored(contact).name == "Sam"


def test_one_change_of_a_batch_is_taken_back_alone_from_its_row(contact, client):
    other = a_contact(contact.outing, call="QA7K")
    for row in (contact, other):
        row.power_w = 5
    changes = Contact.keep_all([contact, other], contact.owner, cause="mend", batch=uuid.uuid4())
    assert b"one=1" in client.get(other.get_absolute_url()).content
    page = client.get(address(changes[1]), {"one": "1"}).content.decode()
    assert "Take back only this" in page
    assert "Take back all 2" in page
    client.post(address(changes[1]), {"one": "1"})
    assert [stored(row).power_w for row in (contact, other)] == [5, 10]
    response = client.post(address(changes[1]), follow=True)
    assert b"power was changed again since" in response.content
    assert stored(contact).power_w == 5


def test_taking_back_leads_nowhere_else(contact, client):
    response = client.post(address(contact.history().first()), {"next": "https://example.org/"})
    assert response["Location"] == reverse("outings:change_list")


def test_others_neither_see_nor_take_back(contact, client_of):
    change = contact.history().first()
    other = client_of(an_operator("Q2DEF"))
    assert other.get(address(change)).status_code == 404
    assert other.post(address(change)).status_code == 404
    assert other.get(reverse("outings:outing_changes", args=[contact.outing.pk])).status_code == 404
    assert b"Nothing was changed yet" in other.get(reverse("outings:change_list")).content
    assert Client().post(address(change)).status_code == 302
    assert stored(contact).name == "Sam"
