"""Databases, backups and exports of an older release: every value comes along, or nothing is changed and it is said."""

import contextlib
import datetime
import json
import re
import shutil
import threading
import zipfile
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, migrations, models
from django.test import Client
from django.test.utils import CaptureQueriesContext

from outings.models import Outing
from stationlog import launch
from stationlog.backups import archive, releases, restoring, rows, shelf, updating
from stationlog.management.commands import start
from stationlog.models import Operator
from tests import filling, making
from tests.schemas import (
    CALLED_NOW,
    FIRST,
    another_database,
    at_the_first_release,
    beside,
    later_step,
    standing_in,
)

pytestmark = pytest.mark.django_db(transaction=True)

NOW = datetime.datetime(2026, 12, 3, 12, 0, 0, 0, datetime.UTC)
ARCHIVES = sorted((Path(launch.ROOT) / "tests" / "data" / "releases").glob("*/*.zip"))


def filled(apps, editor):
    """Change rows between two changes of their table, which PostgreSQL minds."""
    contacts = apps.get_model("outings", "Contact").objects.all()
    for row in contacts:
        contacts.filter(pk=row.pk).update(call_backwards=row.call[::-1])


def coloured(apps, editor):
    apps.get_model("outings", "Site").objects.update(colour="blue")


LATER = (
    migrations.AddField("contact", "call_backwards", models.CharField(max_length=30, db_default="?")),
    migrations.RunPython(filled),
    migrations.AlterField("contact", "call_backwards", models.CharField(max_length=40, db_default="?", db_index=True)),
)
FAILS = (
    migrations.AddField("site", "colour", models.CharField(max_length=30, default="green")),
    migrations.RunPython(coloured),
    migrations.RunSQL("SELECT no_such_function()"),
)


@pytest.fixture(scope="module")
def ready(django_db_setup, django_db_blocker, tmp_path_factory):
    """Databases of the first release and of this one, without rows, to be copied: to go the steps takes seconds."""
    folder = tmp_path_factory.mktemp("ready")
    with django_db_blocker.unblock(), contextlib.ExitStack() as stack:
        first = stack.enter_context(beside(folder))
        with standing_in(first):
            at_the_first_release()
        new = stack.enter_context(beside(folder, like=first))
        with standing_in(new):
            call_command("migrate", verbosity=0)
        yield {"first": first, "new": new}


@pytest.fixture
def full_of_rows(place, ready):
    """The models of the first release, in whose database there are rows with a value in every column."""
    with another_database(place, like=ready["first"]):
        registry = releases.registry(FIRST)
        filling.write_files(filling.fill(registry))
        yield registry


@pytest.fixture
def new_database(place, ready):
    """The database is of this release, without rows."""
    with another_database(place, like=ready["new"]):
        yield


@pytest.fixture(autouse=True)
def place(settings, tmp_path):
    """A folder of its own with an empty database, of the kind that the tests run on."""
    settings.DATA_DIR = tmp_path
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.MEDIA_ROOT.mkdir()
    with another_database(tmp_path):
        yield tmp_path


def values(registry, columns=None):
    """{model: every row as a dictionary} of the log, with the columns that are named by model; and what links rows."""
    found = {}
    for model in rows.kept_models(registry):
        label = label_now(model._meta.label_lower)
        found[label] = list(model._base_manager.order_by("pk").values(*(columns[label] if columns else ())))
        for field in model._meta.local_many_to_many:
            through = field.remote_field.through
            found[f"{label} {field.name}"] = sorted(through._base_manager.values_list(*(
                name.attname for name in through._meta.concrete_fields if name.remote_field
            )))
    return found


def columns_of(registry):
    """{model: its columns}, under the names that the models have now."""
    return {
        label_now(model._meta.label_lower): [field.attname for field in model._meta.concrete_fields]
        for model in rows.kept_models(registry)
    }


def label_now(label):
    return CALLED_NOW.get(label, label)


def lines(text):
    """Written rows by (model, key). PostgreSQL's JSON spells a number of 308 digits out."""
    found = (
        json.loads(line, parse_int=lambda digits: int(digits) if len(digits) < 20 else float(digits))
        for line in text.strip("\n").split("\n")
    )
    return {(label_now(row["model"]), row["pk"]): row["fields"] for row in found}


def rows_in(path, folder):
    """The rows of an archive of any release, as that release has them: {(model, key): fields}."""
    with archive.opened(path) as (packed, contents):
        if contents.database == "rows":
            return lines(packed.read(archive.ROWS).decode())
        archive.copied(packed, archive.DATABASE, folder / "looked-into")
    written = folder / "rows-looked-into"
    with releases.standing_in(folder / "looked-into"), written.open("w", encoding="utf-8") as out, rows.one_moment():
        rows.write(out, releases.registry(releases.named(contents.migrations)))
    return lines(written.read_text(encoding="utf-8"))


