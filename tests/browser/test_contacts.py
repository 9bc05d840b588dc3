"""The pages of contacts in a browser: by keyboard, on a phone, without script, in every theme."""

import re

import pytest
from playwright.sync_api import expect

from outings.models import Contact
from tests.browsing import PHONE, axe_serious, looks_wrong, overflow_px
from tests.making import a_contact, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db(transaction=True)


def a_log():
    """An operator with twelve contacts in one stint, newest Q9AB at 13:11."""
    owner = an_operator()
    stint = a_stint(an_outing(owner, goal_contacts=10))
    for minute in range(12):
        a_contact(
            stint=stint, call=f"Q{minute % 10}AB", at=f"2026-05-01 13:{minute:02d}", name="Kim" if minute == 3 else "",
            their_grid="JO31" if minute % 2 else "", their_reference="QS-0007, QS-0008" if minute == 5 else "",
        )
    Contact.objects.filter(call="Q7AB").update(pending=True)
    return owner, stint.outing


def test_contacts_are_ticked_by_keyboard_mended_after_a_preview_and_taken_back(signed_in_page):
    owner, _ = a_log()
    page = signed_in_page(owner, "/contacts/?sort=oldest")
    boxes = page.locator('input[name="chosen"]')
    expect(page.get_by_text("Tick the page")).to_be_visible()
    boxes.nth(0).focus()
    page.keyboard.press("Space")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(boxes.nth(3)).to_be_focused()
    expect(page.get_by_text("3 ticked")).to_be_visible()
    page.keyboard.press("Space")
    expect(page.get_by_text("4 ticked")).to_be_visible()
    page.get_by_role("button", name="Mend the ticked").press("Enter")

    expect(page.get_by_role("heading", name="Mend 4 contacts")).to_be_visible()
    page.get_by_label("Shift the clock by").fill("11 h")
    page.get_by_label("Own power").fill("500 mW")
    page.keyboard.press("Enter")
    expect(page.get_by_text("4 of 4 change")).to_be_visible()
    expect(page.get_by_text("4 leave their stint")).to_be_visible()
    expect(page.get_by_text("4 get another UTC day")).to_be_visible()
    expect(page.get_by_role("cell", name="2026-05-02 00:00:00").first).to_be_visible()
    assert not axe_serious(page)
    assert Contact.objects.filter(power_w=10).count() == 12
    page.get_by_role("button", name="Apply this to 4 contacts").press("Enter")

    expect(page.get_by_text("4 contacts are mended")).to_be_visible()
    assert Contact.objects.filter(power_w=0.5, stint=None, started_at__day=2).count() == 4
    assert not axe_serious(page)
    page.get_by_role("button", name="Take back all 4").press("Enter")
    expect(page.get_by_text("Taken back: 4 rows are as before.")).to_be_visible()
    assert Contact.objects.filter(power_w=10, stint__isnull=False, started_at__day=1).count() == 12


def test_the_list_is_filtered_in_place_and_the_address_keeps_it(signed_in_page):
    owner, _ = a_log()
    page = signed_in_page(owner, "/contacts/")
    page.locator("#id_call").fill("q1a")
    page.keyboard.press("Enter")
    expect(page.locator("tbody tr")).to_have_count(2)
    expect(page).to_have_url(re.compile("call=q1a"))
    expect(page.get_by_text("Tick the page")).to_be_visible()
    page.reload()
    expect(page.locator("#id_call")).to_have_value("q1a")
    expect(page.locator("tbody tr")).to_have_count(2)
    page.get_by_label("Tick the page").check()
    expect(page.get_by_text("2 ticked")).to_be_visible()


def test_a_contact_is_edited_on_a_phone_and_its_change_taken_back(signed_in_page):
    owner, _ = a_log()
    page = signed_in_page(owner, "/contacts/?sort=oldest", viewport=PHONE)
    rows = page.locator("tbody tr")
    assert rows.first.bounding_box()["height"] < 130
    assert overflow_px(page) <= 0
    page.get_by_role("link", name="Q3AB").click()
    page.get_by_role("link", name="Edit").click()
    page.get_by_label("Their grid").fill("JO3")
    page.get_by_label("Comment").fill("strong")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved yet")
    expect(page.get_by_label("Comment")).to_have_value("strong")
    assert not axe_serious(page)
    page.get_by_label("Their grid").fill("jn58td")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Q3AB is saved.")).to_be_visible()
    expect(page.get_by_text("their grid: JO31 → JN58td")).to_be_visible()
    assert overflow_px(page) <= 0
    page.get_by_role("link", name="Take back").first.click()
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("1 row is as before")).to_be_visible()
    assert Contact.objects.get(call="Q3AB").their_grid == "JO31"


def test_ticking_mending_and_handing_in_need_no_script(signed_in_page):
    owner, outing = a_log()
    page = signed_in_page(owner, "/contacts/?sort=oldest", java_script_enabled=False)
    page.locator('input[name="chosen"]').nth(1).check()
    page.get_by_role("button", name="Mend the ticked").click()
    page.get_by_label("Own call used").fill("q1abc/m")
    page.get_by_role("button", name="Preview").click()
    page.get_by_role("button", name="Apply this to 1 contact").click()
    assert Contact.objects.get(station_call="Q1ABC/M").call == "Q1AB"
    page.goto(f"/outings/{outing.pk}/hand-in/")
    expect(page.get_by_text("1 contact under another own call than Q1ABC/P.")).to_be_visible()
    expect(page.get_by_text("1 contact doubtful, and left out of the files.")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="ADI Q1ABC-M_QS-0042_2026-05-01").click()
    assert download.value.suggested_filename == "Q1ABC-M_QS-0042_2026-05-01.adi"


@pytest.mark.anywhere
def test_contacts_in_doubt_fit_every_screen_and_theme(signed_in_page):
    owner, outing = a_log()
    contact = Contact.objects.get(call="Q3AB")
    contact.problems = [["STATE", "no such code " + "x" * 80]]
    contact.raw = [["APP_QXLAB_LONG", "", "y" * 300]]
    contact.keep(owner)
    paths = [
        "/contacts/?since=nonsense", f"/contacts/{contact.pk}/", f"/contacts/mend/?outing={outing.pk}",
        f"/contacts/changes/{contact.history()[0].pk}/",
    ]
    page = signed_in_page(owner, "/contacts/")
    for path in paths:
        page.goto(path)
        assert looks_wrong(page) == [], path
