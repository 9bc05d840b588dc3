"""The field page in every state: accessible in every light, big enough for gloves, never wider than the phone."""

import pytest

from outings.models import ChecklistLine
from tests import browsing, making
from tests.browser.test_field import go_on_air, log, opened
from tests.browsing import says

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.anywhere]

SMALLEST = {"width": 320, "height": 568}
LANDSCAPE = {"width": 844, "height": 390}
TARGET_PX = 47.5
TOO_SMALL = """(least) => [...document.querySelectorAll("button, input, select, textarea, summary, a[href]")]
  .map((one) => (one.type === "checkbox" ? one.closest("label") : one))
  .filter((one) => one.checkVisibility())
  .filter((one) => { const {width, height} = one.getBoundingClientRect(); return width < least || height < least; })
  .map((one) => `${one.tagName} ${one.id || one.name || one.textContent}`)"""
OTHER_LIGHTS = ("sun", "dark", "red")


@pytest.fixture
def page(signed_in_page):
    """A phone at an outing with all that can stand on the page."""
    operator = making.an_operator()
    making.a_power_setting(making.a_radio(operator))
    making.an_arrangement(making.an_antenna(operator), bands=["20m", "40m"])
    pack = making.a_pack(operator)
    making.a_kit(operator, items=[pack])
    making.a_site(operator, "Gull Bank, on the spit beyond the old lighthouse")
    outing = making.an_outing(operator, start=making.tomorrow(), bands=["20m", "40m"], goal_contacts=40)
    for section in ("before", "pack", "arrival"):
        line = ChecklistLine(owner=operator, outing=outing, text=f"Look after {section}", section=section)
        line.keep(operator)
    page = opened(signed_in_page, outing, reduced_motion="reduce")  # colours that are on their way have no contrast yet
    page.evaluate("navigator.serviceWorker.ready.then((found) => found.scope)")
    return page


def part(page, name):
    page.click(f"[data-part={name}]")


def leave(page):
    page.keyboard.press("Escape")
    page.wait_for_selector("#sheet:not([open])", state="attached")


def states(page):
    """Bring the page into one state after another, and name each."""
    yield "nothing on the air"
    page.click("#change")
    yield "going on the air"
    page.fill("#sheet [name=tuned]", "one")
    page.click("#sheet-ok")
    page.wait_for_selector("#sheet .told.bad")
    yield "no band in the sheet"
    leave(page)
    go_on_air(page, ago="60", power="5")
    says(page, "#forgotten", "Still on the air?")
    yield "a forgotten stop is asked for"
    for call in ("Q0XYZ", "Q5?", "Q7ABC/P"):
        log(page, call)
    page.fill("#call", "Q0XYZ")
    page.wait_for_selector("#told.repeat")
    yield "a repeated call"
    page.fill("#call", "!")
    page.press("#call", "Enter")
    page.wait_for_selector("#told.bad")
    page.click("#more summary")
    yield "a wrong call, with all fields open"
    page.click("#contacts button >> nth=0")
    yield "a contact being edited"
    page.fill("#sheet [name=time]", "2561")
    page.click("#sheet-ok")
    page.wait_for_selector("#sheet .told.bad")
    yield "a wrong time in the sheet"
    leave(page)
    page.click("#change")
    yield "a change with set-ups to choose"
    leave(page)
    page.click("#stop")
    yield "stopping"
    leave(page)
    page.click("#pause")
    says(page, "#on-air", "Paused")
    yield "paused"
    part(page, "measure")
    page.fill("#measure [name=voltage_v]", "13.1")
    page.click("#measure button")
    page.wait_for_selector("#measured button")
    yield "measured"
    page.click("#measured button")
    yield "a reading to be deleted"
    leave(page)
    part(page, "list")
    page.click("#checklist label >> nth=0")
    says(page, "#kept", "Ticked")
    yield "the checklist"
    part(page, "home")
    says(page, "#verdict", "Not ready")
    yield "not ready, with a queue"
    page.click("#change-kit")
    yield "changing the kit"
    leave(page)
    page.click("#next-site")
    yield "going on to the next site"
    leave(page)
    page.context.clear_cookies()
    page.click("#hand-in")
    says(page, "#standing", "log in again")
    yield "the login has expired"
    page.context.set_offline(True)
    page.click("#hand-in")
    says(page, "#handed", "cannot be reached")
    page.click("#try-ready")
    says(page, "#ready", "Not from here")
    yield "offline"
    page.click("#other")
    page.click("#look")
    says(page, "#offered", "cannot be reached")
    yield "choosing an outing, offline"


COLOURS = {  # states that bring colours of their own
    "a forgotten stop is asked for", "a repeated call", "a wrong call, with all fields open", "paused",
    "a wrong time in the sheet", "a reading to be deleted", "not ready, with a queue", "the login has expired",
}


def test_every_state_is_accessible_in_every_light_fits_the_smallest_phone_and_suits_gloves(page):
    page.set_viewport_size(SMALLEST)
    found = {}
    for state in states(page):
        wrong = [*browsing.axe_serious(page), *page.evaluate(TOO_SMALL, TARGET_PX)]
        for theme in (*OTHER_LIGHTS, "auto") if state in COLOURS else ():
            page.evaluate("(name) => document.querySelector(`#themes [data-theme=${name}]`).click()", theme)
            wrong += [(theme, one) for one in browsing.axe_serious(page, rules=["color-contrast"]) if theme != "auto"]
        page.set_viewport_size(LANDSCAPE)
        sideways = browsing.overflow_px(page)
        page.set_viewport_size(SMALLEST)
        if wrong or browsing.overflow_px(page) > 0 or sideways > 0:
            found[state] = [*wrong, f"{browsing.overflow_px(page)} px too wide, {sideways} px in landscape"]
    assert not found
