"""Backups: whole, read back, brought back equal, and refused when anything in them has turned."""

import datetime
import io
import json
import os
import random
import shutil
import sqlite3
import threading
import zipfile

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.utils import timezone

from equipment.models import Change
from outings.models import Contact, Note
from stationlog.backups import archive, openly, releases, restoring, rows, shelf
from stationlog.management.commands import start
from stationlog.models import Operator
from tests import making

NOW = datetime.datetime(2026, 5, 3, 12, 0, 0, 123456, datetime.UTC)
SQLITE = connection.vendor == "sqlite"

pytestmark = pytest.mark.usefixtures("places")


def a_log(settings):
    """A small log with a bit of everything, and a picture."""
    owner = making.an_operator()
    outing = making.an_outing(owner)
    stint = making.a_stint(outing)
    making.a_contact(outing, stint=stint, name="Zoë Ωmega", comment="=1+1")
    making.a_kit(owner)
    making.a_reading(making.a_pack(owner))
    note = making.a_note(owner)
    note.outings.add(outing)
    (settings.MEDIA_ROOT / "pictures").mkdir(exist_ok=True)
    (settings.MEDIA_ROOT / "pictures" / "mast.jpg").write_bytes(b"\xff\xd8 not really")
    return owner


def everything():
    """All rows, and all that links them, as text."""
    found = {model._meta.label: sorted(map(str, model._base_manager.values())) for model in rows.kept_models()}
    found["notes"] = sorted((note.pk, outing.pk) for note in Note.objects.all() for outing in note.outings.all())
    return found


@pytest.mark.django_db(transaction=True)
def test_what_a_backup_holds_comes_back_and_what_it_replaces_is_kept(settings):
    owner = a_log(settings)
    before = everything()
    backup, contents = shelf.put_new(NOW)
    assert contents.rows["outings.contact"] == 1
    contact = Contact.objects.get()
    contact.call = "Q7XYZ"
    contact.keep(owner)
    Operator.objects.filter(pk=owner.pk).update(name="Somebody")
    (settings.MEDIA_ROOT / "pictures" / "mast.jpg").write_bytes(b"changed")
    (settings.MEDIA_ROOT / "pictures" / "new.jpg").write_bytes(b"new")
    after = everything()
    restored = restoring.restore(backup.path, NOW + datetime.timedelta(hours=1))
    assert everything() == before
    assert sorted(path.name for path in settings.MEDIA_ROOT.rglob("*.jpg")) == ["mast.jpg"]
    assert (settings.MEDIA_ROOT / "pictures" / "mast.jpg").read_bytes() == b"\xff\xd8 not really"
    making.a_contact(Contact.objects.get().outing, call="Q2NEW")  # numbers of new rows go on after the old ones
    kept = next(path for path in restored.replaced if path.suffix == ".zip")
    restoring.restore(kept, NOW + datetime.timedelta(hours=2))
    assert everything() == after
    assert (settings.MEDIA_ROOT / "pictures" / "new.jpg").read_bytes() == b"new"


@pytest.mark.django_db(transaction=True)
def test_sessions_and_keys_stay_out(settings, client_of):
    client_of(a_log(settings)).get("/")
    (settings.DATA_DIR / "secret-key.txt").write_text("the key of keys")
    backup, _ = shelf.put_new(NOW)
    with zipfile.ZipFile(backup.path) as packed:
        inside = b"".join(packed.read(name) for name in packed.namelist())
        assert not any("key" in name for name in packed.namelist())
    assert b"the key of keys" not in inside
    if SQLITE:
        (settings.DATA_DIR / "copy").write_bytes(zipfile.ZipFile(backup.path).read(archive.DATABASE))
        with archive.closing(settings.DATA_DIR / "copy") as copy:
            assert copy.execute("SELECT count(*) FROM django_session").fetchone() == (0,)
    else:
        assert b"django_session" not in inside and b"sessions.session" not in inside
    assert archive.make_keys(settings.DATA_DIR / "keys.zip") == ["secret-key.txt"]


