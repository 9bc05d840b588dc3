"""The database of an older release brought up to date: a backup first, then all steps or none."""

import contextlib
import os
import shutil
import traceback
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from . import archive, releases, shelf

LOCK = 0x73746C67  # of PostgreSQL's advisory locks: one process at a time, the others wait
DETAILS = "update-failed.txt"
NEWER = (
    "the database was last used by a newer stationlog ({}). Start that version again, or bring back a backup that this "
    "one made: manage.py restore FILE. Nothing was changed."
)


class NotUpdated(Exception):
    """The database was not brought up to date; the text says why, and what to do."""


def bring_up_to_date(go, say):
    """Have `go` bring the database up to date, all or nothing, after a backup if somebody would miss what is there.

    `say` shows a line; `go` is told how many steps there are, and whether they are worth a line each. NotUpdated where
    it cannot be done; the database is then as it was.
    """
    with alone():
        steps = releases.gone()
        if newer := releases.newer(steps):
            raise NotUpdated(NEWER.format(" ".join(newer[0])))
        missing = releases.missing(steps)
        kept = put_aside(len(missing), say) if missing and releases.has_accounts() else None
        try:
            with all_or_nothing(missing):
                go(len(missing), announced=kept is not None)
        except Exception as error:
            if kept is None:
                raise
            raise failed(error, kept) from error
        if kept:
            say("The database is up to date.")


def put_aside(count, say):
    """Make a backup of what is there, and say so; returns its path."""
    now = timezone.now()
    path = settings.BACKUP_DIR / shelf.name_for(now, "before-update")
    say(f"The database is of an older stationlog and has {count} step{'s' if count > 1 else ''} to go.")
    try:
        make_room()
        say("A backup of it comes first; a log of a million contacts takes some minutes ...")
        contents = archive.make(path, now)
    except (OSError, DatabaseError, archive.Damaged) as error:
        said = getattr(error, "strerror", None) or " ".join(str(error).split())
        raise NotUpdated(
            f"no backup could be made before the database is brought up to date ({said}). Nothing was changed: put "
            "that right and start again."
        ) from None
    say(f"Backup: {path}, {contents.total} rows, read back and whole.")
    return path


def make_room():
    """NotUpdated where the disk would be full before the backup and the steps are done."""
    database, media = database_bytes(), sum(file.stat().st_size for file in files_in(settings.MEDIA_ROOT))
    wanted = {}
    settings.BACKUP_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    for folder, size in (
        (settings.BACKUP_DIR, database + media),
        (settings.DATA_DIR, 2 * database),  # a copy first, then tables that are written anew
    ):
        disk = os.stat(folder).st_dev
        wanted[disk] = (folder, wanted.get(disk, (folder, 0))[1] + size)
    for folder, size in wanted.values():
        free = shutil.disk_usage(folder).free
        if free < size:
            raise NotUpdated(
                f"bringing the database up to date, with a backup before, wants {megabytes(size)} MB of free disk, and "
                f"{folder} has {megabytes(free)}. Make room and start again. Nothing was changed."
            )


def database_bytes():
    """How large the database is."""
    if connection.vendor == "sqlite":
        name = connection.settings_dict["NAME"]
        return sum(Path(f"{name}{end}").stat().st_size for end in ("", "-wal") if Path(f"{name}{end}").exists())
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return cursor.fetchone()[0]


def files_in(folder):
    return (path for path in Path(folder).rglob("*") if path.is_file())


def megabytes(size):
    return f"{size / 1e6:,.0f}"


@contextlib.contextmanager
def alone():
    """No other process brings the same database up to date meanwhile; on SQLite the transaction itself sees to that."""
    if connection.vendor == "sqlite":
        yield
        return
    with connection.cursor() as cursor:  # steps may take minutes, and whoever waits for them has time
        cursor.execute("SET lock_timeout = 0")
        cursor.execute("SELECT pg_advisory_lock(%s)", [LOCK])
        cursor.execute("RESET lock_timeout")
    try:
        yield
    finally:
        with contextlib.suppress(DatabaseError), connection.cursor() as cursor:  # lost with the connection, if that is
            cursor.execute("SELECT pg_advisory_unlock(%s)", [LOCK])


@contextlib.contextmanager
def all_or_nothing(steps):
    """One transaction around all steps, where each of them lets itself be taken back."""
    if not all(releases.may_be_taken_back(step) for step in steps):
        yield
        return
    sqlite = connection.vendor == "sqlite"
    if sqlite:  # tables cannot be written anew while it looks after foreign keys, nor this be said in a transaction
        connection.disable_constraint_checking()
    try:
        with transaction.atomic():
            yield
    finally:
        if sqlite:
            connection.enable_constraint_checking()


def between_steps():
    """PostgreSQL alters no table while rows of it wait for their foreign keys to be looked at."""
    if connection.vendor == "postgresql" and connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE; SET CONSTRAINTS ALL DEFERRED")


def failed(error, kept):
    """What to say when a step failed."""
    details = settings.DATA_DIR / DETAILS
    with contextlib.suppress(OSError):
        details.write_text("".join(traceback.format_exception(error)), encoding="utf-8")
    return NotUpdated(
        f"the database could not be brought up to date ({' '.join(str(error).split())}). Nothing in it was changed: "
        f"put that right and start again, or go on with the program's files of before. A backup is in {kept}, "
        f"details are in {details}."
    )


def misfit():
    """Why a command that reads and writes the log cannot use the database as it is; None where it can."""
    steps = releases.gone()
    if newer := releases.newer(steps):
        return NEWER.format(" ".join(newer[0]))
    if [step for step in releases.missing(steps) if step[0] in releases.APPS]:
        return "the database is of an older stationlog. Bring it up to date first, by a start or by manage.py migrate."
    return None
