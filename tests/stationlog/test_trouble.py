"""Steps that fail on the server: nothing of them is stored, and the page says what somebody can do about it."""

import errno
import json
import uuid
import weakref

import pytest
from django.db import DatabaseError, OperationalError, connection
from django.test import Client

from outings.models import Contact, StandingLine
from stationlog.views import trouble
from tests import making

# The words of SQLite (result codes, sqlite.org/rescode.html), PostgreSQL and the C library, from memory.
SAID = {
    "database or disk is full": (507, "full"),
    'could not extend file "base/16384/1": No space left on device': (507, "full"),
    "attempt to write a readonly database": (503, "read-only"),
    "cannot execute INSERT in a read-only transaction": (503, "read-only"),
    "database is locked": (503, "Another program"),
    "canceling statement due to lock timeout": (503, "Another program"),
    "database disk image is malformed": (503, "newest backup"),
    "disk I/O error": (503, "does not work"),
    "server closed the connection unexpectedly": (503, "in a moment"),
    "the database system is shutting down": (503, "in a moment"),
    "no such table: outings_site": (500, "The window"),
}


@pytest.mark.parametrize("said", SAID)
def test_what_a_database_says_is_said_in_a_sentence(said):
    status, words = SAID[said]
    found, sentence = trouble.reason_of(OperationalError(said))
    assert found == status and words in sentence


def test_a_traceback_holds_on_to_no_cursor():
    class Cursor:
        pass

    def step():
        cursor = Cursor()
        seen.append(weakref.ref(cursor))
        raise OperationalError("database is locked")

    seen = []
    try:
        step()
    except OperationalError as error:
        assert seen[0]() is not None
        trouble.let_go(error)
        assert seen[0]() is None


@pytest.mark.parametrize("said", ["unable to open database file", "disk I/O error"])
def test_sqlite_that_finds_no_room_for_its_files_is_said_to_have_a_full_disk(said, monkeypatch):
    monkeypatch.setattr(trouble, "is_full", lambda: True)
    full = connection.vendor == "sqlite"
    assert trouble.reason_of(OperationalError(said))[0] == (507 if full else 503)


def test_files_that_cannot_be_written_are_told_and_other_errors_are_not_guessed_at():
    assert trouble.reason_of(OSError(errno.ENOSPC, "No space left on device"))[0] == 507
    assert trouble.reason_of(OSError(errno.EROFS, "Read-only file system"))[0] == 503
    assert trouble.reason_of(ValueError("disk is full"))[0] == 500
    assert trouble.reason_of(OSError(errno.EPERM, "no"))[0] == 500


@pytest.mark.django_db(transaction=True)
def test_a_database_that_takes_nothing_more_is_said_on_the_page_and_to_phones():
    client = Client(raise_request_exception=False)
    outing = making.an_outing()
    client.force_login(outing.owner)
    entry = {
        "id": str(uuid.uuid4()), "kind": "contact", "action": "put", "subject": str(uuid.uuid4()), "seq": 1, "base": 0,
        "edited_at": "2026-05-01T13:10:00Z", "values": {
            "outing": str(outing.uuid), "call": "Q4ABC", "started_at": "2026-05-01T13:10:00Z", "mode": "CW",
            "band": "20m", "seconds_known": True,
        },
    }
    handed_in = {"phone": str(uuid.uuid4()), "now": "2026-05-01T13:11:00Z", "entries": [entry]}

    def refuse(execute, sql, params, many, context):
        if sql.startswith(("INSERT", "UPDATE")):
            raise OperationalError("database or disk is full")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(refuse):
        page = client.post("/outings/standing-lines/starters/")
        phone = client.post("/field/hand-in/", json.dumps(handed_in), content_type="application/json")
    assert page.status_code == 507, page.content.decode()
    assert "Nothing was stored by this step." in page.content.decode()
    assert "The disk that the log is kept on is full." in page.content.decode()
    assert phone.status_code == 507 and "disk" in phone.json()["reason"]
    assert not StandingLine.objects.exists() and not Contact.objects.exists()
    phone = client.post("/field/hand-in/", json.dumps(handed_in), content_type="application/json")
    assert phone.status_code == 200 and Contact.objects.get().call == "Q4ABC"


@pytest.mark.django_db(transaction=True)
def test_what_is_stored_is_not_called_refused_for_a_session_that_is_not(client_of):
    outing = making.an_outing()
    client = client_of(outing.owner)
    stranger = Client(raise_request_exception=False)
    typed = {"call": "Q4ABC", "tuning": "20m", "mode_typed": "CW"}

    def refuse(execute, sql, params, many, context):
        if sql.startswith('UPDATE "django_session"'):
            raise OperationalError("database or disk is full")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(refuse):
        assert client.post(f"/outings/{outing.pk}/log/contacts/", typed).status_code == 302
        login = stranger.post("/login/", {"username": outing.owner.call_sign, "password": making.PASSWORD})
    assert Contact.objects.get().call == "Q4ABC"
    assert login.status_code == 507, "nobody is logged in by half"


@pytest.mark.django_db(transaction=True)
def test_a_database_that_is_away_is_said_without_asking_it_again():
    client = Client(raise_request_exception=False)
    client.force_login(making.an_operator())

    def away(*_):
        raise DatabaseError("server closed the connection unexpectedly")

    with connection.execute_wrapper(away):
        page, phone = client.get("/"), client.get("/field/hello/")
    assert (page.status_code, phone.status_code) == (503, 503)
    assert "cannot be reached just now" in page.content.decode() and page.headers["Retry-After"] == "10"
    assert "cannot be reached just now" in phone.json()["reason"]
