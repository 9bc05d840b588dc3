"""The log page in a browser: by keyboard alone, with a slow or broken line, without script, on every screen."""

import datetime

import pytest
from django.template.loader import render_to_string
from django.utils import timezone

from outings.models import Contact, Stint
from tests.browsing import PHONE, looks_wrong, until
from tests.making import a_contact, a_kit, a_pack, a_radio, a_stint, an_antenna, an_arrangement, an_operator, an_outing


def minutes_ago(minutes):
    return f"{timezone.now() - datetime.timedelta(minutes=minutes):%Y-%m-%d %H:%M:%S}"


@pytest.fixture
def outing(transactional_db):
    """An outing that began an hour ago, with a kit; nothing is on the air yet."""
    owner = an_operator()
    antenna = an_antenna(owner)
    kit = a_kit(owner, items=[a_radio(owner), antenna, a_pack(owner)], arrangements=[an_arrangement(antenna)])
    return an_outing(owner, start=minutes_ago(60)[:16], kit=kit, bands=["20m"], goal_contacts=12)


@pytest.fixture
def stint(outing):
    return a_stint(outing, start=minutes_ago(60), minutes=None, frequency_hz=14_285_000)


def focused(page):
    return page.evaluate("document.activeElement.name || document.activeElement.id")


def logged(page, call):
    """The call in the list of contacts."""
    return page.locator("#contacts").get_by_role("link", name=call, exact=True).first


def log(page, call, *, enter=True):
    page.keyboard.type(call)
    if enter:
        page.keyboard.press("Enter")


