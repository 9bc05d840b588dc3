"""One backup: a zip of the database, the pictures and the uploaded files, with a list of what must be in it.

Of SQLite it holds the database file, copied by SQLite's online backup while the program runs; of PostgreSQL all rows
as JSON lines. Sessions stay out, and so do the keys: who gets hold of a backup cannot sign in with it.
"""

import contextlib
import hashlib
import json
import os
import sqlite3
import tempfile
import zipfile
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath

from django.conf import settings
from django.db import connection

from equipment import progress
from stationlog import storage

from . import releases, rows

FORM = 1
LIST = "list.json"
DATABASE = "database.sqlite3"
ROWS = "rows.jsonl"
MEDIA = "media/"
PIECE = 1 << 20
PAGES = 1 << 12  # of SQLite that are copied at a time, 16 MB
NEWER = "it was made by a newer stationlog: update the program first"
KEYS = ("secret-key.txt", "phone")


class Damaged(ValueError):
    """A file is no backup that can be brought back; the text says why."""


@dataclass(frozen=True)
class Contents:
    """What a backup says of itself. `database` is sqlite or rows; `files` is {name: [bytes, SHA-256]}."""

    form: int
    made_at: str
    database: str
    migrations: list
    rows: dict
    files: dict

    @property
    def total(self):
        """How many rows it has."""
        return sum(self.rows.values())

    @property
    def size_bytes(self):
        """How many bytes its files have, unpacked."""
        return sum(size for size, _ in self.files.values())

    @property
    def pictures(self):
        return sum(name.startswith(MEDIA) for name in self.files)


class Packing:
    """A zip that is being written, and what went into it."""

    def __init__(self, packed):
        self.packed, self.files = packed, {}

    def add(self, name, source, stored=False, did=progress.unheard):
        """Copy a binary stream into the zip under a name; `did` is told the bytes."""
        digest, size = hashlib.sha256(), 0
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
        with self.packed.open(info, "w", force_zip64=True) as out:
            while piece := source.read(PIECE):
                digest.update(piece)
                size += len(piece)
                out.write(piece)
                did(len(piece))
        self.files[name] = [size, digest.hexdigest()]

    def add_file(self, name, path):
        """Copy a large file into the zip under a name."""
        words = "Packing the database" if name == DATABASE else "Packing the rows"
        with path.open("rb") as source, progress.step(words, path.stat().st_size, progress.BYTES) as did:
            self.add(name, source, did=did)

    def add_media(self):
        """Pictures and uploads; one that is deleted in this moment is left out."""
        paths = sorted(Path(settings.MEDIA_ROOT).rglob("*"))
        for path in progress.each(paths, "Packing pictures and files", len(paths)):
            with contextlib.suppress(FileNotFoundError), contextlib.ExitStack() as stack:
                if path.is_file():
                    source = stack.enter_context(path.open("rb"))
                    self.add(MEDIA + path.relative_to(settings.MEDIA_ROOT).as_posix(), source, stored=True)

    def finish(self, made_at, database, counts):
        applied = sorted(" ".join(step) for step in releases.gone())
        contents = Contents(FORM, made_at.isoformat(), database, applied, counts, self.files)
        self.packed.writestr(LIST, json.dumps(asdict(contents), indent=1), zipfile.ZIP_DEFLATED)
        return contents


@contextlib.contextmanager
def packing(path):
    """A zip at `path`, which is there only once it is whole and on the disk. OSError where there is no room."""
    path = Path(path)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, part = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(descriptor, "wb") as file:
            with zipfile.ZipFile(file, "w", compresslevel=3) as packed:
                yield Packing(packed)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
        storage.sync(path, path.parent)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise


