"""What takes over a second says so, until it is there."""

import re
import threading
import time
from pathlib import Path

import pytest
from django.db import DatabaseError

from equipment.models import history
from outings import waiting
from outings.forms import mending
from outings.models import ImportedFile, Outing
from outings.queries import adif_files, performance
from tests import making
from tests.browsing import SMALLEST, THEMES, USE_THEME, axe_serious, overflow_px, says, until

pytestmark = pytest.mark.django_db(transaction=True)
SAYS = "document.getElementById('waiting').textContent"
HEAR = f"""new MutationObserver(() => {{ sessionStorage.said = (sessionStorage.said ?? '') + '|' + {SAYS}; }})
    .observe(document.getElementById('waiting'), {{ childList: true, subtree: true, characterData: true }})"""
ESCAPE = """new MutationObserver((_, observer) => { observer.disconnect();
    setTimeout(() => document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' })), 100); })
    .observe(document.getElementById('waiting'), { childList: true })"""  # as soon as it says that it waits
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


def followed(monkeypatch, module, name):
    """Have a function go on whenever the page has asked how far it is: on a busy machine that takes its time."""
    real, answer, asked = getattr(module, name), waiting.noted, threading.Event()

    def noted(wait):
        found = answer(wait)
        asked.set()
        return found

    def slow(*given, **named):
        asked.clear()
        asked.wait(10)
        return real(*given, **named)

    monkeypatch.setattr(waiting, "noted", noted)
    monkeypatch.setattr(module, name, slow)


@pytest.fixture
def owner():
    owner = making.an_operator()
    outing = making.an_outing(owner)
    making.a_contact(outing, stint=making.a_stint(outing, arrangement=making.an_arrangement(making.an_antenna(owner))))
    return owner


@pytest.mark.anywhere
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


@pytest.mark.anywhere
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


@pytest.mark.anywhere
def test_stopping_to_load_stops_the_waiting(signed_in_page, owner, monkeypatch):
    slowly(monkeypatch, performance, "performance", 3)
    page = signed_in_page(owner, "/gear/")
    page.evaluate(HEAR)
    page.evaluate(ESCAPE)
    page.get_by_role("link", name="Performance").click()
    page.wait_for_url("**/performance/")
    assert "Working" in page.evaluate(SAID) and page.evaluate(SAID).endswith("|")


@pytest.mark.anywhere
def test_the_waiting_can_be_read_in_every_light_and_stands_still_where_that_is_wanted(signed_in_page, owner):
    page = signed_in_page(owner, "/notes/", reduced_motion="reduce")
    page.evaluate(WAIT)
    until(page, f"{SAYS}.startsWith('Working …')")
    assert page.evaluate("document.getAnimations().length") == 0
    for theme in THEMES:
        page.evaluate(USE_THEME, theme)
        assert axe_serious(page) == []
    page.evaluate(DONE)
    assert page.evaluate(SAYS) == ""


MOVED = """() => { const bar = document.getElementById('waiting'); sessionStorage.moved = '';
    const at = () => bar.querySelector('progress')?.getAttribute('value');
    new MutationObserver(() => { if (at()) sessionStorage.moved += `${at()} `; })
        .observe(bar, { childList: true, subtree: true, attributes: true }); }"""


def moved(page):
    """How far the bar stood, one after the other, from 0 to 1."""
    return [float(share) for share in page.evaluate("sessionStorage.moved").split()]


@pytest.fixture
def long_log(owner, monkeypatch):
    """Contacts that are written one by one."""
    outing = Outing.objects.get()
    for minute in range(20, 27):
        making.a_contact(outing, at=f"2026-05-01 13:{minute}")
    monkeypatch.setattr(adif_files, "CHUNK", 1)
    followed(monkeypatch, adif_files.Handover, "fields")


def test_a_file_shows_how_much_of_it_is_made_until_its_end_and_is_whole(signed_in_page, owner, long_log):
    page = signed_in_page(owner, "/files/export/", viewport=SMALLEST)
    page.evaluate(HEAR)
    page.evaluate(MOVED)
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as ADI").click()
    until(page, f"{SAYS}.startsWith('Writing contacts …') && {SAYS}.includes(' of 8')")
    assert overflow_px(page) <= 0 and axe_serious(page) == []
    assert page.get_by_role("progressbar", name="Writing contacts").is_visible()
    text = Path(download.value.path()).read_text(encoding="ascii")
    assert text.count("<EOR>") == 8
    until(page, f"{SAYS} === ''")
    assert len(set(moved(page))) >= 4 and moved(page) == sorted(moved(page))
    assert page.locator("#messages").inner_text() == ""


@pytest.mark.anywhere
def test_a_file_that_breaks_off_is_said_to_be_useless(signed_in_page, owner, long_log, monkeypatch):
    real, seen = adif_files.Handover.fields, []

    def fields(self, contact):
        seen.append(contact)
        if len(seen) == 4:
            raise DatabaseError("gone")
        return real(self, contact)

    monkeypatch.setattr(adif_files.Handover, "fields", fields)
    page = signed_in_page(owner, "/files/export/")
    page.get_by_role("link", name="Save as ADI").click()
    says(page, "#messages", "The file broke off and is not whole.")
    until(page, f"{SAYS} === ''")


