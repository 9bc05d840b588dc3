"""The start page, and the demo scenario at the press of a button."""

import datetime

import pytest
from django.utils import timezone

from outings.demo import loading
from outings.models import DemoScenario, ImportedFile, Outing
from tests.making import a_contact, a_note, a_site, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def operator():
    return an_operator()


def day(offset):
    return f"{timezone.now() + datetime.timedelta(days=offset):%Y-%m-%d} 09:00"


def test_a_newcomer_is_shown_the_way(client_of, operator):
    page = client_of(operator).get("/").content.decode()
    for address in ("/sites/new/", "/gear/new/", "/outings/new/", "/demo/"):
        assert f'"{address}"' in page
    assert "Unfinished" not in page


def test_it_shows_what_is_next_unfinished_and_learned_last(client_of, operator):
    site = a_site(operator, "Heron Marsh")
    an_outing(operator, site=site, start=day(2), bands=["40m"])
    held = an_outing(operator, site=site, start=day(-9))
    stint = a_stint(held, start=day(-9))
    a_contact(held, at=day(-9), stint=stint)
    a_contact(held, call="Q1?", at=day(-9), pending=True)
    a_note(operator, "The coil", "Tap **three**")
    waiting = ImportedFile.objects.create(owner=operator, name="winter.adi", status=ImportedFile.Status.READ)
    page = client_of(operator).get("/").content.decode()
    told = ("Next", "Heron Marsh", "sunset", "no kit", "no checklist", "1 doubtful contact", "The coil", "Tap three")
    for words in told:
        assert words in page, words
    assert "winter.adi" in page and f'"/files/{waiting.pk}/"' in page
    assert "Contacts per hour on the air" in page and "n = 1" in page


def test_the_demo_is_loaded_and_taken_out_by_button(client_of, operator):
    client = client_of(operator)
    page = client.post("/demo/", follow=True).content.decode()
    assert Outing.objects.of(operator).count() == 24
    assert "everything of it is named" in page and "Mirror Lake" in page and 'href="/demo/remove/"' in page
    assert "no arrangement in the kit" in page  # 6m is wanted and nothing covers it
    again = client.post("/demo/", follow=True).content.decode()
    assert "in this log already" in again
    assert "deleted for good" in client.get("/demo/remove/").content.decode()
    assert DemoScenario.objects.exists()
    gone = client.post("/demo/remove/", follow=True).content.decode()
    assert "is out of your log" in gone and not Outing.everything.exists()
    assert "no demo scenario" in client.post("/demo/remove/", follow=True).content.decode()


def test_a_demo_is_loaded_by_nobody_else(client, client_of, operator, monkeypatch):
    monkeypatch.setattr(loading, "load", lambda *args: pytest.fail("loaded"))
    monkeypatch.setattr(loading, "remove", lambda *args: pytest.fail("removed"))
    assert client_of(operator).get("/demo/").status_code == 405
    for address in ("/demo/", "/demo/remove/"):
        assert client.post(address).url.startswith("/login/")
    assert client.get("/").status_code == 302


def test_taking_out_the_demo_leaves_that_of_another_operator(client_of, operator):
    other = an_operator("Q2DEF")
    DemoScenario.objects.create(owner=other)
    client_of(operator).post("/demo/remove/")
    assert DemoScenario.objects.of(other).exists()