def make(path, now):
    """Make a backup at `path` while the program runs, and read it back; returns its Contents.

    The database may be one of an older release, which has not gone all steps yet.
    OSError where it cannot be written, Damaged where the database is damaged or what was written cannot be read back.
    """
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder, packing(path) as packed:
        if connection.vendor == "sqlite":
            copy = Path(folder) / DATABASE
            copy_database(copy)
            then = rows.kept_models(releases.registry(releases.gone()))
            counts = counted(copy, [model._meta.label_lower for model in then])
            packed.add_file(DATABASE, copy)
        else:
            kept = Path(folder) / ROWS
            with rows.one_moment(), kept.open("w", encoding="utf-8", newline="\n") as out:
                counts = rows.write(out, releases.registry(releases.gone()))
            packed.add_file(ROWS, kept)
        packed.add_media()
        packed.finish(now, "sqlite" if connection.vendor == "sqlite" else "rows", counts)
    return verified(path)


def copy_database(target):
    """Copy the SQLite database as it is at one moment, without its sessions."""
    try:
        with closing(connection.settings_dict["NAME"]) as live, closing(target) as copy:
            copy_pages(live, copy)
            copy.execute("PRAGMA journal_mode=DELETE")
            with copy:
                here = {name for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
                for table in here.intersection(rows.passing_tables()):
                    copy.execute(f'DELETE FROM "{table}"')
            with progress.step("Tidying the copy"):
                copy.execute("VACUUM")
    except sqlite3.OperationalError as error:
        raise OSError(str(error)) from None
    except sqlite3.DatabaseError as error:
        raise Damaged(f"the database is damaged ({error})") from None


def copy_pages(source, target, words="Copying the database"):
    """Copy a SQLite database into another piece by piece, as it is at one moment."""
    source.execute("BEGIN")  # what is written meanwhile would make it begin anew, outside of a transaction
    pages, page_bytes = (source.execute(f"PRAGMA page_{name}").fetchone()[0] for name in ("count", "size"))
    with progress.step(words, pages * page_bytes, progress.BYTES) as did:
        copied_pages = 0

        def tell(status, remaining, total):
            nonlocal copied_pages
            did((total - remaining - copied_pages) * page_bytes)
            copied_pages = total - remaining

        source.backup(target, pages=PAGES, progress=tell)
    source.rollback()


@contextlib.contextmanager
def closing(path):
    """A connection of its own to a SQLite file, closed afterwards."""
    opened = sqlite3.connect(path, timeout=20)
    try:
        yield opened
    finally:
        opened.close()


def counted(path, labels):
    """{model: number of rows} in a SQLite file, by labels of models; Damaged if SQLite finds a fault in it."""
    try:
        with closing(path) as opened:
            with progress.step("Checking the database"):
                (said,) = opened.execute("PRAGMA integrity_check(1)").fetchone()
            if said != "ok":
                raise Damaged(f"its database is damaged ({said})")
            here = {name for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            return {
                label: opened.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0]
                for label in labels if (table := label.replace(".", "_")) in here and table.isidentifier()
            }
    except sqlite3.DatabaseError as error:
        raise Damaged(f"its database is damaged ({error})") from None


def look_over(path):
    """Damaged, with the reason, if SQLite finds a fault in the database file of this program."""
    if not Path(path).stat().st_size and any(settings.BACKUP_DIR.glob("stationlog-*.zip")):
        raise Damaged(f"the database {path} is empty, which SQLite takes for a new one, and it is not new")
    try:
        with closing(path) as opened, progress.step("Checking the database"):
            (said,) = opened.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.OperationalError:
        return  # busy, or not ours to read: whoever opens it next says so
    except sqlite3.DatabaseError as error:
        said = str(error)
    if said != "ok":
        raise Damaged(f"the database {path} is damaged ({' '.join(said.split())})")


def verified(path):
    """The Contents of a backup after reading all of it back; Damaged, with the reason, if it is not whole."""
    with opened(path) as (packed, contents), tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder:
        with progress.step("Reading the copy back", contents.size_bytes, progress.BYTES) as did:
            for name, (size, digest) in contents.files.items():
                target = Path(folder) / name if name in (DATABASE, ROWS) else None
                if copied(packed, name, target, did) != (size, digest):
                    raise Damaged(f"{name} in it is not what was written")
        check_rows(contents, Path(folder))
    return contents


@contextlib.contextmanager
def opened(path):
    """The zip of a backup and its Contents; Damaged if it is none, or of a later form."""
    try:
        packed = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, NotImplementedError, ValueError, EOFError):
        raise Damaged("it is no backup of stationlog, or it is broken off") from None
    with packed:
        yield packed, listed(packed)