def rows_here(folder):
    written = folder / "rows-here"
    with rows.one_moment(), written.open("w", encoding="utf-8") as out:
        rows.write(out)
    return lines(written.read_text(encoding="utf-8"))


def assert_all_came(old, new):
    """Every row with every column of an older release is among the newer rows."""
    assert old and old.keys() == new.keys()
    for key, fields in old.items():
        assert {name: in_order(new[key].get(name, "no such column")) for name in fields} == {
            name: in_order(value) for name, value in fields.items()
        }, key


def in_order(value):
    """What ties rows to others has no order of its own."""
    return sorted(value) if isinstance(value, list) and all(isinstance(one, int) for one in value) else value


def test_a_table_is_called_as_its_model():
    assert [model._meta.db_table for model in rows.kept_models()] == [
        model._meta.label_lower.replace(".", "_") for model in rows.kept_models()
    ]


def test_every_value_of_every_column_of_the_first_release_comes_along(full_of_rows, capsys):
    before, columns = values(full_of_rows), columns_of(full_of_rows)
    for label, names in columns.items():
        empty = [name for name in names if all(row[name] in (None, "") for row in before[label])]
        assert len(before[label]) >= 3 and not empty, f"{label} {empty} is not tried"
    assert all(before[link] for link in before)
    with later_step(*LATER):
        call_command("migrate", verbosity=0)
        assert values(releases.registry(releases.gone()), columns) == before
        with connection.cursor() as cursor:
            cursor.execute("SELECT call, call_backwards FROM outings_contact")
            assert all(call == backwards[::-1] for call, backwards in cursor.fetchall())
        said = capsys.readouterr().out
        count = len([step for step in releases.missing(FIRST) if step[0] in releases.APPS])
        assert f"has {count} step" in said
        assert re.search(rf"Step \d of {count}: outings, a later step \.\.\.\n  done in", said)
        assert "The database is up to date." in said
        call_command("migrate", verbosity=0)
        assert capsys.readouterr().out == ""


def test_before_the_steps_a_backup_of_the_older_release_is_made_which_no_rotation_takes_away(full_of_rows):
    before = values(full_of_rows)
    with later_step(*LATER):
        start.migrate()
    (kept,) = shelf.settings.BACKUP_DIR.glob("*-before-update.zip")
    contents = archive.verified(kept)
    assert sum(contents.rows.values()) == sum(len(found) for label, found in before.items() if " " not in label)
    assert contents.pictures > 3
    assert shelf.kept() == []


def test_a_new_database_and_one_without_accounts_need_no_backup(place, capsys):
    start.migrate()
    with later_step(*LATER):
        start.migrate()
    assert not (place / "backups").exists() and capsys.readouterr().out == ""


def test_a_step_that_fails_leaves_everything_as_it_was_and_says_where_the_backup_is(place, full_of_rows):
    before, columns, gone = values(full_of_rows), columns_of(full_of_rows), releases.gone()
    with later_step(*LATER), later_step(*FAILS, name="0999_fails"):
        with pytest.raises(launch.Trouble) as found:
            start.migrate()
        said = str(found.value)
        (kept,) = (place / "backups").glob("*-before-update.zip")
        assert "no_such_function" in said and "Nothing in it was changed" in said and str(kept) in said
        assert "no_such_function" in (place / updating.DETAILS).read_text()
        assert releases.gone() == gone
        assert values(full_of_rows) == before
        with connection.cursor() as cursor:
            names = {one.name for one in connection.introspection.get_table_description(cursor, "outings_contact")}
        assert "call" in names and "call_backwards" not in names
        with pytest.raises(CommandError, match="Nothing in it was changed"):
            call_command("migrate", verbosity=0)
    with later_step(*LATER):
        start.migrate()
        assert not releases.missing(releases.gone())
    assert values(releases.registry(releases.gone()), columns) == before


def test_without_room_for_a_backup_nothing_is_done(place, settings, monkeypatch, full_of_rows):
    before, gone = values(full_of_rows), releases.gone()
    with later_step(*LATER):
        with monkeypatch.context() as patch:
            patch.setattr(shutil, "disk_usage", lambda folder: SimpleNamespace(free=12_345))
            with pytest.raises(launch.Trouble, match=r"wants [\d,]+ MB of free disk, and .* has 0\. Make room"):
                start.migrate()

        def full(*_):
            raise OSError(28, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr(archive.os, "fsync", full)
            with pytest.raises(launch.Trouble, match=r"no backup could be made .*No space left on device"):
                start.migrate()
        with monkeypatch.context() as patch:
            (place / "no-folder").touch()
            patch.setattr(settings, "BACKUP_DIR", place / "no-folder" / "backups")
            with pytest.raises(launch.Trouble, match=r"no backup could be made .*Nothing was changed"):
                start.migrate()
        assert releases.gone() == gone and values(full_of_rows) == before
        assert not list((place / "backups").glob("*.zip")) and not list((place / "backups").glob(".*"))


def test_a_second_process_waits_for_the_first_longer_than_for_anything_else(place, monkeypatch):
    if connection.vendor == "sqlite":  # whose one transaction keeps others waiting: nothing else is asked of it
        with CaptureQueriesContext(connection) as asked, updating.alone():
            assert not asked.captured_queries
        return
    first = connection.copy()
    first.inc_thread_sharing()
    with first.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [updating.LOCK])
    options = {**connection.settings_dict["OPTIONS"], "options": "-c lock_timeout=50ms"}
    monkeypatch.setitem(connection.settings_dict, "OPTIONS", options)
    connection.close()
    finished = threading.Timer(0.3, first.close)
    finished.start()
    with updating.alone(), connection.cursor() as cursor:
        cursor.execute("SHOW lock_timeout")
        assert cursor.fetchone() == ("50ms",)
    finished.join()


