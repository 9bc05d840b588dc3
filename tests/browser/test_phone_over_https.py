"""The real way of a phone: paired over HTTPS by the program itself, with its certificate trusted, and without."""

import contextlib
import re
import shutil
import subprocess
import urllib.request

import pytest
from playwright.sync_api import Error, expect

from stationlog import launch
from stationlog.phones import network
from tests import browsing
from tests.making import PASSWORD
from tests.starting import started, unused_ports
from tests.trying import not_tried

pytestmark = [
    pytest.mark.anywhere,
    pytest.mark.skipif(launch.WINDOWS, reason="Chromium there takes certificates from the system only"),
]


def trust(home, certificate):
    """Put a certificate into the store from which Chromium on Linux takes the user's own authorities."""
    if not shutil.which("certutil"):
        not_tried("certutil", "not found; install the package libnss3-tools")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    (home / "stationlog.crt").write_bytes(certificate)
    for options in (
        ("-N", "--empty-password"), ("-A", "-n", "stationlog", "-t", "C,,", "-i", str(home / "stationlog.crt")),
    ):
        subprocess.run(
            ["certutil", "-d", f"sql:{store}", *options], stdin=subprocess.DEVNULL, check=True, timeout=60,
            capture_output=True,
        )


@contextlib.contextmanager
def phone(browser_type, browser, home, **options):
    """A page of a browser with a profile and a home of its own, which finds the computer by its name."""
    context = browser_type.launch_persistent_context(
        home / "profile", viewport=browsing.PHONE, executable_path=browsing.executable(),
        args=[*browsing.ARGUMENTS, f"--host-resolver-rules=MAP {network.local_name()} {launch.ADDRESS}"],
        env={"HOME": str(home)}, **options,
    )
    try:
        page = context.new_page()
        page.set_default_timeout(60_000)
        yield page
    finally:
        context.close()


def made_account(page, said):
    """Set the program up, in the browser on the computer itself."""
    page.goto(re.search(r"http://\S+/setup/\?code=\S+", said)[0])
    for name, value in {"call_sign": "Q1ABC", "name": "Robin Fielding", "password1": PASSWORD}.items():
        page.fill(f"[name={name}]", value)
    page.fill("[name=password2]", PASSWORD)
    page.click("main button.primary")
    page.wait_for_url("**:*/")


def test_a_phone_that_trusts_the_certificate_keeps_the_page_and_one_that_does_not_is_told(
    browser_type, browser, tmp_path
):
    phone_port = unused_ports(2)
    origin = f"https://{network.local_name()}:{phone_port}"
    with contextlib.ExitStack() as stack:
        with started(tmp_path / "data", "--phone", "--phone-port", str(phone_port)) as (port, said):
            laptop = stack.enter_context(phone(browser_type, browser, tmp_path / "laptop"))
            made_account(laptop, said)

            def scanned():
                laptop.goto(f"http://{launch.ADDRESS}:{port}/account/phones/")
                laptop.get_by_role("button", name="Show a code for the phone").click()
                laptop.wait_for_load_state()
                return re.search(rf"{origin}/pair/\S+/", laptop.inner_text("main"))[0]

            # the warning was clicked away: the page works, and says that it will not be kept and why
            careless = stack.enter_context(
                phone(browser_type, browser, tmp_path / "careless", ignore_https_errors=True)
            )
            careless.goto(scanned())
            careless.get_by_role("button", name="Log in on this phone").click()
            careless.wait_for_url(f"{origin}/field/")
            expect(careless.locator("#standing")).to_contain_text("The certificate must be trusted, not clicked away")
            assert careless.evaluate("navigator.serviceWorker.getRegistrations().then((found) => found.length)") == 0

            fetched = urllib.request.urlopen(f"http://{launch.ADDRESS}:{phone_port + 1}/stationlog.crt", timeout=20)
            trust(tmp_path / "careful", fetched.read())
            careful = stack.enter_context(phone(browser_type, browser, tmp_path / "careful"))
            link = scanned()
            careful.goto(link)
            careful.get_by_role("button", name="Log in on this phone").click()
            careful.wait_for_url(f"{origin}/field/")
            careful.evaluate("navigator.serviceWorker.ready.then((found) => found.scope)")
            expect(careful.locator("#standing")).not_to_contain_text("certificate")
            assert careful.evaluate("fetch('/field/hello/').then((answer) => answer.json())")["call_sign"] == "Q1ABC"
            cookies = {cookie["name"]: cookie for cookie in careful.context.cookies()}
            assert cookies["sessionid"]["secure"] and cookies["sessionid"]["httpOnly"]

            again = careful.goto(link)
            assert again.status == 404 and "This code is not valid" in careful.inner_text("h1")
            careful.goto(f"{origin}/field/")

            laptop.goto(f"http://{launch.ADDRESS}:{port}/account/phones/")
            assert laptop.locator("table tbody tr").count() == 2
            assert not browsing.axe_serious(laptop) and browsing.overflow_px(laptop) <= 0

        # the program has ended, as if the phone had left the house
        careful.reload()
        careful.wait_for_selector("body[data-ready=yes]")
        assert careful.inner_text("#title")
        assert careful.evaluate("navigator.serviceWorker.controller !== null")
        with pytest.raises(Error, match=r"ERR_(CONNECTION_REFUSED|FAILED)"):
            careless.reload()
