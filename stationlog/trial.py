"""`manage.py test`: brings the test tools and a browser, then runs every test that this system can run."""

import argparse
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

from stationlog.launch import ROOT, Trouble, hand_over, pip_install, say, stamp, stamped

TEST_REQUIREMENTS = ROOT / "tests" / "requirements.txt"
TOOLS_STAMP = Path(sys.prefix) / "stationlog-test-requirements.txt"
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
DEBIAN_PACKAGES = {
    "chromium": "chromium", "pdftoppm": "poppler-utils", "certutil": "libnss3-tools", "nginx": "nginx",
    "psql": "postgresql", "strace": "strace", "faketime": "faketime",
}

DESCRIPTION = """Run all tests that this system can run: pure, Django and browser tests, on as many cores as there
are. Without DATABASE_URL they run on SQLite, with it on that PostgreSQL server. Whatever else is given goes to pytest:
manage.py test tests/outings -k grid"""


def run(arguments):
    """Run the tests; returns the exit status of pytest."""
    parser = argparse.ArgumentParser(prog="manage.py test", description=DESCRIPTION)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="how many tests at a time")
    options, more = parser.parse_known_args(arguments)
    bring_tools()
    bring_programs()
    os.chdir(ROOT)
    return hand_over([sys.executable, "-m", "pytest", "-n", str(options.jobs), *more])


def bring_tools():
    """Install the test tools; of the reference libraries, those that have a wheel for this system."""
    if stamped(TOOLS_STAMP) == stamp(sys.executable, TEST_REQUIREMENTS):
        return
    say("Installing the test tools ...")
    try:
        pip_install(sys.executable, "-r", TEST_REQUIREMENTS)
    except Trouble:
        tools, references = tools_and_references(TEST_REQUIREMENTS.read_text(encoding="utf-8"))
        pip_install(sys.executable, *tools)
        for reference in references:
            try:
                pip_install(sys.executable, "--only-binary=:all:", reference)
            except Trouble:
                say(f"  {reference} has no wheel for this system; what it is a witness for is not tried here.")
    TOOLS_STAMP.write_text(stamp(sys.executable, TEST_REQUIREMENTS), encoding="ascii")


def tools_and_references(text):
    """Split a requirements file into what the tests run with and what they only hold our results against."""
    lines = re.findall(r"^([^\s#]+==[^#]+?)\s*#\s*(.*)$", text, re.MULTILINE)
    references = [pin for pin, reason in lines if reason.startswith("reference:")]
    return [pin for pin, _ in lines if pin not in references], references


def bring_programs():
    """Install a browser and the other programs that tests drive, where the system lets us; else say how."""
    missing = [package for program, package in DEBIAN_PACKAGES.items() if not has_program(program)]
    if missing and is_debian() and os.geteuid() == 0:
        say(f"Installing {', '.join(missing)} ...")
        quiet = {"env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, "stdin": subprocess.DEVNULL}
        subprocess.run(["apt-get", "update", "-q"], stdout=subprocess.DEVNULL, **quiet)
        subprocess.run(["apt-get", "install", "-q", "-y", "--no-install-recommends", *missing], **quiet)
    if has_program("chromium") or playwright_browser():
        return
    say("Fetching a browser for the browser tests ...")
    if subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"]).returncode:
        say(
            "There is no browser for the browser tests: install Chromium with the system's package manager, "
            "or set STATIONLOG_TEST_BROWSER to the path of one."
        )


def has_program(name):
    """Whether the program is there; for Chromium under any of its names, or named by STATIONLOG_TEST_BROWSER."""
    if name != "chromium":
        return bool(shutil.which(name))
    return bool(os.environ.get("STATIONLOG_TEST_BROWSER") or any(map(shutil.which, BROWSERS)))


def is_debian():
    try:
        return bool(re.search(r"^ID=debian$", Path("/etc/os-release").read_text(), re.MULTILINE))
    except OSError:
        return False


def playwright_browser():
    """Whether Playwright has fetched its own browser already."""
    if importlib.util.find_spec("playwright") is None:
        return False
    ask = "from playwright.sync_api import sync_playwright as p\nwith p() as w: print(w.chromium.executable_path)"
    asked = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True)
    return asked.returncode == 0 and Path(asked.stdout.strip()).exists()
