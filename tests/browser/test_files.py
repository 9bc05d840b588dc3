"""Log files in a browser: read, looked over, imported, undone and written, with and without script, in every theme."""

import pytest
from playwright.sync_api import expect

from outings.models import Contact
from tests.browsing import PHONE, looks_wrong
from tests.making import a_contact, a_radio, an_operator, an_outing

LINES = (
    "<CALL:5>Q0XYZ <QSO_DATE:8>20260501 <TIME_ON:4>1310 <BAND:3>20m <MODE:3>SSB <MY_GRIDSQUARE:6>JO62QM "
    "<MY_RIG:6>Little <NAME:3>Kim <EOR>\n"
    "<CALL:5>Q2DEF <QSO_DATE:8>20260501 <TIME_ON:4>1314 <BAND:3>20m <MODE:3>SSB <MY_GRIDSQUARE:6>JO62QM <EOR>\n"
    "<CALL:5>Q3GHI <QSO_DATE:8>20261301 <TIME_ON:4>1316 <BAND:3>20m <MODE:3>SSB <EOR>\n"
)


def read(page, text=LINES, name="park.adi"):
    data = text if isinstance(text, bytes) else text.encode()
    page.locator("input[type=file]").set_input_files({"name": name, "mimeType": "text/plain", "buffer": data})
    page.get_by_role("button", name="Read it").click()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_log_is_looked_over_imported_and_undone(signed_in_page, script):
    operator = an_operator()
    a_radio(operator, "Little")
    page = signed_in_page(operator, "/files/", viewport=PHONE, java_script_enabled=script)
    read(page, "this is no log at all", "holiday.txt")
    page.locator(".error-summary, .message.error").first.wait_for()
    assert not Contact.objects.exists()
    page.goto("/files/")
    read(page)
    expect(page.get_by_role("heading", name="park.adi")).to_be_visible()
    page.get_by_role("link", name="1 refused").click()
    expect(page.get_by_text("QSO_DATE").first).to_be_visible()
    page.go_back()
    page.get_by_role("button", name="Import 2 new contacts").click()
    expect(page.get_by_role("heading", name="What was done")).to_be_visible()
    assert sorted(Contact.objects.values_list("call", flat=True)) == ["Q0XYZ", "Q2DEF"]
    page.get_by_role("link", name="Undo the import").click()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", name="What it had done")).to_be_visible()
    assert not Contact.objects.exists()


def test_what_is_shown_can_be_saved_as_a_file(signed_in_page):
    contact = a_contact(an_outing(), name="Zoë")
    page = signed_in_page(contact.owner, "/files/export/")
    expect(page.get_by_role("columnheader", name="In ADI")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as ADI").click()
    with open(download.value.path(), "rb") as file:
        text = file.read()
    assert b"<CALL:5>Q0XYZ" in text and b"Zoe" in text and text.decode("ascii")


@pytest.mark.anywhere
def test_a_file_in_other_letters_fits_and_is_accessible_in_every_theme(signed_in_page):
    operator = an_operator()
    a_radio(operator, "Little")
    page = signed_in_page(operator, "/files/")
    read(page, LINES.replace("<NAME:3>Kim", "<NAME:3>Кит").encode("cp1251"))
    page.get_by_label("Written in").select_option(label="Cyrillic: Windows-1251")
    page.get_by_role("button", name="Read it again in these letters").click()
    expect(page.get_by_text("Кит")).to_be_visible()
    for address in (page.url, f"{page.url}findings/refused/"):
        page.goto(address)
        assert looks_wrong(page) == [], address
