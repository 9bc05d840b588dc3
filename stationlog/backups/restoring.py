"""Bringing a backup back: checked before anything is replaced, and what it replaces is kept."""

import contextlib
import os
import sqlite3
import tempfile
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, connections, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from . import archive, rows, shelf


@dataclass(frozen=True)
class Restored:
    """What came back, and where what it replaced is kept."""

    contents: archive.Contents
    replaced: tuple  # paths


def check(path):
    """The Contents of a backup that can be brought back here; archive.Damaged with the reason if it cannot."""
    contents = archive.verified(path)
    loader = MigrationLoader(None, ignore_no_migrations=True)
    known = {f"{app} {name}" for app, name in loader.disk_migrations}
    newer = [name for name in contents.migrations if name.split()[0] in rows.APPS and name not in known]
    if newer:
        raise archive.Damaged("it was made by a newer stationlog: update the program first")
    if contents.database == "sqlite" and connection.vendor != "sqlite":
        raise archive.Damaged(
            "it holds a SQLite database, and this program runs on another one. Bring it back on SQLite, and carry "
            "the log over with export_all and import_all"
        )
    return contents


def restore(path, now=None):
    """Replace everything by what is in a backup; returns Restored.

    archive.Damaged or OSError before anything is replaced. Others who are at work meanwhile see the old rows or the
    new ones, never a part.
    """
    now = now or timezone.now()
    contents = check(path)
    replaced = [*put_aside(now)]
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder, archive.opened(path) as (packed, _):
        for name in contents.files:
            archive.copied(packed, name, Path(folder) / name)
        bring_back_rows(contents, Path(folder), now, replaced)
        replaced += exchange_media(Path(folder) / archive.MEDIA, now)
    return Restored(contents, tuple(replaced))


def put_aside(now):
    """Keep what is there now, as a backup that no rotation takes away; of a damaged database, the file itself."""
    path = settings.BACKUP_DIR / shelf.name_for(now, "replaced")
    try:
        archive.make(path, now)
    except (archive.Damaged, DatabaseError):
        if connection.vendor != "sqlite":
            raise
        return
    yield path


def bring_back_rows(contents, folder, now, replaced):
    """Put the rows of an unpacked backup in place of those in the database."""
    if contents.database == "rows":
        call_command("migrate", verbosity=0, interactive=False)
        try:
            with transaction.atomic(), (folder / archive.ROWS).open(encoding="utf-8") as source:
                rows.empty_tables()
                rows.read(source)
        except rows.Unreadable as error:
            raise archive.Damaged(str(error)) from None
        return
    connections.close_all()
    live = Path(connection.settings_dict["NAME"])
    with archive.closing(folder / archive.DATABASE) as source:
        try:
            with archive.closing(live) as target:
                target.execute("PRAGMA schema_version").fetchone()  # a file that is no database says so here
                source.backup(target)
        except sqlite3.DatabaseError:
            replaced += moved_away(live, now)
            with archive.closing(live) as target:
                source.backup(target)
    call_command("migrate", verbosity=0, interactive=False)


def moved_away(live, now):
    """Move a damaged database file aside, with its log."""
    moved = []
    for end in ("", "-wal", "-shm"):
        path, target = Path(f"{live}{end}"), Path(f"{live}.damaged-{now:%Y%m%d-%H%M%S}{end}")
        with contextlib.suppress(FileNotFoundError):
            os.replace(path, target)
            moved.append(target)
    return moved


def exchange_media(incoming, now):
    """Put the unpacked pictures and uploads in place of those that are there; returns where those are now."""
    media = Path(settings.MEDIA_ROOT)
    aside = settings.DATA_DIR / f"media-{now:%Y%m%d-%H%M%S}-replaced"
    moved = []
    if media.exists() and any(media.iterdir()):
        os.replace(media, aside)
        moved.append(aside)
    if incoming.exists():
        if media.exists():
            media.rmdir()
        os.replace(incoming, media)
    return moved
