"""How far backups, restores and exports of everything are: each step is told to its end."""

import contextlib
import sqlite3

import pytest
from django.core.management import call_command
from django.db import connection

from equipment import progress
from outings.models import Contact
from stationlog.backups import archive
from tests import making
from tests.equipment.test_progress import Terminal

SQLITE = connection.vendor == "sqlite"
COPIED = ["Copying the database", "Tidying the copy", "Checking the database", "Packing the database"]
WRITTEN = ["Writing the rows", "Packing the rows"]
OF_ROWS = ["Reading the copy back", "Checking the rows"]
READ_BACK = ["Reading the copy back", "Checking the database"] if SQLITE else OF_ROWS
PACKED = [*(COPIED if SQLITE else WRITTEN), "Packing pictures and files", *READ_BACK]


class Steps(progress.Listener):
    """A listener that keeps each step as it is at its end."""

    def __init__(self):
        self.all = []

    def begin(self, step):
        super().begin(step)
        self.all.append(step)

    @property
    def words(self):
        return [step.words for step in self.all]

    def are_whole(self):
        """Whether all that was to be done was done, wherever that was known."""
        return all(step.done == step.total for step in self.all if step.total is not None)


@pytest.fixture(autouse=True)
def picture(places, settings):
    (settings.MEDIA_ROOT / "mast.jpg").write_bytes(b"\xff\xd8 not really")


@pytest.fixture
def contact():
    return making.a_contact(making.an_outing())


def steps_of(command, *arguments, **options):
    with progress.heard_by(Steps()) as heard:
        call_command(command, *map(str, arguments), **options)
    assert heard.are_whole(), heard.all
    return heard.words


@pytest.mark.django_db(transaction=True)
def test_a_backup_and_a_restore_tell_each_step_to_its_end(contact, tmp_path):
    kept = tmp_path / "kept.zip"
    assert steps_of("backup", to=kept) == PACKED
    back = ["Putting it in place"] if SQLITE else ["Bringing it up to date", "Taking the rows in"]
    assert steps_of("restore", kept, yes=True) == [*READ_BACK, *READ_BACK, "Unpacking", *PACKED, *back]
    assert Contact.objects.get().call == contact.call


@pytest.mark.django_db(transaction=True)
def test_everything_in_open_formats_tells_each_step_to_its_end(contact, tmp_path):
    whole = tmp_path / "whole.zip"
    assert steps_of("export_all", whole) == [
        "Writing the rows", "Writing the logs of outings", "Packing the rows", "Writing the tables",
        "Packing pictures and files", *OF_ROWS,
    ]
    call_command("flush", interactive=False, verbosity=0)
    assert steps_of("import_all", whole) == [
        *OF_ROWS, "Unpacking", "Bringing it up to date", "Taking the rows in",
    ]
    assert Contact.objects.get().call == contact.call


def test_a_copy_is_of_one_moment_and_does_not_begin_anew_when_others_write_meanwhile(tmp_path, monkeypatch):
    monkeypatch.setattr(archive, "PAGES", 1)
    with contextlib.closing(sqlite3.connect(tmp_path / "live.sqlite3", isolation_level=None)) as writer:
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("CREATE TABLE entry (text)")
        writer.executemany("INSERT INTO entry VALUES (?)", [("x" * 3000,)] * 50)

        class Writing(Steps):
            def moved(self):
                writer.execute("INSERT INTO entry VALUES (?)", ("y" * 3000,))

        with archive.closing(tmp_path / "live.sqlite3") as live, archive.closing(tmp_path / "copy.sqlite3") as copy:
            with progress.heard_by(Writing()) as heard:
                archive.copy_pages(live, copy)
            found = copy.execute("SELECT count(*), sum(text LIKE 'y%') FROM entry").fetchone()
        (written,) = writer.execute("SELECT count(*) FROM entry WHERE text LIKE 'y%'").fetchone()
    assert found == (50, 0) and written >= 50
    assert heard.are_whole() and heard.all[0].total >= 50 * 4096


@pytest.mark.django_db(transaction=True)
def test_a_command_shows_its_steps_on_the_terminal_and_never_in_json(monkeypatch, contact, tmp_path):
    monkeypatch.setattr(progress, "FIRST_S", 0)
    monkeypatch.setattr(progress, "EVERY_S", 0.001)
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    call_command("backup", to=tmp_path / "kept.zip")
    assert "\r[" in terminal.getvalue() and terminal.seen() == ""
    terminal.truncate(0)
    terminal.seek(0)
    for command in ("performance", "compare"):
        call_command(command, operator="Q1ABC", json=True)
    assert terminal.getvalue() == ""
