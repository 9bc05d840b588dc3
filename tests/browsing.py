"""What browser tests share: the browser, screen sizes, themes and the accessibility check."""

import os
import shutil
import time

from axe_playwright_python.sync_playwright import Axe

PHONE = {"width": 390, "height": 844}
SMALLEST = {"width": 360, "height": 640}
LAPTOP = {"width": 1280, "height": 800}
WALL = {"width": 3840, "height": 2160}
SCREENS = (SMALLEST, PHONE, LAPTOP, WALL)
THEMES = ("light", "dark", "red")
USE_THEME = """(theme) => {
  if (theme) document.documentElement.dataset.theme = theme;
  else delete document.documentElement.dataset.theme;
}"""

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-background-networking",
    "--disable-component-update", "--disable-default-apps", "--disable-sync", "--no-first-run",
]


def executable(*, whole=False):
    """The path of the system's Chromium; None leaves it to the one that Playwright installs.

    Debian has one without what a window needs as well, which computes a third less; what was kept in its profile does
    not outlive a kill as it does in the `whole` one.
    """
    named = os.environ.get("STATIONLOG_TEST_BROWSER")
    if named:
        return named
    names = ("chromium", "chromium-browser", "google-chrome")
    return next(filter(None, map(shutil.which, names if whole else ("chromium-headless-shell", *names))), None)


def until(page, expression, arg=None, *, seconds=60):
    """Wait until an expression is true; asked again and again, since the page's policy forbids waiting inside it."""
    for _ in range(seconds * 20):
        if page.evaluate(expression, arg):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"still not so after {seconds} s: {expression}")


def says(page, selector, words, *, seconds=60):
    """Wait until an element says so; asked every few milliseconds, since most of what is waited for comes at once."""
    end = time.monotonic() + seconds
    while True:
        text = page.evaluate("(selector) => document.querySelector(selector)?.textContent ?? ''", selector)
        if words in text:
            return
        assert time.monotonic() < end, f"{selector} still does not say “{words}” after {seconds} s, but “{text}”"
        page.wait_for_timeout(10)


def drawn(page):
    """Wait until the page was drawn as it stands: what watches over sizes, as base.js does, hears of them only then."""
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def use_theme(operator, theme):
    """Give the operator a theme, as the preferences page does."""
    operator.theme = theme
    operator.save(update_fields=["theme"])


def axe_serious(page, *, rules=None):
    """Run axe on the page once it is drawn; the list of its serious and critical findings, empty if there are none.

    `rules` names the rules to run where not all are wanted, such as ["color-contrast"] for a further theme.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    drawn(page)
    options = {"resultTypes": ["violations"], **({"runOnly": {"type": "rule", "values": rules}} if rules else {})}
    found = page.evaluate("(options) => axe.run(document, options).then(({violations}) => violations)", options)
    return [
        f"{rule['id']} ({rule['impact']}): {rule['help']}: {' '.join(map(str, node['target']))}"
        for rule in found if rule["impact"] in ("serious", "critical")
        for node in rule["nodes"]
    ]


def unreadable(page):
    """What axe finds on the page that is open, in every theme: a list of sentences, each with its theme.

    The page is put into the themes as it stands, so what was unfolded or typed stays; what has to do with colours is
    asked in each, the rest once.
    """
    own = page.evaluate("document.documentElement.dataset.theme ?? ''")
    page.emulate_media(reduced_motion="reduce")  # else colours would still be on their way from one theme to the next
    wrong = axe_serious(page)
    for theme in (theme for theme in THEMES if theme != (own or "light")):
        page.evaluate(USE_THEME, theme)
        wrong += [f"in {theme}: {one}" for one in axe_serious(page, rules=["color-contrast", "link-in-text-block"])]
    page.evaluate(USE_THEME, own)
    return wrong


def looks_wrong(page):
    """What is wrong with the page that is open: too wide for a screen, or hard to read in a theme."""
    wide = []
    for size in SCREENS:
        page.set_viewport_size(size)
        if (over := overflow_px(page)) > 0:
            wide.append(f"{over} px too wide for {size['width']} px")
    page.set_viewport_size(PHONE)
    return wide + unreadable(page)


def overflow_px(page):
    """By how many pixels the page is wider than its window; at most 0 where nothing has to be scrolled sideways."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
