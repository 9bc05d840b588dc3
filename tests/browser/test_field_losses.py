"""A day on the phone with kills at any moment and a road that loses everything at times: not one contact lost or twice.

Short by default. A long run: STATIONLOG_FIELD_CONTACTS=500 STATIONLOG_FIELD_KILLS=100, with STATIONLOG_FIELD_SEED for
another one.
"""

import datetime
import os
import random
import signal
import subprocess
import time
from collections import Counter

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from equipment.models import PackReading
from outings.models import Contact, FieldEntry, Stint
from stationlog import launch
from tests import browsing, making, trying
from tests.browser.test_field import go_on_air
from tests.rough_road import Road

pytestmark = pytest.mark.django_db(transaction=True)

CONTACTS = int(os.environ.get("STATIONLOG_FIELD_CONTACTS", "50"))
KILLS = int(os.environ.get("STATIONLOG_FIELD_KILLS", "10"))
SEED = int(os.environ.get("STATIONLOG_FIELD_SEED", "1"))
WHOLE_BROWSER, STORE = 0.3, 0.2  # of the kills; the others take the page alone
DAY = datetime.timedelta(hours=8)
TYPE = """([call, time]) => {
  const form = document.querySelector("#entry");
  form.elements.call.value = call;
  form.elements.time.value = time;
  form.requestSubmit();
}"""
LOSE_STORE = """() => new Promise((resolve) => {
  const asked = indexedDB.deleteDatabase("stationlog-field");
  asked.onsuccess = asked.onerror = resolve;
})"""
COUNT = """() => new Promise((resolve) => {
  const asked = indexedDB.open("stationlog-field");
  asked.onsuccess = () => {
    const counted = asked.result.transaction("entries").objectStore("entries").count();
    counted.onsuccess = () => { resolve(counted.result); asked.result.close(); };
  };
})"""


class Phone:
    """A browser in a process of its own, with a folder that outlives it; killed without warning, as phones do."""

    def __init__(self, playwright, folder, url, operator):
        self.playwright, self.folder, self.url = playwright, folder, url
        client = Client()
        client.force_login(operator)
        self.session = {
            "name": settings.SESSION_COOKIE_NAME, "value": client.cookies[settings.SESSION_COOKIE_NAME].value,
            "url": self.url,
        }
        self.process = self.page = None

    def start(self):
        found = self.folder / "DevToolsActivePort"
        found.unlink(missing_ok=True)
        path = browsing.executable(whole=True) or self.playwright.chromium.executable_path
        if not os.path.exists(path):
            trying.not_tried("Chromium", "no browser found; install Chromium or run: playwright install chromium")
        self.process = subprocess.Popen(
            [path, *browsing.ARGUMENTS, "--headless=new", "--no-default-browser-check", "--remote-debugging-port=0",
             f"--user-data-dir={self.folder}", "about:blank"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )
        end = time.monotonic() + 120
        while not (found.exists() and found.read_text().count("\n")):
            assert time.monotonic() < end and self.process.poll() is None, "the browser does not start"
            time.sleep(0.05)
        port = found.read_text().split()[0]
        self.context = self.playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}").contexts[0]
        self.context.add_cookies([self.session])
        self.open()

    def open(self):
        self.page = self.context.new_page()
        self.page.set_default_timeout(60_000)
        self.page.set_viewport_size(browsing.PHONE)
        self.page.goto(self.url)
        self.page.wait_for_selector("body[data-ready=yes]")
        assert self.page.is_visible("#day"), f"it opens with: {self.page.inner_text('body')}"

    def kill(self, what):
        """End the page or the whole browser at once, or one store of the page and the page; and open it again."""
        if what == "browser":
            self.stop()
            self.start()
            return
        if what == "store":
            self.page.evaluate(LOSE_STORE)
        self.page.close()
        self.open()

    def stop(self):
        """End all its processes at once, as a phone does: one that were left would still hold the store."""
        if self.process:
            if launch.WINDOWS:
                self.process.kill()
            else:
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def shows(self, call):
        return call in self.page.locator("#contacts .call").all_inner_texts()

    def says(self, selector, words):
        browsing.says(self.page, selector, words)

    def log(self, call, at):
        self.page.fill("#entry [name=time]", at)
        self.page.fill("#call", call)
        self.page.press("#call", "Enter")
        self.says("#kept", f"{call} kept")

    def hand_in(self, chance):
        """Press the button until all is handed in, on a road that is rough."""
        self.page.click("[data-part=home]")
        for _ in range(200):
            if "All handed in" in self.page.inner_text("#kept"):
                break
            self.page.click("#hand-in")
            self.page.wait_for_timeout(chance.randint(20, 250))
        self.says("#kept", "All handed in")
        self.page.click("[data-part=log]")


@pytest.fixture
def road(live_server):
    road = Road(int(live_server.url.rsplit(":", 1)[1]), SEED)
    yield road
    road.close()


