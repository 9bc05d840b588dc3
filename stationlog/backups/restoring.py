"""Bringing a backup back: checked before anything is replaced, and what it replaces is kept."""

import contextlib
import os
import sqlite3
import tempfile
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection, connections, transaction
from django.utils import timezone

from . import archive, releases, rows, shelf


@dataclass(frozen=True)
class Restored:
    """What came back, and where what it replaced is kept."""

    contents: archive.Contents
    replaced: tuple  # paths


def check(path):
    """The Contents of a backup that can be brought back here; archive.Damaged with the reason if it cannot."""
    contents = archive.verified(path)
    if releases.newer(releases.named(contents.migrations)):
        raise archive.Damaged(archive.NEWER)
    if connection.vendor != "sqlite" and releases.newer(releases.gone()):
        raise archive.Damaged(
            "the database was last used by a newer stationlog: name an empty one in DATABASE_URL for it"
        )
    return contents


def restore(path, now=None):
    """Replace everything by what is in a backup; returns Restored.

    archive.Damaged or OSError before anything is replaced. Others who are at work meanwhile see the old rows or the
    new ones, never a part.
    """
    now = now or timezone.now()
    contents = check(path)
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder:
        archive.unpack(path, contents, folder)
        bring_up_to_date(contents, Path(folder))
        replaced = [*put_aside(now)]
        bring_back_rows(contents, Path(folder), now, replaced)
        replaced += exchange_media(Path(folder) / archive.MEDIA, now)
    return Restored(contents, tuple(replaced))


def bring_up_to_date(contents, folder):
    """Make what was unpacked fit this program and its database, in a SQLite file beside; archive.Damaged if it cannot.

    Rows of an older release are read by the models that they were written with, then go the steps that are missing.
    """
    steps = releases.named(contents.migrations)
    other = contents.database == "sqlite" and connection.vendor != "sqlite"
    if not releases.missing(steps) and not other:
        return
    file, kept = folder / archive.DATABASE, folder / archive.ROWS
    try:
        with releases.standing_in(file):
            if contents.database == "rows":
                releases.go(steps)
                with kept.open(encoding="utf-8") as source:
                    rows.read(source, releases.registry(steps), contents.total)
            releases.go_on()
            if contents.database == "rows" or other:
                with rows.one_moment(), kept.open("w", encoding="utf-8", newline="\n") as out:
                    rows.write(out)
    except rows.Unreadable as error:
        raise archive.Damaged(str(error)) from None
    except (DatabaseError, ValueError, LookupError) as error:
        raise archive.Damaged(
            f"it is of an older stationlog, and cannot be brought up to date ({' '.join(str(error).split())})"
        ) from error


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
    if (folder / archive.ROWS).exists():
        releases.go_on()
        try:
            with transaction.atomic(), (folder / archive.ROWS).open(encoding="utf-8") as source:
                rows.empty_tables()
                rows.read(source, total=contents.total)
        except rows.Unreadable as error:
            raise archive.Damaged(str(error)) from None
        return
    connections.close_all()
    live = Path(connection.settings_dict["NAME"])
    with archive.closing(folder / archive.DATABASE) as source:
        try:
            with archive.closing(live) as target:
                target.execute("PRAGMA schema_version").fetchone()  # a file that is no database says so here
                archive.copy_pages(source, target, "Putting it in place")
        except sqlite3.DatabaseError:
            replaced += moved_away(live, now)
            with archive.closing(live) as target:
                archive.copy_pages(source, target, "Putting it in place")


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
