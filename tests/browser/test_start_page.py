"""Start page and notes in a browser: every size and theme, and a note from writing to bringing back."""

import datetime

import pytest
from django.utils import timezone

from outings.models import Note
from tests.browsing import PHONE, axe_serious, looks_wrong, overflow_px
from tests.making import (
    a_contact,
    a_kit,
    a_note,
    a_pack,
    a_site,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db(transaction=True)


def a_log(operator):
    """A bit of everything that the start page tells of."""
    def day(offset):
        return f"{timezone.now() + datetime.timedelta(days=offset):%Y-%m-%d} 09:00"

    site = a_site(operator, "Heron Marsh beyond the old railway bridge")
    kit = a_kit(operator, arrangements=[an_arrangement(an_antenna(operator), bands=["20m"])])
    an_outing(operator, site=site, start=day(2), kit=kit, bands=["40m", "20m"], goal_contacts=40)
    held = an_outing(operator, site=site, start=day(-9))
    stint = a_stint(held, start=day(-9))
    for letter in "ABCD":
        a_contact(held, call=f"Q1{letter}", at=day(-9), stint=stint)
    a_contact(held, call="Q1?", at=day(-9), pending=True)
    text = "# Tap\n\nAverylongwordwithoutanyplacetobreakitbecausesomebodytypedit\n\n| a | b |\n|---|---|\n| 1 | 2 |"
    return a_note(operator, "The coil and what it does on the lower bands", text, about=[a_pack(operator), held])


@pytest.mark.anywhere
def test_start_page_and_notes_fit_every_screen_in_every_theme(signed_in_page):
    operator = an_operator()
    note = a_log(operator)
    page = signed_in_page(operator, "/")
    for path in ("/", f"/notes/{note.pk}/"):
        page.goto(path)
        assert looks_wrong(page) == [], path


def test_a_newcomer_finds_the_way_on_a_phone(signed_in_page):
    page = signed_in_page(an_operator(), "/", viewport=PHONE)
    assert axe_serious(page) == [] and overflow_px(page) <= 0
    page.get_by_role("link", name="Add a site").click()
    page.wait_for_url("**/sites/new/")


def test_a_note_is_written_deleted_and_brought_back_without_script(signed_in_page):
    operator = an_operator()
    a_pack(operator, "Blue pack")
    page = signed_in_page(operator, "/notes/", java_script_enabled=False)
    page.get_by_role("link", name="Write the first note").click()
    page.get_by_role("button", name="Keep the note").click()
    page.get_by_role("link", name="Title").wait_for()  # the summary of what is missing
    page.get_by_label("Title").fill("Sags")
    page.get_by_label("Text").fill("Under **load**.")
    page.get_by_label("Blue pack").check()
    page.get_by_role("button", name="Keep the note").click()
    page.get_by_role("heading", name="Sags").wait_for()
    page.locator("strong", has_text="load").wait_for()
    page.get_by_role("link", name="Delete").click()
    page.get_by_role("button", name="Delete the note").click()
    page.get_by_text("Deleted notes").click()
    page.get_by_role("button", name="Bring back Sags").click()
    page.get_by_role("heading", name="Sags").wait_for()
    assert Note.objects.get().title == "Sags"