@pytest.fixture
def phones(playwright, tmp_path_factory):
    """A function that makes a phone, switched on with the outing on board."""
    made = []

    def switched_on(road, outing):
        folder = tmp_path_factory.mktemp("phone")
        phone = Phone(playwright, folder, f"http://localhost:{road.port}/field/?outing={outing.uuid}", outing.owner)
        made.append(phone)
        phone.start()
        phone.page.evaluate("navigator.serviceWorker.ready.then((found) => found.scope)")
        return phone

    yield switched_on
    for phone in made:
        phone.stop()


def an_outing():
    operator = making.an_operator()
    making.a_radio(operator)
    making.an_arrangement(making.an_antenna(operator), bands=["20m", "40m"])
    making.a_pack(operator)
    return making.an_outing(operator, start=f"{timezone.now() - DAY:%Y-%m-%d %H:%M}", hours=24)


class Day:
    """The contacts of a day on one phone, typed with kills in between; `typed` is what has to be on the server."""

    def __init__(self, phone, letter, contacts, kills, chance):
        self.phone, self.letter, self.contacts, self.chance = phone, letter, contacts, chance
        begin = timezone.now().replace(microsecond=0) - DAY
        self.times = [begin + DAY * number / contacts for number in range(contacts)]
        self.kills = set(chance.sample(range(contacts), kills))
        self.typed, self.last, self.readings, self.killed = {}, None, 0, Counter()

    def step(self, number):
        """Type one contact; where a kill is due, in the middle of it, and again if the phone had not kept it."""
        at = self.times[number].replace(microsecond=0)
        call = f"Q{number % 10}{self.letter}{chr(65 + number // 10 % 26)}{chr(65 + number // 260)}"
        if number in self.kills:
            share = self.chance.random()
            what = "browser" if share < WHOLE_BROWSER else "store" if share < WHOLE_BROWSER + STORE else "page"
            if what == "store" and number >= self.contacts // 2:
                what = "page"  # what was handed in is in no second store
            self.killed[what] += 1
            self.phone.page.evaluate(TYPE, [call, f"{at:%H%M%S}"])
            time.sleep(self.chance.choice([0, self.chance.uniform(0, 0.05)]))
            self.phone.kill(what)
            if not self.phone.shows(call):
                self.phone.log(call, f"{at:%H%M%S}")
        else:
            self.phone.log(call, f"{at:%H%M%S}")
        self.typed[call] = at
        what = self.chance.random()
        page = self.phone.page
        if what < 0.1:
            page.click("#undo")
            self.phone.says("#kept", f"{call} taken back")
            del self.typed[call]
        elif what < 0.2:
            page.click(f"#contacts button[aria-label^='Edit {call} ']")
            page.fill("#sheet [name=call]", f"{call}/P")
            page.click("#sheet-ok")
            self.phone.says("#kept", f"{call}/P changed")
            self.typed[f"{call}/P"] = self.typed.pop(call)
        elif what < 0.3:
            page.click("[data-part=measure]")
            page.fill("#measure [name=voltage_v]", "13.1")
            page.click("#measure button")
            self.phone.says("#kept", "13.1 V kept")
            page.click("[data-part=log]")
            self.readings += 1


def on_the_server():
    return dict(Contact.objects.values_list("call", "started_at")), Contact.objects.count()


@pytest.mark.parametrize("count", [1, 2], ids=["one phone", "two phones"])
def test_every_contact_typed_between_kills_is_on_the_server_once(phones, road, count):
    chance = random.Random(SEED + count)
    outing = an_outing()
    share, kills = CONTACTS // count, KILLS // count
    days = [Day(phones(road, outing), letter, share, kills, chance) for letter in "AB"[:count]]
    road.mood = "closed"
    for day in days:
        go_on_air(day.phone.page, ago="485")
        day.phone.says("#on-air", "20m SSB")
    for number in range(share):
        for day in days:
            day.step(number)
        if number == share // 2:
            road.mood = "rough"
            for day in days:
                day.phone.hand_in(chance)
            road.mood = "closed"
    road.mood = "rough"
    for day in days:
        day.phone.hand_in(chance)
    road.mood = "smooth"
    assert not [fate for fate in ("lose", "lose answer", "cut answer") if not road.happened.get(fate)] or CONTACTS < 500
    typed = {call: at for day in days for call, at in day.typed.items()}
    assert on_the_server() == (typed, len(typed))
    assert sum(sum(day.killed.values()) for day in days) == kills * count
    assert Stint.objects.count() == count and PackReading.objects.count() == sum(day.readings for day in days)
    assert FieldEntry.objects.count() == sum(day.phone.page.evaluate(COUNT) for day in days)
    assert set(Contact.objects.values_list("stint", flat=True)) == set(Stint.objects.values_list("pk", flat=True))
