"""Fixtures of all tests, and the closing list of what this system could not try."""

import gc

import pytest
from django.conf import settings
from django.test import Client
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import expect

from tests import browsing, trying

# A machine may be slow for a moment; how long an example takes is no finding.
hypothesis_settings.register_profile("stationlog", deadline=None, suppress_health_check=[HealthCheck.too_slow])
hypothesis_settings.load_profile("stationlog")
expect.set_options(timeout=30_000)


SLOW = (  # files that take a minute or so on one core begin first, so that none is left over for the end
    "test_launch", "test_field_losses", "test_field", "test_trial", "test_backups", "test_club", "test_log",
    "test_killed_server", "test_faults", "test_phone_over_https", "test_killed_import", "test_loading",
    "test_releases", "test_every_page", "test_decimals",
)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Mark what asks no database: it ends the same anywhere. Slow files come first."""
    items.sort(key=lambda item: item.path.stem not in SLOW)
    for item in items:
        asks = item.get_closest_marker("django_db") or {"db", "transactional_db", "live_server"} & {*item.fixturenames}
        if not asks:
            item.add_marker(pytest.mark.anywhere)


def pytest_collection_finish():
    """Thousands of tests live to the end: looking among them for garbage took a fourteenth of the time."""
    gc.collect()
    gc.freeze()


@pytest.fixture
def client_of(db):
    """A function that gives a test client in which an operator is logged in."""

    def logged_in(operator):
        client = Client()
        client.force_login(operator)
        return client

    return logged_in


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    found = browsing.executable()
    chosen = {"executable_path": found} if found else {}
    return {**browser_type_launch_args, **chosen, "args": browsing.ARGUMENTS}


@pytest.fixture(scope="session")
def browser(launch_browser):
    """The one browser of this process; where the system has none, the closing list says so."""
    try:
        started = launch_browser()
    except Exception as error:
        if "Executable doesn't exist" not in str(error):
            raise
        trying.not_tried("Chromium", "no browser found; install Chromium or run: playwright install chromium")
    yield started
    started.close()


@pytest.fixture
def signed_in_page(live_server, browser):
    """A function that opens a page of the live server as an operator: signed_in_page(operator, "/gear/", ...).

    `operator` may be None for a visitor, `viewport` is a size from tests.browsing, `theme` is given to the operator;
    further options go to the browser context (java_script_enabled=False, color_scheme="dark" ...). A script error or
    a breach of the Content-Security-Policy on any page opened this way fails the test.
    """
    contexts, complaints = [], []

    def hear(message):
        if "Content Security Policy" in message.text or "Content-Security-Policy" in message.text:
            complaints.append(message.text)

    def opened(operator, path="/", *, viewport=browsing.LAPTOP, theme=None, **options):
        context = browser.new_context(base_url=live_server.url, viewport=viewport, **options)
        contexts.append(context)
        if operator:
            if theme:
                browsing.use_theme(operator, theme)
            client = Client()
            client.force_login(operator)
            name = settings.SESSION_COOKIE_NAME
            context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
        context.on("console", hear)
        context.on("weberror", lambda problem: complaints.append(str(problem.error)))
        page = context.new_page()
        page.goto(path)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not complaints, "the browser complained: " + "; ".join(complaints)


def pytest_report_header():
    engine = settings.DATABASES["default"]["ENGINE"].rsplit(".", 1)[-1]
    return f"stationlog: database {engine}, browser {browsing.executable() or 'of Playwright, if installed'}"


def left_out(reporter):
    """What was skipped: {name and reason: (number of tests, whether it may be missing)}."""
    found = {}
    for report in reporter.stats.get("skipped", ()):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        reason = reason.removeprefix("Skipped: ")
        word, colon, rest = reason.partition(": ")
        if colon and word.startswith(trying.MARK):
            key, optional = rest, word.endswith("(optional)")
        else:
            key, optional = f"{report.nodeid}: {reason}", False
        found[key] = (found.get(key, (0, False))[0] + 1, optional)
    return found


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session, exitstatus):
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is None or hasattr(session.config, "workerinput") or exitstatus != pytest.ExitCode.OK:
        return
    if trying.in_ci() and not all(optional for _, optional in left_out(reporter).values()):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter):
    found = left_out(terminalreporter)
    lines = [f"{key} ({count} tests)" if count > 1 else key for key, (count, _) in sorted(found.items())]
    if not trying.in_ci():  # there, both databases have a run of their own
        if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
            lines.append("PostgreSQL: this run used SQLite; set DATABASE_URL to run everything on PostgreSQL")
        else:
            lines.append("SQLite: this run used PostgreSQL; leave DATABASE_URL empty to run everything on SQLite")
    if not lines:
        return
    terminalreporter.section("Not tried on this system:")
    for line in lines:
        terminalreporter.line(f"  {line}")
    if trying.in_ci() and not all(optional for _, optional in found.values()):
        terminalreporter.line("With CI=true nothing of this may be missing: the run has failed.")
