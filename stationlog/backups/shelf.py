"""The shelf of dated backups: what stands there, how old the newest is, and which ones make room for others."""

import contextlib
import datetime
import re
import time
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from . import archive

EVERY = datetime.timedelta(hours=24)
OVERDUE = datetime.timedelta(hours=48)
NAME = re.compile(r"stationlog-(\d{8}-\d{6})\.zip")
DAYS, WEEKS, MONTHS = 7, 5, 12
TROUBLE = "last-trouble.txt"
LAST = "last-made.txt"  # the name of the backup that was made last, whatever the clock said then
TAKEN, TAKEN_S = "being-made", 3 * 3600  # a mark that a process is making one, and when it is no longer believed


@dataclass(frozen=True)
class Kept:
    """One backup on the shelf."""

    path: Path
    made_at: datetime.datetime


@dataclass(frozen=True)
class State:
    """What the start page says: the newest backup, how long ago that was, and why the last try failed."""

    newest: Kept | None
    age: datetime.timedelta | None
    trouble: str
    folder: Path

    @property
    def is_overdue(self):
        return self.age is None or self.age > OVERDUE


def name_for(moment, word=""):
    """The file name of a backup; with a word it stands apart, and no rotation takes it away."""
    return f"stationlog-{moment:%Y%m%d-%H%M%S}{'-' + word if word else ''}.zip"


def kept(folder=None):
    """The backups on the shelf, the newest first."""
    found = []
    for path in Path(folder or settings.BACKUP_DIR).glob("stationlog-*.zip"):
        if match := NAME.fullmatch(path.name):
            try:
                made_at = datetime.datetime.strptime(match[1], "%Y%m%d-%H%M%S").replace(tzinfo=datetime.UTC)
            except ValueError:
                continue
            found.append(Kept(path, made_at))
    return sorted(found, key=lambda backup: backup.made_at, reverse=True)


def last_made():
    """The name of the backup that was made last; empty where that was not noted."""
    try:
        return (settings.BACKUP_DIR / LAST).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def in_order(now):
    """The backups on the shelf, the newest first: the one that was made last, whatever the clock said then, those up to
    `now`, and those that a clock gone wrong dated ahead."""
    last = last_made()
    return sorted(kept(), key=lambda backup: (backup.path.name != last, backup.made_at > now))


def newest_good(now=None):
    """The newest backup that can be read to its end; None if there is none."""
    for backup in in_order(now or timezone.now()):
        try:
            archive.verified(backup.path)
        except (archive.Damaged, OSError):
            continue
        return backup
    return None


def state(now):
    """What stands on the shelf."""
    newest = next(iter(in_order(now)), None)
    try:
        trouble = (settings.BACKUP_DIR / TROUBLE).read_text(encoding="utf-8").strip()
    except OSError:
        trouble = ""
    age = abs(now - newest.made_at) if newest else None
    return State(newest, age, trouble, settings.BACKUP_DIR)


def surplus(moments, now=None):
    """Of the moments of backups those that need not be kept.

    Kept are the newest of each of the last DAYS days, WEEKS weeks and MONTHS months that have one; days, ISO weeks and
    months are counted in UTC. What a clock gone wrong dated ahead of `now` is counted apart, so that it takes no
    place of a true one.
    """
    if now is not None:
        ahead = [moment for moment in moments if moment > now]
        return surplus(ahead) + surplus([moment for moment in moments if moment <= now])
    moments = sorted(moments, reverse=True)
    stay = set(moments[:2])
    for how_many, period in ((DAYS, "%Y-%m-%d"), (WEEKS, "%G-%V"), (MONTHS, "%Y-%m")):
        newest = {}
        for moment in moments:
            newest.setdefault(moment.strftime(period), moment)
        stay.update(list(newest.values())[:how_many])
    return [moment for moment in moments if moment not in stay]


def put_new(now=None):
    """Make a backup, read it back, and take away those that it makes superfluous; returns (Kept, Contents).

    OSError or archive.Damaged where that fails; the reason is noted for the start page, and the older ones stay.
    """
    now = now or timezone.now()
    path = settings.BACKUP_DIR / name_for(now)
    note = settings.BACKUP_DIR / TROUBLE
    try:
        contents = archive.make(path, now)
    except (OSError, archive.Damaged) as error:
        said = getattr(error, "strerror", None) or str(error)
        with contextlib.suppress(OSError):
            note.write_text(f"{now:%Y-%m-%d %H:%M} UTC: {said}", encoding="utf-8")
        raise
    note.unlink(missing_ok=True)
    stay = {last_made(), path.name}
    with contextlib.suppress(OSError):
        (settings.BACKUP_DIR / LAST).write_text(path.name, encoding="utf-8")
    standing = kept()
    superfluous = set(surplus([backup.made_at for backup in standing], now))
    for backup in standing:
        if backup.made_at in superfluous and backup.path.name not in stay:
            backup.path.unlink(missing_ok=True)
    return Kept(path, now), contents


def is_due(now):
    """Whether a day has gone by since the last backup. A clock that was set back by a day counts as one."""
    last = next(iter(in_order(now)), None)
    return last is None or abs(now - last.made_at) >= EVERY


def put_new_if_due(now=None):
    """As `put_new`, if the newest is a day old and no other process is at it; None otherwise."""
    now = now or timezone.now()
    if not is_due(now):
        return None
    settings.BACKUP_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    taken = settings.BACKUP_DIR / TAKEN
    with contextlib.suppress(FileNotFoundError):
        if abs(time.time() - taken.stat().st_mtime) > TAKEN_S:  # left behind by one that was killed
            taken.unlink()
    try:
        taken.touch(exist_ok=False)
    except FileExistsError:
        return None
    try:
        return put_new(now) if is_due(now) else None
    finally:
        taken.unlink(missing_ok=True)
