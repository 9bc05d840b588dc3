"""What takes over a second says so, until it is there."""

import re
import time

import pytest

from outings.queries import adif_files, performance
from tests import making
from tests.browsing import THEMES, axe_serious, until

pytestmark = pytest.mark.django_db(transaction=True)
SAYS = "document.getElementById('waiting').textContent"
HEAR = f"""new MutationObserver(() => {{ sessionStorage.said = (sessionStorage.said ?? '') + '|' + {SAYS}; }})
    .observe(document.getElementById('waiting'), {{ childList: true, subtree: true, characterData: true }})"""
SAID = "sessionStorage.said ?? ''"  # nothing can be asked of a page while its successor is on the way
WAIT = "document.dispatchEvent(new CustomEvent('htmx:beforeRequest', { detail: { xhr: 1 } }))"
DONE = "document.dispatchEvent(new CustomEvent('htmx:afterRequest', { detail: { xhr: 1 } }))"


def slowly(monkeypatch, module, name, seconds):
    """Have a function take its time."""
    real = getattr(module, name)

    def slow(*given, **named):
        time.sleep(seconds)
        return real(*given, **named)

    monkeypatch.setattr(module, name, slow)


@pytest.fixture
def owner():
    owner = making.an_operator()
    outing = making.an_outing(owner)
    making.a_contact(outing, stint=making.a_stint(outing, arrangement=making.an_arrangement(making.an_antenna(owner))))
    return owner


def test_a_file_that_is_being_made_shows_how_long_it_has_taken_and_is_done_when_it_comes(
    signed_in_page, owner, monkeypatch
):
    slowly(monkeypatch, adif_files, "file_name", 2.5)
    page = signed_in_page(owner, "/files/export/")
    page.evaluate(HEAR)
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as ADI").click()
    assert download.value.suggested_filename.endswith(".adi")
    until(page, f"{SAYS} === ''")
    assert re.search(r"\|Working …[1-9] s", page.evaluate(SAID)) and page.evaluate(SAID).endswith("|")


def test_a_page_that_is_slow_says_so_and_a_quick_one_says_nothing(signed_in_page, owner, monkeypatch):
    page = signed_in_page(owner, "/gear/")
    page.evaluate(HEAR)
    begun = time.monotonic()
    page.get_by_role("link", name="Notes").click()
    page.wait_for_url("**/notes/")
    assert page.evaluate(SAID) == "" or time.monotonic() - begun > 1  # a machine may be busy with other tests
    page.evaluate(HEAR)
    slowly(monkeypatch, performance, "performance", 2)
    page.get_by_role("link", name="Performance").click()
    page.wait_for_url("**/performance/")
    assert re.search(r"\|Working …[1-9] s", page.evaluate(SAID))
    assert page.evaluate(SAYS) == ""


def test_stopping_to_load_stops_the_waiting(signed_in_page, owner, monkeypatch):
    slowly(monkeypatch, performance, "performance", 3)
    page = signed_in_page(owner, "/gear/")
    page.evaluate(HEAR)
    page.evaluate("setTimeout(() => document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' })), 1800)")
    page.get_by_role("link", name="Performance").click()
    page.wait_for_url("**/performance/")
    assert "Working" in page.evaluate(SAID) and page.evaluate(SAID).endswith("|")


def test_the_waiting_can_be_read_in_every_light_and_stands_still_where_that_is_wanted(signed_in_page, owner):
    page = signed_in_page(owner, "/notes/", reduced_motion="reduce")
    page.evaluate(WAIT)
    until(page, f"{SAYS}.startsWith('Working …')")
    assert page.evaluate("document.getAnimations().length") == 0
    for theme in THEMES:
        page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)
        assert axe_serious(page) == []
    page.evaluate(DONE)
    assert page.evaluate(SAYS) == ""
