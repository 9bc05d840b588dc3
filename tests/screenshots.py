"""The pictures of README and guide, of the demo scenario so that they stay true: python -m tests.screenshots.

A server of its own on a folder that vanishes, the demo scenario up to today, and its pages in a browser.
"""

import datetime
import io
import os
import sys
import tempfile
import threading
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".pictures"
GUIDE = ROOT / "static" / "guide"
PASSWORD = "a-bench-by-the-lake"


def pages():
    """(file, address, viewport, theme, what to begin at)."""
    from equipment.models import Pack, Sweep
    from outings.models import Outing
    from tests import browsing

    ahead = Outing.objects.order_by("-window_start").first()
    behind = Outing.objects.filter(contacts__isnull=False).order_by("-window_start").first()
    sweep = Sweep.objects.order_by("-taken_at").first()
    pack = Pack.objects.filter(chemistry=Pack.Chemistry.LIFEPO4, resistance_ohm__isnull=False).first()
    other = "chemistry_2=LiFePO4&cells_2=4&volts_2=13.05&ohm_2=0.08&ah_2=6"
    joined = f"/bench/joining/?pack_1={pack.pk}&volts_1=13.35&{other}"
    guide = (
        ("plan", f"/outings/{ahead.pk}/", browsing.LAPTOP, None),
        ("log", f"/outings/{behind.pk}/log/", browsing.LAPTOP, None),
        ("field", f"/field/?outing={ahead.uuid}", browsing.PHONE, None),
        ("joining", joined, browsing.LAPTOP, "#answer"),
        ("sweep", sweep.get_absolute_url(), browsing.LAPTOP, None),
        ("evidence", "/evidence/", browsing.LAPTOP, ".verdict"),
    )
    readme = (
        ("start", "/", browsing.LAPTOP, "light", None),
        ("plan", f"/outings/{ahead.pk}/", browsing.LAPTOP, "light", None),
        ("log", f"/outings/{behind.pk}/log/", browsing.LAPTOP, "dark", None),
        ("performance", "/performance/", browsing.LAPTOP, "light", "h2"),
        ("evidence", "/evidence/", browsing.LAPTOP, "light", ".verdict"),
        ("field", f"/field/?outing={ahead.uuid}", browsing.PHONE, "light", None),
    )
    yield from ((FOLDER / f"{name}.png", *rest) for name, *rest in readme)
    for name, path, viewport, scroll in guide:  # the guide shows one in the light theme, the other in the dark and red
        yield GUIDE / f"{name}.png", path, viewport, "light", scroll
        yield GUIDE / f"{name}-dark.png", path, viewport, "dark", scroll


def served():
    """Set up Django on a fresh folder and serve it on a free port; the address."""
    os.environ["STATIONLOG_DATA"] = tempfile.mkdtemp(prefix="stationlog-pictures-")
    os.environ["DJANGO_SETTINGS_MODULE"] = "stationlog.settings"
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    import django

    django.setup()
    from django.contrib.auth import get_user_model
    from django.core.management import call_command
    from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    get_user_model().objects.create_user("Q1ABC", PASSWORD, name="Ada Ferrow", home_grid="JO62")
    call_command("demo", operator="Q1ABC", today=datetime.date.today(), stdout=io.StringIO())

    from stationlog.wsgi import application  # only now: it looks at the static files once

    class Quiet(WSGIRequestHandler):
        def log_message(self, *_):
            pass

    server = ThreadedWSGIServer(("127.0.0.1", 0), Quiet)
    server.set_app(application)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return f"http://127.0.0.1:{server.server_address[1]}"


def small(file):
    """Give a picture a palette: pages have few colours, and it takes a third of the room."""
    from PIL import Image

    with Image.open(file) as picture:
        picture.convert("RGB").quantize(256, dither=Image.Dither.NONE).save(file, optimize=True)


def main():
    from playwright.sync_api import sync_playwright

    from tests import browsing

    address = served()
    for folder in (FOLDER, GUIDE):
        folder.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browsing.executable(), args=browsing.ARGUMENTS)
        for file, path, viewport, theme, scroll in pages():
            context = browser.new_context(base_url=address, viewport=viewport, color_scheme=theme)
            page = context.new_page()
            page.goto("/login/")
            page.fill("input[name=username]", "Q1ABC")
            page.fill("input[name=password]", PASSWORD)
            page.press("input[name=password]", "Enter")
            page.wait_for_url(f"{address}/")
            page.goto(path)
            page.wait_for_timeout(2500)
            if scroll:
                page.locator(scroll).first.scroll_into_view_if_needed()
                page.evaluate("(wanted) => document.querySelector(wanted).scrollIntoView()", scroll)
                page.wait_for_timeout(500)
            page.screenshot(path=file)
            small(file)
            context.close()
        browser.close()


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
