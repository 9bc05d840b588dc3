"""The field page in a phone's browser: typed offline, kept over reloads, handed in once, nothing else cached."""

import datetime
import gzip
import json
from pathlib import Path

import pytest
from playwright.sync_api import expect

from equipment.models import BandSetting, Pack, PackReading
from outings.models import ChecklistLine, Contact, FieldEntry, Outing, Remark, Stint
from outings.views.field import parts
from tests import browsing, making
from tests.browsing import says
from tests.outings.views.test_phones import a_conflict

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def outing():
    operator = making.an_operator()
    making.a_power_setting(making.a_radio(operator))
    making.an_arrangement(making.an_antenna(operator), bands=["20m", "40m"])
    making.a_pack(operator)
    return making.an_outing(operator, start=making.tomorrow())


def opened(signed_in_page, outing, **options):
    page = signed_in_page(outing.owner, f"/field/?outing={outing.uuid}", viewport=browsing.PHONE, **options)
    page.wait_for_selector("body[data-ready=yes]")
    page.wait_for_selector("#day:not([hidden])")
    return page


def go_on_air(page, tuned="14285", mode="SSB", **more):
    page.click("#change")
    page.fill("#sheet [name=tuned]", tuned)
    page.select_option("#sheet [name=mode]", mode)
    page.select_option("#sheet [name=arrangement]", index=1)
    page.select_option("#sheet [name=pack]", index=1)
    for name, value in more.items():
        page.fill(f"#sheet [name={name}]", value)
    page.click("#sheet-ok")
    page.wait_for_selector("#sheet:not([open])", state="attached")
    says(page, "#kept", "On the air")


def log(page, call, **more):
    page.fill("#call", call)
    for name, value in more.items():
        page.fill(f"#entry [name={name}]", value)
    page.press("#call", "Enter")
    says(page, "#kept", f"{call} kept")


def kept(page):
    """The page's worker has put everything away."""
    page.evaluate("navigator.serviceWorker.ready.then((found) => found.scope)")


def hand_in(page):
    page.click("[data-part=home]")
    page.click("#hand-in")
    says(page, "#kept", "All handed in")


@pytest.mark.anywhere
def test_numbers_are_shown_with_a_comma_and_taken_as_numbers(signed_in_page, outing):
    outing.owner.decimal_sign = ","
    outing.owner.save()
    page = opened(signed_in_page, outing)
    go_on_air(page, "14,285", power="2,5", swr="1,3")
    says(page, "#on-air", "14,285 MHz · 2,5 W")
    says(page, "#on-air", "SWR 1,3")
    page.click("#change")
    assert [page.input_value(f"#sheet [name={name}]") for name in ("tuned", "power", "swr")] == ["14,285", "2,5", "1,3"]
    page.click("#sheet [value=cancel]")
    page.click("[data-part=measure]")
    page.fill("#measure [name=voltage_v]", "13,1")
    page.click("#measure button")
    says(page, "#measured", "13,1 V")
    hand_in(page)
    stint = Stint.objects.get()
    assert (stint.frequency_hz, stint.power_w, stint.swr_at_radio) == (14_285_000, 2.5, 1.3)
    assert PackReading.objects.get().voltage_v == 13.1


