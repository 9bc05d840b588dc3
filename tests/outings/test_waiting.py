"""How far an answer is that a page waits for: noted under the name that the page gave, and asked for by it."""

import pytest
from django.core.cache import caches
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import DatabaseError
from django.urls import reverse

from equipment import progress
from outings import waiting
from outings.intake import importing
from outings.models import Contact, ImportedFile
from outings.queries import adif_files
from tests import making

NAME, OTHER = "0123456789abcdef" * 2, "f" * 32
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def noted_at_once(monkeypatch):
    """Notes of however little, and none that an earlier test left."""
    monkeypatch.setattr(waiting, "FIRST_S", 0)
    monkeypatch.setattr(waiting, "EVERY_S", 0)
    caches["waiting"].clear()


@pytest.fixture
def owner():
    owner = making.an_operator()
    outing = making.an_outing(owner)
    for minute in range(10, 14):
        making.a_contact(outing, at=f"2026-05-01 13:{minute}")
    return owner


def note_of(client, name=NAME):
    return client.get("/progress/", {"of": name}).json()


def test_a_file_that_is_sent_is_noted_contact_by_contact_until_its_end(client_of, owner, monkeypatch):
    monkeypatch.setattr(adif_files, "CHUNK", 1)
    client = client_of(owner)
    client.cookies["awaits"] = NAME
    answer = client.get("/files/export/log.adi")
    assert waiting.noted(NAME)["words"] == "Making the file"
    pieces = iter(answer.streaming_content)
    next(pieces)  # the header
    told = []
    for _ in range(4):
        next(pieces)
        told.append((waiting.noted(NAME)["said"], waiting.noted(NAME)["share"]))
    assert told == [("0 of 4", 0), ("1 of 4", 0.25), ("2 of 4", 0.5), ("3 of 4", 0.75)]
    assert list(pieces) == [] and waiting.noted(NAME) == {}
    assert answer.cookies["arrived"].value == NAME


def test_a_file_that_breaks_off_is_noted_as_such(client_of, owner, monkeypatch):
    monkeypatch.setattr(adif_files, "CHUNK", 2)
    real, seen = adif_files.Handover.fields, []

    def fields(self, contact):
        seen.append(contact)
        if len(seen) == 3:
            raise DatabaseError("gone")
        return real(self, contact)

    monkeypatch.setattr(adif_files.Handover, "fields", fields)
    client = client_of(owner)
    client.cookies["awaits"] = NAME
    answer = client.get("/files/export/log.adi")
    with pytest.raises(DatabaseError):
        list(answer.streaming_content)
    assert note_of(client) == {"failed": True}


def test_a_file_that_nobody_takes_any_more_leaves_no_note(client_of, owner):
    client = client_of(owner)
    client.cookies["awaits"] = NAME
    answer = client.get("/files/export/log.adi")
    pieces = answer.streaming_content
    next(pieces)
    assert waiting.noted(NAME) != {}
    answer.close()
    assert waiting.noted(NAME) == {}


def test_a_page_is_noted_while_it_is_made_and_not_afterwards(client_of, owner, monkeypatch):
    heard = []
    monkeypatch.setattr(waiting.Note, "write", lambda note, **found: heard.append((note.name, found)))
    client = client_of(owner)
    client.post("/contacts/mend/", {"shift": "60", "stints": "follow"}, headers={waiting.HEADER: NAME})
    assert (NAME, {"words": "Looking at contacts", "said": "4 of 4", "share": 1.0}) in heard
    assert note_of(client) == {}


def test_a_step_of_which_nobody_knows_how_long_it_is_is_noted_when_it_begins(monkeypatch):
    monkeypatch.setattr(waiting, "FIRST_S", 3600)
    note = waiting.Note(NAME)
    with progress.heard_by(note):
        with progress.step("Writing contacts", 100) as did:
            did(50)
            assert waiting.noted(NAME) == {}
        with progress.step("Comparing"):
            assert waiting.noted(NAME) == {"words": "Comparing", "said": "", "share": None}


@pytest.mark.parametrize(("headers", "cookie", "name"), [
    ({}, None, None),
    ({}, NAME, NAME),
    ({"Sec-Fetch-Dest": "document"}, NAME, NAME),
    ({"Sec-Fetch-Dest": "image"}, NAME, None),
    ({"Sec-Fetch-Dest": "empty", waiting.HEADER: OTHER}, NAME, OTHER),
    ({waiting.HEADER: "../../somewhere"}, None, None),
    ({waiting.HEADER: ""}, NAME, None),
    ({}, "short", None),
])
def test_only_what_a_page_waits_for_has_a_name(rf, headers, cookie, name):
    request = rf.get("/files/", headers=headers)
    if cookie:
        request.COOKIES["awaits"] = cookie
    assert waiting.name_in(request) == name


def test_a_note_that_cannot_be_written_or_read_takes_nothing_from_the_work(client_of, owner, monkeypatch):
    def full(*given, **named):
        raise OSError("the disk is full")

    for name in ("set", "get", "delete"):
        monkeypatch.setattr(caches["waiting"], name, full)
    client = client_of(owner)
    client.cookies["awaits"] = NAME
    assert b"".join(client.get("/files/export/log.adi").streaming_content).count(b"<EOR>") == 4
    assert note_of(client) == {}


def test_a_name_that_was_never_given_has_no_note(client_of, owner):
    client = client_of(owner)
    assert [note_of(client, name) for name in (OTHER, "", "../../somewhere")] == [{}, {}, {}]
    assert client.get("/progress/").json() == {} and client.post("/progress/").status_code == 405


LOG = "<CALL:5>Q0XYZ <QSO_DATE:8>20260501 <TIME_ON:4>1310 <BAND:3>20m <MODE:3>SSB <MY_GRIDSQUARE:6>JO62QM <EOR>\n"


def sent(client, text, **headers):
    return client.post("/files/", {"log": SimpleUploadedFile("park.adi", text.encode())}, headers=headers)


def test_a_script_that_sent_a_file_is_told_where_to_go_on(client_of, owner):
    client = client_of(owner)
    plain, told = sent(client, LOG), sent(client, LOG, **{"X-Sent-By": "script"})
    assert plain.status_code == 302 and "X-Go-On" not in plain
    assert (told.status_code, told["X-Go-On"], "Location" in told) == (
        204, reverse("outings:file", args=[ImportedFile.objects.latest("uploaded_at").pk]), False,
    )
    assert sent(client, "no log at all", **{"X-Sent-By": "script"}).status_code == 422


def test_a_visitor_who_sends_a_file_is_told_to_log_in(client, owner):
    assert sent(client, LOG, **{"X-Sent-By": "script"})["X-Go-On"] == "/login/?next=/files/"


def test_a_page_shows_how_far_an_import_is_with_storing(client_of, owner, monkeypatch):
    client = client_of(owner)
    sent(client, LOG.replace("Q0XYZ", "Q2DEF"))
    imported = ImportedFile.objects.latest("pk")
    page, seen, real = reverse("outings:file_progress", args=[imported.pk]), [], importing.bulk.insert

    def insert(model, columns, **shared):
        real(model, columns, **shared)
        if model is Contact:
            seen.append(client.get(page).content.decode())

    monkeypatch.setattr(importing.bulk, "insert", insert)
    imported.begin(ImportedFile.Status.IMPORTING)
    call_command("work_on_file", imported.pk)
    assert "All 1 records are prepared and are now being stored: 0 of 1" in seen[0]
    assert '<progress value="0.0"' in seen[0]
    assert waiting.noted(imported.uuid.hex) == {}