@pytest.mark.django_db(transaction=True)
def test_any_byte_that_turned_and_any_broken_end_is_refused_and_nothing_is_replaced(settings):
    a_log(settings)
    backup, _ = shelf.put_new(NOW)
    whole, before = backup.path.read_bytes(), everything()
    dice = random.Random(20260503)
    for _ in range(60):
        spoilt = bytearray(whole)
        if dice.random() < 0.3:
            del spoilt[dice.randrange(len(spoilt)):]
        else:
            spoilt[dice.randrange(len(spoilt))] ^= 1 << dice.randrange(8)
        backup.path.write_bytes(spoilt)
        try:  # a bit of a date or an attribute in the zip's own directory changes nothing of what it holds
            contents = archive.verified(backup.path)
        except archive.Damaged as error:
            assert str(error)
            with pytest.raises(CommandError, match="Nothing was replaced"):
                call_command("restore", str(backup.path), "--yes")
        else:
            with zipfile.ZipFile(backup.path) as packed, archive.zipfile.ZipFile(make_file(settings, whole)) as good:
                assert all(packed.read(name) == good.read(name) for name in contents.files)
    assert everything() == before


def make_file(settings, content):
    path = settings.DATA_DIR / "whole.zip"
    path.write_bytes(content)
    return path


@pytest.mark.django_db(transaction=True)
def test_a_zip_of_something_else_a_newer_one_and_one_that_leads_out_are_refused(settings):
    a_log(settings)
    backup, contents = shelf.put_new(NOW)
    with pytest.raises(archive.Damaged, match="no backup"):
        restoring.check(make_file(settings, b"hello"))
    for change, words in (
        ({"migrations": [*contents.migrations, "outings 0999_later"]}, "newer"),
        ({"form": 99}, "newer"), ({"files": {"../../out": [1, "x"]}}, "other folders"),
        ({"files": {"C:/out": [1, "x"]}}, "other folders"), ({"files": {"media\\..\\out": [1, "x"]}}, "other folders"),
        ({"database": "paper"}, "no sense"),
        ({"rows": {**contents.rows, "outings.contact": 7}}, r"7 of outings\.contact"),
    ):
        path = settings.DATA_DIR / "changed.zip"
        with zipfile.ZipFile(backup.path) as old, zipfile.ZipFile(path, "w") as new:
            for name in old.namelist():
                data = old.read(name)
                new.writestr(name, json.dumps({**json.loads(data), **change}) if name == archive.LIST else data)
        with pytest.raises(archive.Damaged, match=words):
            restoring.check(path)


@pytest.mark.django_db(transaction=True)
def test_a_full_disk_leaves_the_older_backups_and_the_start_page_says_so(settings, client_of, monkeypatch):
    owner = a_log(settings)
    Operator.objects.update(keeper=True)
    client = client_of(owner)
    assert "There is none yet" in client.get("/").content.decode()
    shelf.put_new(timezone.now() - datetime.timedelta(days=3))
    assert "look here" in client.get("/").content.decode()

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(archive.os, "fsync", full)
        with pytest.raises(CommandError, match=r"No space left on device\. Older ones are still there"):
            call_command("backup")
    assert len(shelf.kept()) == 1
    assert not list(settings.BACKUP_DIR.glob(".*")), "a part of a backup was left behind"
    assert "No space left on device" in client.get("/").content.decode()
    call_command("backup", "--if-due")
    said = client.get("/").content.decode()
    assert "No space left" not in said and "in order" in said
    assert shelf.state(timezone.now()).age < datetime.timedelta(minutes=5)
    call_command("backup", "--if-due")
    assert len(shelf.kept()) == 2
    Operator.objects.update(keeper=False)
    assert "Backups" not in client.get("/").content.decode()


