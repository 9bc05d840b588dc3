"""The look in a browser: every size and theme, the keyboard, the accessibility rules."""

import pytest

from tests.browsing import SCREENS, THEMES, axe_serious, drawn, overflow_px, until
from tests.making import an_operator

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.urls("tests.browser.specimen")]


@pytest.mark.anywhere
def test_every_piece_fits_every_screen_in_every_theme(signed_in_page):
    page = signed_in_page(operator := an_operator(), "/specimen/", theme="light")
    for theme in THEMES:
        operator.theme = theme
        operator.save()
        page.reload()
        assert page.locator("html").get_attribute("data-theme") == theme
        for size in (*SCREENS, {"width": 320, "height": 640}):
            page.set_viewport_size(size)
            assert overflow_px(page) <= 0, f"{theme}, {size['width']} px"
        page.set_viewport_size(SCREENS[2])
        assert axe_serious(page) == [], theme
    page.set_viewport_size(SCREENS[0])
    assert axe_serious(page) == []


@pytest.mark.anywhere
def test_the_keyboard_reaches_the_content_first_and_then_every_menu(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    page.locator("details.account > summary").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="red").wait_for()
    page.keyboard.press("Escape")
    assert not page.get_by_role("button", name="red").is_visible()
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_the_theme_is_switched_in_the_account_menu_without_script(signed_in_page):
    page = signed_in_page(operator := an_operator(), "/specimen/", java_script_enabled=False)
    page.locator("details.account > summary").click()
    page.get_by_role("button", name="red").click()
    page.wait_for_url("**/specimen/")
    operator.refresh_from_db()
    assert operator.theme == "red"
    assert page.locator("html").get_attribute("data-theme") == "red"


@pytest.mark.anywhere
def test_a_refused_form_begins_with_a_summary_that_leads_to_its_fields(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/")
    page.get_by_label("Element length (m)").fill("long")
    page.get_by_label("Tuner in line").check()
    page.get_by_role("button", name="Save").click()
    summary = page.locator(".error-summary")
    until(page, "document.activeElement.className === 'error-summary'")
    page.wait_for_load_state()
    assert page.get_by_label("Element length (m)").input_value() == "long"
    assert page.get_by_label("Tuner in line").is_checked()
    described = page.get_by_label("Name").get_attribute("aria-describedby").split()
    assert [page.locator(f"#{name}").count() for name in described] == [1, 1]
    for link in summary.get_by_role("link").all():
        assert page.locator(link.get_attribute("href")).count() == 1
    summary.get_by_role("link", name="Name").click()
    assert page.evaluate("document.activeElement.id") == "id_name"
    assert axe_serious(page) == []


@pytest.mark.anywhere
def test_targets_are_large_enough_for_a_thumb(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/", viewport=SCREENS[1], has_touch=True, is_mobile=True)
    page.locator("details.main-nav > summary").click()
    text_inputs = ".form input:not([type=hidden], [type=checkbox], [type=radio])"
    wanted = f".button, button, .main-nav a, .tabs a, {text_inputs}, select, .tick label, summary"
    small = page.evaluate(
        """wanted => [...document.querySelectorAll(wanted)]
        .filter(piece => piece.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }))
        .map(piece => [piece.outerHTML.slice(0, 60), piece.getBoundingClientRect().height])
        .filter(([_, height]) => height < 47.5)""",
        wanted,
    )
    assert small == []


@pytest.mark.anywhere
def test_a_table_is_a_stop_for_the_keyboard_as_long_as_it_has_to_be_scrolled(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/")
    frame = page.locator(".table-frame", has=page.locator(".stacked")).first
    assert frame.get_attribute("tabindex") is None
    frame.evaluate("(frame) => { frame.style.width = '9rem'; }")
    page.get_by_role("region", name="Contacts", exact=True).focus()
    page.keyboard.press("ArrowRight")
    until(page, "document.activeElement.scrollLeft > 0")
    frame.evaluate("(frame) => { frame.style.width = ''; }")
    until(page, "!document.querySelector('.table-frame:has(.stacked)').hasAttribute('tabindex')")
    frame.evaluate("(frame) => frame.replaceChildren()")
    drawn(page)


@pytest.mark.anywhere
def test_motion_stops_for_those_who_ask_for_that(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/", reduced_motion="reduce")
    assert page.evaluate("document.getAnimations().length") == 0


@pytest.mark.anywhere
def test_calls_are_set_in_the_face_with_the_slashed_zero(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/")
    face = "Atkinson Hyperlegible Mono"
    assert page.evaluate("face => document.fonts.ready.then(() => document.fonts.check(`700 16px '${face}'`))", face)
    assert face in page.locator("tbody .call").first.evaluate("e => getComputedStyle(e).fontFamily")


@pytest.mark.anywhere
def test_paper_gets_ink_on_white_and_no_navigation(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/", theme="red")
    page.emulate_media(media="print")
    assert page.locator("main").evaluate("e => getComputedStyle(e).color") == "rgb(0, 0, 0)"
    assert not page.locator(".cover").is_visible()