@pytest.mark.anywhere
def test_a_file_comes_without_script_too(signed_in_page, owner):
    page = signed_in_page(owner, "/files/export/", java_script_enabled=False)
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as ADI").click()
    assert Path(download.value.path()).read_text(encoding="ascii").count("<EOR>") == 1


@pytest.mark.anywhere
def test_only_what_leads_away_from_the_page_is_waited_for(signed_in_page, owner):
    page = signed_in_page(owner, "/files/export/")
    click = """(modified) => {
        addEventListener('click', (event) => event.preventDefault(), { once: true });
        const link = document.querySelector('a[href*="log.adi"]');
        link.dispatchEvent(new MouseEvent('click', { bubbles: true, cancelable: true, ctrlKey: modified }));
        return document.cookie.includes('awaits='); }"""
    assert not page.evaluate(click, True)
    assert page.evaluate(click, False)


def test_what_a_form_asks_for_shows_how_much_of_it_is_done(signed_in_page, owner, monkeypatch):
    outing = Outing.objects.get()
    for minute in range(20, 25):
        making.a_contact(outing, at=f"2026-05-01 13:{minute}")
    monkeypatch.setattr(history, "CHUNK", 1)
    followed(monkeypatch, mending.MendForm, "correct")
    page = signed_in_page(owner, "/contacts/mend/")
    page.get_by_label("Shift").fill("60")
    page.evaluate(HEAR)
    page.evaluate(MOVED)
    page.get_by_role("button", name="Preview").click()
    page.locator("[name=apply]").wait_for()
    assert re.search(r"Looking at contacts …[2-5] of 6", page.evaluate(SAID))
    assert len(set(moved(page))) >= 3 and moved(page) == sorted(moved(page))


LINE = "<CALL:5>Q0XYZ <QSO_DATE:8>20260501 <TIME_ON:4>1310 <BAND:3>20m <MODE:3>SSB <MY_GRIDSQUARE:6>JO62QM <EOR>\n"


def send(page, text, name="park.adi", *, bytes_a_second=-1):
    """Choose a file and send it, over a line that is as slow as said."""
    line = page.context.new_cdp_session(page)
    line.send("Network.emulateNetworkConditions", {
        "offline": bytes_a_second == 0, "latency": 0, "downloadThroughput": -1, "uploadThroughput": bytes_a_second,
    })
    page.locator("input[type=file]").set_input_files({"name": name, "mimeType": "text/plain", "buffer": text.encode()})
    page.evaluate(HEAR)
    page.evaluate(MOVED)
    page.get_by_role("button", name="Read it").click()
    return line


def test_a_file_that_is_sent_shows_how_much_of_it_has_gone_out_and_is_stored_once(signed_in_page, owner):
    page = signed_in_page(owner, "/files/")
    text = "a remark" * 40_000 + "<EOH>\n" + LINE
    send(page, text, bytes_a_second=100_000)
    page.get_by_role("button", name="Read it").click()  # once more, out of impatience
    page.get_by_role("heading", name="park.adi").wait_for()
    assert "Sending the file …" in page.evaluate(SAID)
    assert len(set(moved(page))) >= 3 and moved(page) == sorted(moved(page))
    imported = ImportedFile.objects.get()
    assert imported.size_bytes == len(text) and imported.summary["records"] == 1
    assert page.url.endswith(f"/files/{imported.pk}/")


@pytest.mark.anywhere
def test_a_file_that_is_refused_leaves_its_form_with_the_reason(signed_in_page, owner):
    page = signed_in_page(owner, "/files/")
    send(page, "no log at all", "holiday.txt")
    until(page, "document.activeElement.className === 'error-summary'")
    assert page.locator("main").count() == page.locator("h1").count() == 1
    page.locator("input[type=file]").set_input_files(
        {"name": "park.adi", "mimeType": "text/plain", "buffer": LINE.encode()}
    )
    page.get_by_role("button", name="Read it").click()
    page.get_by_role("heading", name="park.adi").wait_for()


@pytest.mark.anywhere
def test_a_file_that_does_not_reach_the_server_or_is_stopped_can_be_sent_again(signed_in_page, owner):
    page = signed_in_page(owner, "/files/")
    line = send(page, LINE, bytes_a_second=0)
    says(page, "#messages", "The file could not be sent")
    line.send("Network.emulateNetworkConditions", {
        "offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 10_000,
    })
    send(page, "a remark" * 40_000 + "<EOH>\n" + LINE, bytes_a_second=10_000)
    until(page, f"{SAYS}.startsWith('Sending the file')")
    page.keyboard.press("Escape")
    until(page, f"{SAYS} === ''")
    assert not ImportedFile.objects.exists()
    send(page, LINE)
    page.get_by_role("heading", name="park.adi").wait_for()