@pytest.mark.django_db(transaction=True)
def test_of_two_processes_one_makes_the_backup_of_the_day(settings):
    a_log(settings)
    settings.BACKUP_DIR.mkdir()
    taken = settings.BACKUP_DIR / shelf.TAKEN
    taken.touch()
    assert shelf.put_new_if_due() is None and not shelf.kept()
    os.utime(taken, (0, 0))
    assert shelf.put_new_if_due() is not None and not taken.exists()
    assert shelf.put_new_if_due() is None and len(shelf.kept()) == 1


def test_rotation_keeps_days_weeks_and_months():
    moments = [NOW - datetime.timedelta(days=day) for day in range(800)]
    stay = sorted(set(moments) - set(shelf.surplus(moments)), reverse=True)
    assert stay[:7] == moments[:7]
    assert 15 <= len(stay) <= shelf.DAYS + shelf.WEEKS + shelf.MONTHS
    assert NOW - stay[-1] > datetime.timedelta(days=300)
    assert shelf.surplus(stay) == [], "what was kept is kept again"
    hourly = [NOW - datetime.timedelta(hours=hour) for hour in range(48)]
    assert NOW not in shelf.surplus(hourly)


def test_a_clock_that_jumps_takes_no_backup_away_that_was_just_made(settings, monkeypatch):
    monkeypatch.setattr(archive, "make", lambda path, now: path.touch())
    settings.BACKUP_DIR.mkdir()
    chance, now, made = random.Random(3), NOW, []
    for _ in range(400):
        jump = chance.choice((0, 0, 0, 0.4, 30, 700, 4000))
        now += datetime.timedelta(days=1 + chance.uniform(-jump, jump), seconds=chance.randrange(86400))
        if shelf.put_new_if_due(now) is None:
            continue
        made.append(shelf.name_for(now))
        there = {backup.path.name for backup in shelf.kept()}
        assert {*made[-2:]} <= there and len(there) <= 2 * (shelf.DAYS + shelf.WEEKS + shelf.MONTHS) + 2
        assert shelf.state(now).newest.path.name == made[-1] and not shelf.state(now).is_overdue
        assert not shelf.is_due(now)
    assert len(made) > 300
    true = [NOW + datetime.timedelta(days=day) for day in range(20)]
    ahead = [NOW + datetime.timedelta(days=4000 + day) for day in range(20)]
    assert {*shelf.surplus(true + ahead, true[-1])} & {*true} == {*shelf.surplus(true, true[-1])}


@pytest.mark.django_db(transaction=True)
def test_everything_in_open_formats_goes_into_an_empty_installation_and_out_again_equal(settings, tmp_path):
    a_log(settings)
    before, path = everything(), tmp_path / "all.zip"
    call_command("export_all", str(path))
    with zipfile.ZipFile(path) as packed:
        names = packed.namelist()
        table = packed.read("tables/outings.contact.csv").decode()
        adi = next(packed.read(name) for name in names if name.endswith(".adi"))
    assert "'=1+1" in table, "a spreadsheet would take it for a formula"
    assert b"<CALL:" in adi.upper()
    assert "media/pictures/mast.jpg" in names
    with pytest.raises(CommandError, match="accounts here already"):
        call_command("import_all", str(path))
    assert everything() == before
    rows.empty_tables()
    (settings.MEDIA_ROOT / "pictures" / "mast.jpg").unlink()
    call_command("import_all", str(path))
    assert everything() == before
    assert (settings.MEDIA_ROOT / "pictures" / "mast.jpg").exists()
    again = tmp_path / "again.zip"
    openly.export_all(again, NOW)
    assert zipfile.ZipFile(again).read(archive.ROWS) == zipfile.ZipFile(path).read(archive.ROWS)