def listed(packed):
    """The Contents that a zip says it has; Damaged if it says nothing that makes sense."""
    try:
        found = json.loads(packed.read(LIST))
        if found["form"] > FORM:
            raise Damaged(NEWER)
        contents = Contents(**found)
        paths = [PurePosixPath(name) for name in contents.files]
        sensible = contents.database in ("sqlite", "rows") and all(
            isinstance(size, int) and isinstance(digest, str) for size, digest in contents.files.values()
        ) and all(len(step) == 2 for step in releases.named(contents.migrations))
    except Damaged:
        raise
    except Exception:  # whatever a broken or foreign zip may hold in that place
        raise Damaged("it is no backup of stationlog, or it is broken off") from None
    if not sensible or any(path.is_absolute() or {"..", "\\", ":"} & {*path.parts, *str(path)} for path in paths):
        raise Damaged("its list makes no sense, or leads to other folders")
    return contents


def unpack(path, contents, folder, wanted=lambda name: True):
    """Unpack what a backup holds into a folder; of its files those that are `wanted`."""
    names = [name for name in contents.files if wanted(name)]
    size_bytes = sum(contents.files[name][0] for name in names)
    with opened(path) as (packed, _), progress.step("Unpacking", size_bytes, progress.BYTES) as did:
        for name in names:
            copied(packed, name, Path(folder) / name, did)


def copied(packed, name, target=None, did=progress.unheard):
    """Read a member to its end, into a file if one is named; its (size, SHA-256). Damaged if it cannot be read."""
    digest, size = hashlib.sha256(), 0
    try:
        with contextlib.ExitStack() as stack:
            source = stack.enter_context(packed.open(name))
            if target is not None:
                target.parent.mkdir(parents=True, exist_ok=True)
            out = stack.enter_context(target.open("wb")) if target is not None else None
            while piece := source.read(PIECE):
                digest.update(piece)
                size += len(piece)
                if out:
                    out.write(piece)
                did(len(piece))
    except (zipfile.BadZipFile, KeyError, EOFError, NotImplementedError, ValueError) as error:
        raise Damaged(f"{name} in it cannot be read ({error})") from None
    except Exception as error:  # zlib.error and its like: a bit has turned
        if isinstance(error, OSError):
            raise
        raise Damaged(f"{name} in it cannot be unpacked ({error})") from None
    return size, digest.hexdigest()


def check_rows(contents, folder):
    """Hold the database of an unpacked backup against what its list says."""
    if contents.database == "sqlite":
        found = counted(folder / DATABASE, contents.rows)
    else:
        try:
            with (folder / ROWS).open(encoding="utf-8") as source:
                lines = progress.each(source, "Checking the rows", contents.total)
                found = rows.count(lines, contents.rows)
        except (rows.Unreadable, UnicodeDecodeError) as error:
            raise Damaged(f"its rows cannot be read: {error}") from None
    for label, number in contents.rows.items():
        if found.get(label, 0) != number:
            raise Damaged(f"it should hold {number} of {label} and holds {found.get(label, 0)}")


def make_keys(path):
    """Write the keys, which no backup holds, to a zip of their own that only the owner can read."""
    with packing(path) as packed:
        for name in KEYS:
            place = settings.DATA_DIR / name
            for file in [place, *sorted(place.rglob("*"))]:
                if file.is_file():
                    with file.open("rb") as source:
                        packed.add(file.relative_to(settings.DATA_DIR).as_posix(), source)
        return list(packed.files)
