"""The field page with 2,000 entries on board: from the Enter key to "kept"; and all that waits handed in at once.

    python tests/benchmarks/field_keep.py

In Chromium against a server in the same process, so the hand-in shares a processor with the phone. Kept means: durable
in IndexedDB and said on the page. The goal is a median under 50 ms. Measured on two shared cores that others used, too
(load 20), SQLite, 2026-11-27: median 13 ms with nothing on board, 19 ms with 2,000 entries (95th percentile 79 ms);
2,120 entries in 45 s, and in 12 s two days before, when the cores were free.
"""

import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_log
from django.conf import settings
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.test import Client
from django.test.testcases import LiveServerThread
from django.utils import timezone
from playwright.sync_api import sync_playwright

from outings.models import Contact
from tests import browsing, making

ON_BOARD, KEYPRESSES = (0, 2_000), 60
FILL = """async ([outing, from, to]) => {
  const {Keep, uuid} = await import("/static/field/keep.js");
  const keep = new Keep();
  for (let at = from; at < to; at += 250) {
    const acts = [];
    for (let number = at; number < Math.min(at + 250, to); number += 1) {
      const when = new Date(Date.now() - (2500 - number) * 10_000).toISOString().slice(0, 19);
      acts.push({kind: "contact", subject: uuid(), base: 0, outing, values: {outing, call: `Q${number}AB`,
        started_at: `${when}Z`, seconds_known: true, band: "20m", mode: "SSB", rst_sent: "59", rst_rcvd: "59"}});
    }
    await keep.write(acts);
  }
}"""
WATCH = """() => {
  globalThis.took = [];
  let pressed = 0;
  document.querySelector("#call").addEventListener("keydown", (event) => {
    if (event.key === "Enter") pressed = event.timeStamp;
  }, true);
  new MutationObserver(() => {
    if (!pressed || !/ kept\\b/.test(document.querySelector("#kept").textContent)) return;
    took.push(performance.now() - pressed);
    pressed = 0;
  }).observe(document.querySelector("#kept"), {childList: true, subtree: true, characterData: true});
}"""


def opened(browser, server, outing):
    """The field page with the outing on board."""
    context = browser.new_context(base_url=f"http://localhost:{server.port}", viewport=browsing.PHONE)
    client = Client()
    client.force_login(outing.owner)
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": f"http://localhost:{server.port}"}])
    page = context.new_page()
    page.set_default_timeout(120_000)
    page.goto(f"/field/?outing={outing.uuid}")
    page.wait_for_selector("body[data-ready=yes]")
    page.evaluate("navigator.serviceWorker.ready.then((found) => found.scope)")
    return page


def main():
    big_log.empty_database()
    operator = making.an_operator()
    outing = making.an_outing(operator, start=f"{timezone.now():%Y-%m-%d 00:00}", hours=24)
    server = LiveServerThread("localhost", StaticFilesHandler, port=0)
    server.daemon = True
    server.start()
    server.is_ready.wait()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browsing.executable(), args=browsing.ARGUMENTS)
        page = opened(browser, server, outing)
        page.context.set_offline(True)
        filled = 0
        for count in ON_BOARD:
            page.evaluate(FILL, [str(outing.uuid), filled, count])
            filled = count
            begun = time.perf_counter()
            page.reload()
            page.wait_for_selector("body[data-ready=yes]")
            opening_ms = 1000 * (time.perf_counter() - begun)
            page.evaluate(WATCH)
            for number in range(KEYPRESSES):
                page.fill("#call", f"Q{number % 10}K{chr(65 + number // 10)}X")
                page.press("#call", "Enter")
                page.wait_for_function("(count) => took.length === count", arg=number + 1)
            took = sorted(page.evaluate("took"))
            late = took[int(0.95 * len(took))]
            print(f"{count:>5} entries on board: Enter to kept, median {statistics.median(took):5.1f} ms, "
                  f"95th percentile {late:5.1f} ms; the page opens in {opening_ms:.0f} ms")
        waiting = ON_BOARD[-1] + KEYPRESSES * len(ON_BOARD)
        begun = time.perf_counter()
        page.context.set_offline(False)
        page.wait_for_function("() => document.querySelector('#kept').textContent.includes('All handed in')")
        took_s = time.perf_counter() - begun
        assert Contact.objects.count() == waiting
        print(f"{waiting} waiting entries handed in at once: {took_s:.1f} s, {1000 * took_s / waiting:.1f} ms an entry")
        browser.close()
    server.terminate()


if __name__ == "__main__":
    main()