@pytest.mark.django_db(transaction=True)
def test_a_year_goes_from_sqlite_to_this_database_and_back_without_a_difference(settings, tmp_path):
    """The demo year is made on SQLite, taken in by the database that the tests run on, and brought back to SQLite."""

    files = [str(tmp_path / f"{number}.zip") for number in range(3)]
    with releases.standing_in(tmp_path / "first"):
        call_command("migrate", verbosity=0)
    shutil.copy(tmp_path / "first", tmp_path / "second")
    with releases.standing_in(tmp_path / "first"):
        call_command("demo", stdout=io.StringIO())
        call_command("export_all", files[0])
    rows.empty_tables()
    call_command("import_all", files[0])
    call_command("export_all", files[1])
    with releases.standing_in(tmp_path / "second"):
        call_command("import_all", files[1])
        call_command("export_all", files[2])
    first, *others = map(rows_in, files)
    assert len(first) > 2000
    for other in others:
        assert other == first


def rows_in(file):
    """The rows of an export, in one order, and the keys within JSON values too, which PostgreSQL puts in its own."""
    lines = zipfile.ZipFile(file).read(archive.ROWS).splitlines()
    return sorted(json.dumps(json.loads(line), sort_keys=True) for line in lines)


@pytest.mark.django_db(transaction=True)
def test_rows_that_make_no_sense_change_nothing(settings, tmp_path):
    a_log(settings)
    path = tmp_path / "all.zip"
    openly.export_all(path, NOW)
    rows.empty_tables()
    with zipfile.ZipFile(path) as packed:
        lines = packed.read(archive.ROWS).decode().splitlines()
    contact = next(line for line in lines if '"outings.contact"' in line)
    for spoilt in (lines[0][:-5], "[]", "null", '{"model": "outings.site", "pk": "x", "fields": {}}', contact):
        with pytest.raises(rows.Unreadable):
            rows.read(iter([lines[0].replace('"pk": ', '"pk": 9'), spoilt]))
        assert not Operator.objects.exists() and not Change.objects.exists()
    for spoilt in ("{}", '{"model": "outings.nothing", "pk": 1, "fields": {}}', "7", lines[0][:-5]):
        with pytest.raises(rows.Unreadable):
            rows.count(iter([lines[0], spoilt]), {"stationlog.operator"})


@pytest.mark.django_db(transaction=True)
def test_writers_go_on_while_a_backup_reads(settings):
    """What is written while rows are read is not in them, and is not held up."""
    owner = a_log(settings)
    with rows.one_moment():
        seen = Operator.objects.count()
        write_from_outside(owner)
        assert Operator.objects.count() == seen
    assert Operator.objects.count() == seen + 1


def write_from_outside(owner):
    def write():
        making.an_operator("Q5OUT")
        connections.close_all()

    thread = threading.Thread(target=write)
    thread.start()
    thread.join(timeout=60)
    assert not thread.is_alive()


@pytest.mark.django_db(transaction=True)
def test_a_damaged_database_file_is_named_with_the_newest_backup_that_is_whole(settings, tmp_path):
    a_log(settings)
    good, _ = shelf.put_new(NOW)
    bad, _ = shelf.put_new(NOW + datetime.timedelta(hours=1))
    bad.path.write_bytes(bad.path.read_bytes()[:500])
    file = tmp_path / "log.sqlite3"
    with sqlite3.connect(file) as made:
        made.execute("CREATE TABLE t (a)")
        made.executemany("INSERT INTO t VALUES (?)", [("x" * 500,) for _ in range(300)])
    made.close()
    archive.look_over(file)
    empty = tmp_path / "empty.sqlite3"
    empty.touch()
    with pytest.raises(archive.Damaged, match="is empty"):
        archive.look_over(empty)
    spoilt = bytearray(file.read_bytes())
    spoilt[4096:30000] = b"\x07" * (30000 - 4096)
    file.write_bytes(spoilt)
    with pytest.raises(archive.Damaged) as found:
        archive.look_over(file)
    said = str(start.damaged(found.value))
    assert str(good.path) in said and "2026-05-03 at 12:00" in said and str(bad.path) not in said
