"""The first visit, logging in and the preferences, in a browser: by keyboard, without script, on every screen."""

import pytest

from stationlog.models import Invitation, Operator
from tests.browsing import LAPTOP, PHONE, THEMES, axe_serious, looks_wrong
from tests.making import PASSWORD, an_invitation, an_operator


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_the_first_visit_makes_an_account_by_keyboard_alone(signed_in_page, script):
    code = Invitation.objects.renew_set_up()
    page = signed_in_page(None, "/", viewport=PHONE, java_script_enabled=script)
    assert page.url.endswith("/setup/")
    page.goto(f"/setup/?code={code}")
    assert page.get_by_label("Set-up code").input_value() == code
    page.get_by_label("Call sign").focus()
    for text in ("q1abc", "Robin Fielding", PASSWORD, "four guys and one peg", "jo62qm"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Make the account").click()
    page.get_by_text("match").first.wait_for()  # the passwords differ
    assert page.get_by_label("Name").input_value() == "Robin Fielding", "what was typed is kept"
    if script:
        assert axe_serious(page) == []
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_label("Password again").fill(PASSWORD)
    page.get_by_role("button", name="Make the account").click()
    page.get_by_text("Your account is ready.").wait_for()
    assert Operator.objects.get().home_grid == "JO62qm"


@pytest.mark.anywhere
def test_account_pages_are_accessible_and_fit_every_screen_in_every_theme(signed_in_page):
    keeper = an_operator(keeper=True)
    an_operator("Q2DEF", name="Somebody with a name that is rather long for a narrow column")
    code = an_invitation(keeper)
    page = signed_in_page(keeper, "/account/")
    visitor = signed_in_page(None, "/login/")
    for shown, paths in ((page, ("/account/operators/",)),
                         (visitor, ("/login/", f"/join/{code}/", "/join/AAAA-BBBB-CCCC-DDDD/"))):
        for path in paths:
            shown.goto(path)
            assert looks_wrong(shown) == [], path
    page.set_viewport_size(LAPTOP)
    for theme in THEMES:
        page.goto("/account/")
        page.get_by_label("Light of the page", exact=True).select_option(theme)
        page.get_by_role("button", name="Save preferences").click()
        page.get_by_text("Preferences saved.").wait_for()
        assert page.locator("html").get_attribute("data-theme") == theme


def test_an_invitation_goes_from_the_keeper_to_a_new_operator(signed_in_page):
    page = signed_in_page(an_operator(keeper=True), "/account/operators/")
    page.get_by_label("For whom").fill("Q2DEF")
    page.get_by_role("button", name="Make an invitation").click()
    link = page.locator("code").inner_text()
    guest = signed_in_page(None, link, viewport=PHONE)
    guest.get_by_label("Call sign").fill("q2def")
    guest.get_by_label("Name").fill("Kim Shore")
    guest.get_by_label("Password", exact=True).fill(PASSWORD)
    guest.get_by_label("Password again").fill(PASSWORD)
    guest.get_by_role("button", name="Make the account").click()
    guest.get_by_text("Your account is ready.").wait_for()
    page.reload()
    assert page.get_by_role("row", name="Q2DEF Kim Shore").is_visible()
    assert page.locator("code").count() == 0