def test_an_hour_on_the_air_by_keyboard_alone(signed_in_page, outing):
    page = signed_in_page(outing.owner, f"/outings/{outing.pk}/log/")
    # begin: the kit and the plan leave only the mode to be typed
    page.get_by_label("Mode", exact=True).first.focus()
    page.keyboard.type("SSB")
    page.keyboard.press("Enter")
    page.get_by_text("On the air: ").wait_for()
    until(page, "document.activeElement.name == 'call'")
    assert Stint.objects.get().radio and Stint.objects.get().arrangement and Stint.objects.get().band == "20m"

    # ten contacts, call and Enter each, typed as fast as the keyboard gives them and never waiting for the answer
    wanted = [f"Q{number}AB{letter}" for number, letter in enumerate("CDEFGHIJKL")]
    for call in wanted:
        log(page, call.lower())
    page.locator("#contacts tbody tr").nth(9).wait_for()
    assert list(Contact.objects.order_by("id").values_list("call", flat=True)) == wanted
    assert all(Contact.objects.values_list("seconds_known", flat=True))
    assert page.locator("#contacts tbody tr").first.get_by_role("rowheader").inner_text() == "Q9ABL"
    until(page, "document.activeElement.name === 'call' && document.activeElement.value === ''")
    assert page.locator("#figures .value").first.inner_text() == "10"

    # one keystroke a field: Space or Tab goes on
    log(page, "QA7K", enter=False)
    page.keyboard.press("Space")
    page.keyboard.type("")  # time stays: now
    for text in ("", "55", "44", "jo62qm", "qs-0007", "Ann B"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    assert focused(page) == "state"
    page.locator("#known").get_by_text("QS-0007").or_(page.locator("#known strong")).first.wait_for()
    page.keyboard.press("Enter")
    logged(page, "QA7K").wait_for()
    contact = Contact.objects.get(call="QA7K")
    assert (contact.rst_sent, contact.rst_rcvd, contact.their_grid) == ("55", "44", "JO62qm")
    assert (contact.their_reference, contact.name) == ("QS-0007", "Ann B")

    # a duplicate is shown before it is saved, and may be saved
    log(page, "q3abf", enter=False)
    page.locator("#known").get_by_text("Duplicate:").wait_for()
    assert Contact.objects.filter(call="Q3ABF").count() == 1
    page.keyboard.press("Enter")
    page.locator("#entry-state").get_by_text("Q3ABF").wait_for()
    assert Contact.objects.filter(call="Q3ABF").count() == 2
    page.locator("#known").get_by_text("Duplicate:").wait_for(state="detached")

    # one that is entered too quickly for that is shown first, too
    page.route("**/log/contacts/known/", lambda route: None)  # nothing comes before Enter
    page.keyboard.type("q3abf")
    page.keyboard.press("Enter")
    page.get_by_text("Press Enter again to log it all the same").wait_for()
    until(page, "document.activeElement.name === 'call'")
    assert Contact.objects.filter(call="Q3ABF").count() == 2
    page.unroute("**/log/contacts/known/")
    page.keyboard.press("Escape")
    page.get_by_label("Call", exact=True).fill("")

    # the last one is taken back with its access key, and brought back
    page.keyboard.press("Alt+u")
    page.get_by_text("is out of the log").wait_for()
    assert Contact.objects.filter(call="Q3ABF").count() == 1
    page.get_by_role("button", name="Bring back Q3ABF").press("Enter")
    page.get_by_text("is back in the log").wait_for()
    assert Contact.objects.count() == 12

    # changed some minutes ago: only what is different and when
    Stint.objects.update(started_at=timezone.now() - datetime.timedelta(minutes=50))
    Contact.objects.filter(call__in=wanted[:5]).update(started_at=timezone.now() - datetime.timedelta(minutes=30))
    page.reload()
    page.get_by_text("Change what is on the air").focus()
    page.keyboard.press("Enter")
    form = page.locator("form[action$='/change/']")
    form.get_by_label("Band or frequency").fill("7100")
    form.get_by_label("Changed").fill("-20")
    page.keyboard.press("Enter")
    page.get_by_text("40m USB").or_(page.get_by_text("40m SSB")).first.wait_for()
    first, second = Stint.objects.all()
    assert first.ended_at == second.started_at and (first.contacts.count(), second.contacts.count()) == (6, 6)
    assert set(second.contacts.values_list("band", flat=True)) == {"40m"}


def test_nothing_typed_is_lost_on_a_bad_line(signed_in_page, stint):
    page = signed_in_page(stint.owner, f"/outings/{stint.outing_id}/log/")
    call, saved = page.locator("#entry").get_by_label("Call", exact=True), "**/log/contacts/"

    # no line: the row stays, with the time of the key press, and says so
    page.route(saved, lambda route: route.abort())
    page.get_by_label("Comment").fill("thin signal")
    call.fill("Q0XYZ")
    call.press("Enter")
    page.get_by_text("Not saved yet. The row is kept").wait_for()
    assert call.input_value() == "Q0XYZ" and page.get_by_label("Comment").input_value() == "thin signal"
    assert len(page.get_by_label("Time", exact=True).input_value()) == 6
    page.unroute(saved)

    # the server in trouble: the same
    page.route(saved, lambda route: route.fulfill(status=500, body="trouble"))
    call.press("Enter")
    page.get_by_text("answered with an error (500)").wait_for()
    page.unroute(saved)
    full = render_to_string("500.html", {"reason": "The disk is full. Make room on it."})
    page.route(saved, lambda route: route.fulfill(status=507, content_type="text/html", body=full))
    call.press("Enter")
    page.get_by_text("The disk is full. Make room on it. What you typed is still here.").wait_for()
    page.unroute(saved)
    call.press("Enter")
    logged(page, "Q0XYZ").wait_for()
    assert Contact.objects.get().comment == "thin signal"

    # a slow line: what is typed meanwhile stands in the next row, and goes off by itself if Enter was pressed
    pending = []
    page.route(saved, lambda route: route.continue_() if pending else pending.append(route))
    log(page, "QA7K")
    page.get_by_text("Saving …").wait_for()
    log(page, "Q5TT")
    log(page, "Q6")
    page.keyboard.type("Q7")
    page.wait_for_timeout(100)
    assert len(pending) == 1
    pending[0].continue_()
    page.get_by_text("has at least three characters").first.wait_for()  # the third in the queue is refused
    assert list(Contact.objects.order_by("id").values_list("call", flat=True)) == ["Q0XYZ", "QA7K", "Q5TT"]
    page.get_by_text("Kept for after it: Q7").wait_for()
    assert call.input_value() == "Q6"
    call.fill("Q6DF")
    page.keyboard.press("Enter")
    logged(page, "Q6DF").wait_for()
    until(page, "document.querySelector('#entry-form').elements.call.value == 'Q7'")
    page.keyboard.press("Control+a")

    page.keyboard.press("Delete")

    # a refused row keeps everything and puts the cursor where it is wrong
    page.get_by_label("Grid").fill("ZZ11")
    call.fill("Q8AA")
    call.press("Enter")
    page.locator("#entry .errorlist").wait_for()
    until(page, "document.activeElement.name === 'their_grid'")
    assert call.input_value() == "Q8AA"
    page.get_by_label("Grid").fill("")
    call.fill("QABC")
    call.press("Enter")
    page.get_by_text("Press Enter again to log it").wait_for()
    until(page, "document.activeElement.name === 'call'")
    page.keyboard.press("Enter")
    logged(page, "QABC").wait_for()

    # a row that is being mended survives a contact that is logged meanwhile
    page.get_by_role("link", name="Mend Q5TT").press("Enter")
    until(page, "document.activeElement.id.endsWith('-call')")  # the row has settled
    page.locator("tr.chosen").get_by_label("Name").fill("half typed")
    call.fill("Q9AA")
    call.press("Enter")
    page.locator("#entry-state").get_by_text("Q9AA").wait_for()
    assert page.locator("tr.chosen").get_by_label("Name").input_value() == "half typed"
    page.locator("tr.chosen").get_by_role("button", name="Save").press("Enter")
    page.get_by_text("is mended").wait_for()
    until(page, "document.activeElement.name == 'call'")
    assert Contact.objects.get(call="Q5TT").name == "half typed"
    page.get_by_role("link", name="Mend Q9AA").press("Enter")
    until(page, "document.activeElement.id.endsWith('-call')")  # the row has settled
    page.get_by_role("button", name="Delete Q9AA").press("Enter")
    page.get_by_text("is out of the log").wait_for()
    assert not Contact.objects.filter(call="Q9AA").exists()


def test_everything_works_without_script(signed_in_page, outing):
    address = f"/outings/{outing.pk}/log/"
    page = signed_in_page(outing.owner, address, viewport=PHONE, java_script_enabled=False)
    assert "UTC" in page.locator("#figures").inner_text()
    form = page.locator("form[action$='/begin/']")
    form.get_by_label("Mode").fill("CW")
    form.get_by_label("Since").fill("-50")
    form.get_by_role("button", name="Begin").click()
    page.get_by_text("On the air: ").wait_for()

    call = page.get_by_label("Call", exact=True)
    call.fill("q0xyz")
    call.press("Enter")
    page.get_by_text("Logged Q0XYZ").wait_for()
    call.fill("Q0XYZ")
    page.get_by_label("Comment").fill("kept")
    page.get_by_role("button", name="Look it up").click()
    page.get_by_text("Duplicate:").wait_for()
    assert page.get_by_label("Comment").input_value() == "kept"
    page.get_by_label("Time", exact=True).fill("99")
    page.get_by_role("button", name="Log it").click()
    page.get_by_text("Give a time in UTC").wait_for()
    assert page.get_by_label("Comment").input_value() == "kept" and Contact.objects.count() == 1

    page.goto(address)
    page.get_by_role("link", name="Mend Q0XYZ").click()
    page.locator("tr.chosen").get_by_label("Name").fill("Ann")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("is mended").wait_for()
    page.get_by_role("button", name="Undo Q0XYZ").click()
    page.get_by_role("button", name="Bring back Q0XYZ").click()
    page.get_by_role("link", name="Mend Q0XYZ").click()
    page.get_by_role("button", name="Delete Q0XYZ").click()
    page.get_by_role("button", name="Bring back Q0XYZ").click()
    assert Contact.objects.get().name == "Ann"

    for when, button in (("-30", "Pause"), ("-20", "Resume")):
        page.locator("#on-air").get_by_label("When").fill(when)
        page.get_by_role("button", name=button).click()
    page.get_by_role("link", name="Move its start").click()
    page.get_by_label("Began").fill("-40")
    page.get_by_role("button", name="Move it").click()
    page.get_by_text("begins at ").first.wait_for()
    page.locator("#on-air").get_by_role("button", name="Stop").click()
    page.get_by_text("Stopped at").wait_for()
    assert abs(Stint.objects.get().on_air_s - 30 * 60) <= 60

    page.get_by_role("link", name="Enter a log kept on paper").click()
    page.get_by_role("link", name="Add a stint afterwards").click()
    page.get_by_label("From").fill("2026-04-20 2330")
    page.get_by_label("To", exact=True).fill("0030")
    page.get_by_role("button", name="Add", exact=True).click()
    for call_, time in (("Q6DF", "2355"), ("Q7AA", "0005")):
        if time == "2355":
            page.get_by_label("Date (UTC)").fill("2026-04-20")
        call.fill(call_)
        page.get_by_label("Time", exact=True).fill(time)
        call.press("Enter")
        page.get_by_text(f"Logged {call_}").wait_for()
    assert f"{Contact.objects.get(call='Q7AA').started_at:%Y-%m-%d %H:%M}" == "2026-04-21 00:05"


@pytest.mark.anywhere
def test_the_page_is_accessible_and_fits_every_screen_in_every_theme(signed_in_page, stint):
    outing = stint.outing
    a_stint(outing, start=minutes_ago(30), minutes=None, band="40m", mode="CW", submode="", radio=a_radio(outing.owner))
    for number in range(8):
        a_contact(stint=stint, call=f"F/Q{number}ABC/QRP", at=minutes_ago(40 - number), their_grid="IO91wm",
                  their_reference="QS-0007", name="Somebody with a long name", comment="a comment that takes its place")
    a_contact(outing, call="Q0?AA", pending=True, at=minutes_ago(90))
    page = signed_in_page(outing.owner)
    for path in ("", "?paper=1", f"contacts/{Contact.objects.first().pk}/mend/", "stints/add/"):
        page.goto(f"/outings/{outing.pk}/log/{path}")
        if not path:
            page.get_by_label("Call", exact=True).fill("F/Q1ABC/QRP")
            page.locator("#known").get_by_text("Worked before").wait_for()
        page.evaluate("document.querySelectorAll('details.more').forEach((part) => { part.open = true; })")
        assert looks_wrong(page) == [], path
