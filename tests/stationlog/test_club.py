"""The recipe for a club's server, carried out: nginx, two processes, PostgreSQL, and phones that hand in meanwhile."""

import tempfile

import pytest

from tests import club as clubs

pytestmark = pytest.mark.anywhere  # servers of its own


@pytest.fixture
def folder():
    """A folder that the account of PostgreSQL reaches, which it does not reach below pytest's own."""
    with tempfile.TemporaryDirectory(prefix="club-") as made:
        yield made


def test_nothing_is_lost_or_doubled_while_a_process_is_killed_and_the_database_is_restarted(folder):
    club = clubs.Club(folder)

    def kill():
        club.kill_program(0)
        club.start_program(0)

    try:
        crowd, _ = clubs.busy_outing(
            club, 8, 14, [(3, "killed", kill), (8, "restarted", club.restart_database)], a_minute=120, every_s=1.5,
            drops=0.3,
        )
        typed = [subject for phone in crowd for subject in phone.typed]
        kept = club.kept()
        assert len(typed) > 100
        assert sorted(kept["uuids"]) == sorted(typed)
        assert kept["doubled"] == kept["revised"] == 0
        assert sum(not one.error for phone in crowd for one in phone.tries) > len(crowd)
        assert sum(phone.dropped for phone in crowd) > 2

        status, headers, _ = club.ask("GET", "/login/", https=False)
        assert status == 301 and headers["Location"] == f"https://{clubs.NAME}/login/"
        status, headers, page = club.ask("GET", "/login/")
        assert status == 200 and "max-age" in headers["Strict-Transport-Security"]
        assert all("Secure" in cookie for cookie in headers.get_all("Set-Cookie") or ["Secure"])
        assert b"csrfmiddlewaretoken" in page
        status, headers, _ = club.ask("GET", "/field/")
        assert status == 200 and "script-src" in headers["Content-Security-Policy"]
        assert club.ask("GET", "/login/", {"Host": "evil.example.net"})[0] in (400, 404)
    finally:
        club.stop()