def test_a_day_without_a_network_is_kept_over_reloads_and_handed_in_once(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    kept(page)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector("#day:not([hidden])")
    go_on_air(page, power="5")
    assert "20m SSB" in page.inner_text("#on-air")
    for call in ("Q0XYZ", "Q7ABC/P", "Q5?"):
        log(page, call)
    page.fill("#call", "q0xyz")
    page.wait_for_selector("#told.repeat")
    page.press("#call", "Escape")
    page.reload()
    page.wait_for_selector("#contacts li:nth-child(3)")
    log(page, "Q4DEF")
    page.click("#undo")
    expect(page.locator("#contacts li")).to_have_count(3)
    page.click("[data-part=measure]")
    page.fill("#measure [name=voltage_v]", "13,1")
    page.click("#measure button")
    page.wait_for_selector("#measured li")
    page.click("[data-part=home]")
    page.click("#hand-in")
    says(page, "#handed", "cannot be reached")
    assert not Contact.objects.exists()

    page.context.set_offline(False)
    hand_in(page)
    contacts = dict(Contact.objects.values_list("call", "pending"))
    assert contacts == {"Q0XYZ": False, "Q5?": True, "Q7ABC/P": False}
    stint = Stint.objects.get()
    assert (stint.band, stint.mode, stint.power_w, stint.frequency_hz) == ("20m", "SSB", 5.0, 14_285_000)
    assert {contact.stint_id for contact in Contact.objects.all()} == {stint.pk}
    before = FieldEntry.objects.count()
    page.click("#hand-in")
    says(page, "#handed", "0 handed in")
    assert FieldEntry.objects.count() == before


def test_what_is_on_the_air_changes_backdated_with_its_contacts(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    go_on_air(page, ago="30")
    page.fill("#entry [name=time]", "")
    log(page, "Q0XYZ")
    go_on_air(page, tuned="40m", ago="10")
    assert "40m" in page.inner_text("#on-air")
    page.click("#pause")
    says(page, "#on-air", "Paused")
    page.click("#pause")
    says(page, "#kept", "On the air again")
    page.click("#stop")
    page.click("#sheet-ok")
    says(page, "#on-air", "Nothing is on the air")
    hand_in(page)
    first, second = Stint.objects.order_by("started_at")
    assert (first.band, second.band) == ("20m", "40m") and first.ended_at == second.started_at
    assert Contact.objects.get().stint == second and second.ended_at


def test_what_is_on_the_air_is_changed_in_two_taps(signed_in_page, outing):
    outing.bands = ["20m", "40m"]
    outing.keep(outing.owner)
    BandSetting.objects.filter(band="40m").update(tap="3")
    page = opened(signed_in_page, outing)
    go_on_air(page, power="5", ago="60")
    page.click("#change")
    page.click("#sheet .choices button:has-text('40m SSB')")
    says(page, "#on-air", "40m SSB · 5 W")
    says(page, "#on-air", "For 40m: tap 3")
    page.click("#change")
    page.click("#sheet .choices button:has-text('20m SSB')")
    says(page, "#on-air", "20m SSB · 14.285 MHz · 5 W")
    hand_in(page)
    assert list(Stint.objects.order_by("started_at", "pk").values_list("band", "pack")) == [
        (band, Pack.objects.get().pk) for band in ("20m", "40m", "20m")
    ]


def test_readings_are_taken_with_and_without_a_stint_and_can_be_deleted(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.click("[data-part=measure]")
    typed = (("Pack one", "13,4"), ("another source", "12.1"), ("Pack one", "1.33"))
    for number, (source, volts) in enumerate(typed, 1):
        page.select_option("#measure [name=pack]", label=source)
        page.fill("#measure [name=voltage_v]", volts)
        page.click("#measure button")
        expect(page.locator("#measured li")).to_have_count(number)
    page.click("#measured button:has-text('1.33 V')")
    page.click("#sheet button.danger")
    says(page, "#kept", "Deleted")
    says(page, "#newest", "Last: 13.4 V")
    hand_in(page)
    page.click("[data-part=measure]")
    expect(page.locator("#measured li")).to_have_count(2)
    assert PackReading.objects.get().voltage_v == 13.4 and PackReading.everything.count() == 2
    assert Remark.objects.get().value == 12.1


def test_the_kit_is_changed_in_the_field_and_leaves_the_plan_as_it_was(signed_in_page, outing):
    spare = making.a_kit(outing.owner, "Spare kit", items=[(Pack.objects.get(), 2)])
    outing.title, outing.exchange, outing.exchange_text = "Morning at the point", "location", "UT"
    outing.keep(outing.owner)
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    page.click("[data-part=home]")
    page.click("#change-kit")
    page.select_option("#sheet [name=kit]", label="Spare kit")
    page.fill("#sheet [name=words]", "The tuner stayed in the car.")
    page.click("#sheet-ok")
    says(page, "#facts", "Spare kit: 2 × Pack one")
    page.context.set_offline(False)
    hand_in(page)
    outing.refresh_from_db()
    assert outing.kit == spare and outing.title == "Morning at the point" and outing.exchange_text == "UT"
    assert Remark.objects.get().text == "Kit changed: Spare kit instead of none. The tuner stayed in the car."


def test_the_next_site_takes_kit_packs_and_ticks_along(signed_in_page, outing):
    making.a_site(outing.owner, "Gull Bank")
    outing.title, outing.kit = "Morning at the point", making.a_kit(outing.owner)
    outing.keep(outing.owner)
    for section in ("pack", "arrival"):
        ChecklistLine(owner=outing.owner, outing=outing, text=f"Look {section}", section=section).keep(outing.owner)
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    go_on_air(page, power="5")
    log(page, "Q0XYZ")
    page.click("[data-part=measure]")
    page.fill("#measure [name=voltage_v]", "12.9")
    page.click("#measure button")
    says(page, "#kept", "12.9 V kept")
    page.click("[data-part=list]")
    for number in (0, 1):
        page.locator("#checklist label").nth(number).click()
        says(page, "#kept", "Ticked")
    page.click("[data-part=home]")
    page.click("#next-site")
    page.click("#sheet-ok")
    says(page, "#title", "Gull Bank")
    says(page, "#kept", "At Gull Bank kept")
    says(page, "#newest", "Last: 12.9 V, receiving")
    says(page, "#facts", "Shore kit")
    page.click("[data-part=log]")
    page.click("#change")
    assert page.input_value("#sheet [name=tuned]") == "14.285" and page.input_value("#sheet [name=power]") == "5"
    page.click("#sheet-ok")
    says(page, "#on-air", "20m SSB")
    page.fill("#call", "Q0XYZ")
    says(page, "#told", "Worked 1 time before")
    log(page, "Q7ABC")
    page.context.set_offline(False)
    hand_in(page)
    following = Outing.objects.exclude(pk=outing.pk).get()
    assert following.site.name == "Gull Bank" and following.contacts.get().call == "Q7ABC"
    assert following.kit == outing.kit
    ticked = {line.text: bool(line.ticked_at) for line in following.checklist.all()}
    assert ticked == {"Look pack": True, "Look arrival": False}
    before, there = Stint.objects.order_by("started_at")
    outing.refresh_from_db()
    assert outing.ended_at and before.ended_at and outing.title == "Morning at the point"
    assert there.outing == following and there.pack == before.pack


def test_a_saved_copy_is_a_standard_file_with_every_contact(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    go_on_air(page)
    page.click("#more summary")
    log(page, "Q0XYZ", name="Zoë", their_grid="JO22")
    page.click("[data-part=home]")
    with page.expect_download() as download:
        page.click("#copy")
    text = Path(download.value.path()).read_bytes()
    text.decode("ascii")
    assert b"<ADIF_VER:5>3.1.7" in text and b"<CALL:5>Q0XYZ" in text and b"<NAME:3>Zoe" in text
    assert download.value.suggested_filename.endswith("_copy.adi")


@pytest.mark.anywhere
def test_the_worker_keeps_the_field_page_only_and_leaves_the_rest_alone(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    kept(page)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    log(page, "Q0XYZ")
    hand_in(page)
    answers = page.evaluate("""async (paths) => Object.fromEntries(await Promise.all(
      paths.map(async (path) => [path, (await fetch(path)).ok])))""", ["/field/hello/", "/field/outings/", "/outings/"])
    assert all(answers.values())
    found = page.evaluate("""async () => {
      const found = [];
      for (const name of await caches.keys()) {
        for (const one of await (await caches.open(name)).keys()) found.push(new URL(one.url).pathname);
      }
      return found;
    }""")
    assert sorted(found) == sorted([*parts(), f"/field/kept/{outing.uuid}"])  # also a copy of the outing
    page.context.set_offline(True)
    for path in ("/field/hello/", "/field/outings/", "/outings/", "/static/base.js"):
        assert page.evaluate("(path) => fetch(path).then(() => false, () => true)", path), path
    assert page.evaluate("fetch('/field/').then((answer) => answer.ok)")
    assert not page.evaluate("fetch('/field/', {method: 'POST'}).then(() => true, () => false)")
    page.context.set_offline(False)
    page.goto("/outings/")
    assert page.evaluate("navigator.serviceWorker.controller") is None


@pytest.mark.anywhere
def test_a_newer_worker_takes_over_and_strands_no_queue(signed_in_page, outing, monkeypatch):
    page = opened(signed_in_page, outing)
    kept(page)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    of_worker = "async () => (await caches.keys()).filter((name) => name.startsWith('stationlog-field-')).join()"
    before = page.evaluate(of_worker)
    page.context.set_offline(True)
    log(page, "Q0XYZ")
    monkeypatch.setattr("outings.views.field.version", lambda: "0123456789abcdef")
    page.context.set_offline(False)
    page.evaluate("navigator.serviceWorker.getRegistration('/field/').then((found) => found.update())")
    browsing.until(page, f"async () => await ({of_worker})() === 'stationlog-field-0123456789abcdef'")
    assert before != page.evaluate(of_worker)
    says(page, "#standing", "A newer page is ready")
    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector("#contacts li")
    assert calls(page) == ["Q0XYZ"]
    log(page, "Q7ABC")
    page.context.set_offline(False)
    hand_in(page)
    assert Contact.objects.count() == 2


@pytest.mark.anywhere
def test_first_load_stays_small(signed_in_page, outing):
    """Under 150 kB as sent, with every part compressed as the server does."""
    page = opened(signed_in_page, outing)
    addresses = page.evaluate("performance.getEntriesByType('resource').map((one) => one.name)")
    addresses += page.evaluate("(paths) => paths.map((path) => new URL(path, location).href)", parts())  # of the worker
    sizes = {}
    for address in {page.url, *addresses}:
        if "/static/" in address or address == page.url:
            body = page.request.get(address).body()
            packed = "/static/" in address and not address.endswith((".woff2", ".png"))
            sizes[address] = len(gzip.compress(body)) if packed else len(body)
    assert len(sizes) >= 8 and sum(sizes.values()) < 150_000, sizes


@pytest.mark.anywhere
def test_a_wrong_call_time_or_grid_is_said_and_keeps_what_was_typed(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    for name, value, word in (("call", "Q!", "letters"), ("time", "2561", "HHMM"), ("their_grid", "ZZ99", "grid")):
        page.evaluate("document.querySelector('#entry').reset()")
        page.evaluate("document.querySelector('#more').open = true")
        page.fill("#call", "Q0XYZ")
        page.fill(f"#entry [name={name}]", value)
        page.press("#call", "Enter")
        says(page, "#told.bad", word)
        assert page.input_value(f"#entry [name={name}]") == value
    assert page.query_selector("#contacts li") is None


@pytest.mark.anywhere
def test_entries_lost_from_one_store_come_back_from_the_other(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    log(page, "Q0XYZ")
    log(page, "Q7ABC")
    page.evaluate("""() => new Promise((resolve) => {
      const asked = indexedDB.open("stationlog-field");
      asked.onsuccess = () => {
        const transaction = asked.result.transaction("entries", "readwrite");
        transaction.objectStore("entries").clear();
        transaction.oncomplete = () => { asked.result.close(); resolve(); };
      };
    })""")
    page.context.set_offline(False)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    assert "2 entries came back from the journal" in page.inner_text("#standing")
    hand_in(page)
    assert Contact.objects.count() == 2
    stored = json.loads(page.evaluate("JSON.stringify(Object.keys(localStorage))"))
    assert not [key for key in stored if "entry/" in key]


def test_a_contact_typed_afterwards_goes_to_the_stint_of_its_time(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    go_on_air(page, ago="60")
    go_on_air(page, tuned="7150", ago="5")
    now = page.evaluate("Date.now()") / 1000

    def minutes_ago(minutes):
        return f"{datetime.datetime.fromtimestamp(now - 60 * minutes, datetime.UTC):%H%M}"

    log(page, "Q1BEF", time=minutes_ago(30))
    page.fill("#entry [name=time]", minutes_ago(90))
    page.fill("#call", "Q2ERL")
    says(page, "#told", "it will be in no stint")
    page.press("#call", "Enter")
    says(page, "#kept", "Q2ERL kept")
    log(page, "Q3NOW")
    hand_in(page)
    found = Contact.objects.order_by("call").values_list("stint__band", "band", "seconds_known")
    assert list(found) == [("20m", "20m", False), (None, "40m", False), ("40m", "40m", True)]


def calls(page):
    return page.locator("#contacts .call").all_inner_texts()


@pytest.mark.parametrize("handed_in", [False, True], ids=["on the phone", "handed in"])
def test_undo_goes_back_step_by_step_over_edits_and_deletions(signed_in_page, outing, handed_in):
    page = opened(signed_in_page, outing)
    kept(page)
    page.reload()
    page.context.set_offline(not handed_in)
    go_on_air(page)
    log(page, "Q1AAA")
    log(page, "Q2BBB")
    page.click("#contacts button[aria-label^='Edit Q2BBB']")
    page.fill("#sheet [name=call]", "Q2BBX")
    page.click("#sheet-ok")
    says(page, "#kept", "Q2BBX changed")
    page.click("#contacts button[aria-label^='Edit Q1AAA']")
    page.click("#sheet button.danger")
    says(page, "#kept", "Q1AAA deleted")
    if handed_in:
        hand_in(page)
        page.click("[data-part=log]")
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    for shown in (["Q2BBX", "Q1AAA"], ["Q2BBB", "Q1AAA"], ["Q1AAA"], []):
        page.click("#undo")
        browsing.until(
            page, "(shown) => shown === "
            "[...document.querySelectorAll('#contacts .call')].map((one) => one.textContent).sort().join()",
            ",".join(sorted(shown)))
    assert page.is_disabled("#undo")
    page.context.set_offline(False)
    hand_in(page)
    assert not Contact.objects.exists() and Contact.everything.count() == 2


@pytest.mark.anywhere
def test_what_the_store_refuses_is_in_the_journal_and_comes_back(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    page.evaluate("""() => {
      const usual = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (names, mode, options) {
        const writes = mode === "readwrite" && [names].flat().includes("entries");
        if (writes) throw new DOMException("dead", "InvalidStateError");
        return usual.call(this, names, mode, options);
      };
    }""")
    page.fill("#call", "Q0XYZ")
    page.press("#call", "Enter")
    says(page, "#kept", "Q0XYZ kept, in the journal only. 1 on this phone only")
    assert page.input_value("#call") == ""
    page.click("[data-part=home]")
    page.click("#hand-in")  # which fails, and shows what the store has
    says(page, "#handed", "cannot be reached")
    says(page, "#kept", "1 on this phone only")
    page.click("[data-part=log]")
    assert calls(page) == ["Q0XYZ"]
    page.context.set_offline(False)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    assert "1 entry came back" in page.inner_text("#standing")
    hand_in(page)
    assert Contact.objects.get().call == "Q0XYZ"


def test_what_only_the_journal_took_is_handed_in_once_the_store_takes_it(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.evaluate("""() => {
      const usual = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (names, mode, options) {
        if (mode === "readwrite") throw new DOMException("dead", "InvalidStateError");
        return usual.call(this, names, mode, options);
      };
      globalThis.mend = () => { IDBDatabase.prototype.transaction = usual; };
    }""")
    for call in ("Q0XYZ", "Q7ABC"):
        page.fill("#call", call)
        page.press("#call", "Enter")
        says(page, "#kept", f"{call} kept, in the journal only")
    says(page, "#standing", "2 entries are in the journal only")
    page.evaluate("mend()")
    hand_in(page)
    assert sorted(Contact.objects.values_list("call", flat=True)) == ["Q0XYZ", "Q7ABC"]
    expect(page.locator("#standing")).not_to_contain_text("journal")
    assert not page.evaluate("Object.keys(localStorage).filter((key) => key.includes('entry/')).length")


@pytest.mark.anywhere
def test_the_next_call_can_be_typed_while_the_last_is_being_kept(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.focus("#call")
    page.keyboard.type("Q1AAA\nQ2BBB\nQ3CCC\nQ4D")
    says(page, "#kept", "Q3CCC kept")
    assert sorted(calls(page)) == ["Q1AAA", "Q2BBB", "Q3CCC"] and page.input_value("#call") == "Q4D"


@pytest.mark.anywhere
def test_the_next_reading_and_note_can_be_typed_while_the_last_are_being_kept(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.click("[data-part=measure]")
    for form, field, first, then, words in (
        ("#measure", "voltage_v", "13.1", "12.9", "13.1 V kept"), ("#noise", "value", "4", "5", "Noise kept"),
        ("#remark", "text", "Wind", "Rain", "Note kept"),
    ):
        page.evaluate("""([form, name, first, then]) => {
          const field = document.querySelector(form).elements[name];
          field.value = first;
          field.form.requestSubmit();
          field.value = then;
        }""", [form, field, first, then])
        says(page, "#kept", words)
        assert page.input_value(f"{form} [name={field}]") == then
    hand_in(page)
    assert PackReading.objects.get().voltage_v == 13.1
    assert list(Remark.objects.order_by("pk").values_list("value", "text")) == [(4, ""), (None, "Wind")]


def test_what_is_kept_while_entries_are_handed_in_goes_along_when_the_button_is_pressed(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    held = []
    page.route("**/field/hand-in/", lambda route: route.continue_() if held else held.append(route))
    log(page, "Q0XYZ")
    page.evaluate("dispatchEvent(new Event('online'))")  # hands in by itself, and reads what waits
    page.click("[data-part=home]")
    page.wait_for_selector("#progress:not([hidden])")
    page.click("[data-part=log]")
    log(page, "Q7ABC")
    page.click("[data-part=home]")
    page.click("#hand-in")
    held[0].continue_()
    says(page, "#kept", "All handed in")
    assert Contact.objects.count() == 2


def test_an_entry_that_was_kept_is_never_shown_as_handed_in(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    page.evaluate("""() => {
      globalThis.said = [];
      const line = document.querySelector("#kept");
      new MutationObserver(() => said.push(line.textContent)).observe(line, {childList: true, subtree: true});
    }""")
    log(page, "Q0XYZ")
    assert not [words for words in page.evaluate("said") if "Q0XYZ kept" in words and "1 on this phone" not in words]


def test_what_is_about_to_be_pressed_stays_while_a_hand_in_draws_the_page_again(signed_in_page, outing):
    ChecklistLine(owner=outing.owner, outing=outing, text="Mast", section="pack").keep(outing.owner)
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    log(page, "Q0XYZ")
    page.evaluate("""() => {
      globalThis.there = [...document.querySelectorAll("#contacts button, #checklist input")];
      there[0].focus();
      document.querySelector("#queue").textContent = "";
    }""")
    page.evaluate("document.querySelector('#hand-in').click()")
    browsing.until(page, "document.querySelector('#queue').textContent !== ''")  # drawn after the rest
    assert page.evaluate("there.map((one) => one.isConnected)") == [True, True]
    assert page.evaluate("document.activeElement === there[0]")


@pytest.mark.anywhere
def test_nothing_moves_under_the_thumb_when_a_warning_or_question_appears(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    go_on_air(page, ago="60")
    page.evaluate("document.fonts.ready.then(() => {})")
    place = page.locator("#call").bounding_box()
    page.clock.install()
    page.clock.run_for(20_000)
    says(page, "#forgotten", "Still on the air?")
    page.fill("#call", "Q0XYZ")
    log(page, "Q0XYZ")
    page.fill("#call", "Q0XYZ")
    page.wait_for_selector("#told.repeat")
    assert page.locator("#call").bounding_box() == place
    page.set_viewport_size({"width": 320, "height": 640})
    assert browsing.overflow_px(page) <= 0 and browsing.axe_serious(page) == []


def test_an_expired_login_leaves_the_queue_and_says_where_to_log_in(signed_in_page, outing):
    page = opened(signed_in_page, outing)
    page.context.clear_cookies()
    log(page, "Q0XYZ")
    page.click("[data-part=home]")
    page.click("#hand-in")
    says(page, "#handed", "The login has expired")
    assert page.get_attribute("#standing a", "href") == "/login/?next=/field/"
    says(page, "#kept", "1 on this phone only")
    assert not Contact.objects.exists()


@pytest.mark.anywhere
def test_the_plan_the_log_and_the_start_page_lead_to_the_phone(signed_in_page, outing):
    page = signed_in_page(outing.owner, "/")
    for path in ("/", f"/outings/{outing.pk}/", f"/outings/{outing.pk}/log/", f"/outings/{outing.pk}/phones/"):
        page.goto(path)
        assert page.get_by_role("link", name="On the phone").get_attribute("href") == f"/field/?outing={outing.uuid}"


@pytest.mark.anywhere
@pytest.mark.parametrize("viewport", [browsing.PHONE, browsing.LAPTOP], ids=["phone", "laptop"])
def test_the_page_of_phones_is_accessible_and_fits(signed_in_page, outing, viewport):
    a_conflict(outing)
    making.a_remark(outing)
    page = signed_in_page(outing.owner, f"/outings/{outing.pk}/phones/", viewport=viewport)
    for path in (page.url, f"/outings/{outing.pk}/phones/remarks/add/"):
        page.goto(path)
        assert browsing.overflow_px(page) <= 0 and browsing.axe_serious(page) == []
