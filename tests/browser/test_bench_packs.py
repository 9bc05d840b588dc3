"""The bench in a browser: answers while someone types, pictures, a logger's file, with and without script."""

import pytest

from equipment.models import PackLog
from tests import making
from tests.browsing import LAPTOP, PHONE, THEMES, axe_serious, overflow_px, until, use_theme

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def owner():
    owner = making.an_operator()
    for name, volts in (("One", 13.30), ("Two", 13.24)):
        pack = making.a_pack(owner, name, resistance_ohm=0.14, max_charge_a=3.0, max_discharge_a=10.0)
        making.a_reading(pack, volts, doing="resting")
    return owner


@pytest.mark.anywhere
def test_the_answer_follows_while_someone_types_and_its_address_can_be_sent(signed_in_page, owner):
    page = signed_in_page(owner, "/bench/")
    page.get_by_role("link", name="Can I join these two packs?").click()
    page.wait_for_url("**/bench/joining/")
    until(page, "window.htmx && document.readyState === 'complete'")  # before, only the button answers
    page.get_by_label("One of yours").nth(0).select_option("One")
    page.get_by_label("One of yours").nth(1).select_option("Two")
    page.get_by_text("Yes, they may be joined now").first.wait_for()
    until(page, "document.querySelectorAll('#answer figure.picture .canvas svg').length >= 2")
    page.get_by_label("Resting voltage").nth(1).fill("12,9")
    page.locator("#answer").get_by_text("Do not join them now").wait_for()
    until(page, "location.search.includes('volts_2=12%2C9')")
    assert "Do not join them now" in page.locator("#said").text_content()
    assert page.evaluate("document.activeElement.name") == "volts_2"  # nobody is torn away from typing
    page.reload()
    assert page.get_by_label("Resting voltage").nth(1).input_value() == "12,9"
    page.get_by_label("Resting voltage").nth(1).fill("much")
    page.locator("#answer").get_by_role("link", name="Resting voltage of pack 2").click()
    assert page.evaluate("document.activeElement.name") == "volts_2"


def test_an_answer_becomes_a_note_on_the_packs_without_script(signed_in_page, owner):
    page = signed_in_page(owner, "/bench/joining/", java_script_enabled=False)
    page.get_by_label("One of yours").nth(0).select_option("One")
    page.get_by_label("One of yours").nth(1).select_option("Two")
    page.get_by_role("button", name="Answer").click()
    page.locator("#answer").get_by_text("Yes, they may be joined now").first.wait_for()
    page.get_by_role("link", name="Keep as a note").click()
    assert page.get_by_label("One", exact=True).is_checked() and page.get_by_label("Two", exact=True).is_checked()
    page.get_by_role("button", name="Keep the note").click()
    page.get_by_role("link", name="Can I join these two packs?").click()
    page.locator("#answer").get_by_text("Yes, they may be joined now").first.wait_for()


def test_a_loggers_file_is_looked_at_and_kept(signed_in_page, owner, tmp_path):
    file = tmp_path / "load test.csv"
    file.write_bytes(making.a_pack_log_file())
    pack = owner_pack(owner)
    page = signed_in_page(owner, f"/gear/{pack.pk}/logs/new/", viewport=PHONE)
    page.locator("input[type=file]").set_input_files(str(file))
    page.get_by_role("button", name="Look at it").click()
    page.get_by_text("Spannung (mV), in mV").wait_for()
    until(page, "document.querySelectorAll('figure.picture .canvas svg').length >= 2")
    assert overflow_px(page) <= 0 and axe_serious(page) == []
    page.get_by_label("Began at (UTC)").fill("2026-05-01T09:00")
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("The capacity test of 2026-05-01 is kept.").wait_for()
    assert PackLog.objects.get().file == file.read_bytes()


def owner_pack(owner):
    from equipment.models import Pack

    return Pack.objects.of(owner).get(name="One")


@pytest.mark.anywhere
def test_every_answer_fits_and_is_accessible_in_every_theme(signed_in_page, owner):
    pack = owner_pack(owner)
    making.a_pack_log(pack)
    setting = making.a_power_setting(making.a_radio(owner, receive_a=0.2, minimum_v=11), transmit_a=2.0)
    pages = [
        f"/bench/charge-state/?pack={pack.pk}&volts=13.1", f"/bench/lasting/?pack={pack.pk}&setting={setting.pk}",
        f"/bench/charging/?pack={pack.pk}&start_pct=30&charger_a=2&charger_v=14.4",
        f"/bench/dc-path/?pack={pack.pk}&volts=13.1&setting={setting.pk}&length_m=2&awg=16", f"/gear/{pack.pk}/logs/",
    ]
    page = signed_in_page(owner, "/bench/")
    for theme, size, address in zip([*THEMES, *THEMES], [PHONE, LAPTOP] * 3, ["/bench/", *pages], strict=True):
        use_theme(owner, theme)
        page.set_viewport_size(size)
        page.goto(address)
        assert overflow_px(page) <= 0, (theme, size, address)
        assert axe_serious(page) == [], (theme, size, address)