def test_a_database_of_a_newer_release_is_refused_in_a_sentence(new_database):
    with later_step(*LATER):
        start.migrate()
        making.an_operator()
    before = values(releases.apps)
    with pytest.raises(launch.Trouble, match=r"last used by a newer stationlog \(outings 0998_a_later_step\)"):
        start.migrate()
    with pytest.raises(CommandError, match=r"newer stationlog .*Nothing was changed"):
        call_command("migrate", verbosity=0)
    assert "newer stationlog" in updating.misfit()
    assert values(releases.apps) == before


def test_a_database_of_an_older_release_is_told_from_one_that_fits(new_database):
    assert updating.misfit() is None
    with later_step(*LATER):
        assert "manage.py migrate" in updating.misfit()


def test_every_command_of_ours_either_needs_a_database_that_fits_or_looks_after_that_itself():
    commands = {
        path.stem for app in releases.APPS
        for path in (Path(launch.ROOT) / app / "management" / "commands").glob("[a-z]*.py")
    }
    itself = {"start", "migrate", "backup", "restore", "import_all"}
    assert commands - itself == launch.NEED_A_FITTING_DATABASE - {"changepassword"}


@pytest.mark.parametrize("path", ARCHIVES, ids=lambda path: f"{path.parent.name} {path.stem}")
def test_an_archive_of_each_release_comes_back_with_every_value(place, new_database, path):
    old = rows_in(path, place)
    making.an_outing()
    with later_step(*LATER):
        restored = restoring.restore(path, NOW)
        assert not releases.missing(releases.gone())
        with connection.cursor() as cursor:
            cursor.execute("SELECT call_backwards FROM outings_contact")
            assert len(cursor.fetchall()) == restored.contents.rows["outings.contact"] > 10
    assert_all_came(old, rows_here(place))
    with zipfile.ZipFile(path) as packed:
        media = {name: packed.read(name) for name in packed.namelist() if name.startswith(archive.MEDIA)}
    assert media and media == {
        file.relative_to(place).as_posix(): file.read_bytes() for file in (place / "media").rglob("*") if file.is_file()
    }
    with archive.opened(next(one for one in restored.replaced if one.suffix == ".zip")) as (_, kept):
        assert kept.rows["outings.outing"] == 1
    client = Client()
    client.force_login(Operator.objects.get(call_sign="Q0DEMO"))
    outing = Outing.objects.of(Operator.objects.get(call_sign="Q0DEMO")).first()
    for address in ("/", "/outings/", f"/outings/{outing.pk}/", "/gear/", "/performance/"):
        assert client.get(address, follow=True).status_code == 200, address
    making.a_contact(outing, call="Q2NEW")  # numbers of new rows go on after the old ones


def test_an_export_of_an_older_release_goes_into_an_empty_installation(place):
    path = next(one for one in ARCHIVES if one.stem == "export")
    with later_step(*LATER):
        call_command("import_all", str(path))
        assert not releases.missing(releases.gone())
        with pytest.raises(CommandError, match="accounts here already"):
            call_command("import_all", str(path))
    assert_all_came(rows_in(path, place), rows_here(place))


def changed(path, target, **changes):
    """A copy of an archive with other words in its list, or other rows."""
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, json.dumps({**json.loads(data), **changes}) if name == archive.LIST else data)
    return target


def test_an_older_archive_that_cannot_be_brought_up_to_date_replaces_nothing(place, new_database):
    making.an_outing()
    before = values(releases.apps)
    for path in ARCHIVES[:2]:
        with later_step(*FAILS, name="0999_fails"), pytest.raises(CommandError) as found:
            call_command("restore", str(path), "--yes")
        assert re.search(r"of an older stationlog.*no_such_function.*Nothing was replaced", str(found.value))
        newer = changed(path, place / "newer.zip", migrations=["outings 0001_first_release", "outings 7777_beyond"])
        with pytest.raises(CommandError, match=r"newer stationlog: update the program first\. Nothing was replaced"):
            call_command("restore", str(newer), "--yes")
    assert values(releases.apps) == before
    assert not (place / "backups").exists(), "nothing was replaced, so nothing had to be kept"
