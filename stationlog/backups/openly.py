"""Everything in open formats: logs as ADIF, tables as CSV, all rows as JSON lines, pictures and uploaded files.

The rows alone are complete, and an empty installation takes them in, on either database; the rest is for other
programs.
"""

import csv
import io
import itertools
import json
import re
import tempfile
from pathlib import Path

from django.conf import settings
from django.db import transaction

from equipment import progress
from equipment.models import PackLog, Sweep
from outings.models import Outing
from outings.queries import adif_files

from . import archive, releases, restoring, rows

READ_ME = """This is everything that a stationlog holds, in open formats.

rows.jsonl     every row, a line of JSON each; an empty stationlog takes it in: manage.py import_all FILE
list.json      what is in here, with numbers of rows and SHA-256 of each file
logs/          each outing as ADI (ASCII) and as ADX (which keeps letters beyond ASCII), the open standard ADIF
tables/        each kind of row as CSV, UTF-8; a text like a formula has an apostrophe first
originals/     files as they were taken in: sweeps of antennas, logs of packs
media/         pictures, and logs that were imported

It holds the digests of passwords: keep it as you keep your log.
"""
FORMULAS = ("=", "+", "-", "@", "\t", "\r")


class NotEmpty(ValueError):
    """There are accounts here already."""


def export_all(path, now):
    """Write everything to a zip at `path` while the program runs; returns its Contents. OSError where it cannot."""
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder, archive.packing(path) as packed:
        kept = Path(folder) / archive.ROWS
        with rows.one_moment():
            with kept.open("w", encoding="utf-8", newline="\n") as out:
                counts = rows.write(out)
            add_logs(packed, Path(folder))
            add_originals(packed)
        packed.add_file(archive.ROWS, kept)
        add_tables(packed, kept, Path(folder), sum(counts.values()))
        packed.add_media()
        packed.add("READ-ME.txt", io.BytesIO(READ_ME.encode()))
        packed.finish(now, "rows", counts)
    return archive.verified(path)


def import_all(path):
    """Take everything that was exported into an empty installation; returns the Contents.

    archive.Damaged where the file is not whole, NotEmpty where there are accounts already; nothing is changed then.
    """
    contents = restoring.check(path)
    if contents.database != "rows":
        raise archive.Damaged("it is a backup of SQLite: bring it back with restore")
    if releases.has_accounts():
        raise NotEmpty("there are accounts here already")
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder:
        archive.unpack(path, contents, folder, lambda name: name == archive.ROWS or name.startswith(archive.MEDIA))
        restoring.bring_up_to_date(contents, Path(folder))
        releases.go_on()
        try:
            with transaction.atomic(), (Path(folder) / archive.ROWS).open(encoding="utf-8") as source:
                rows.empty_tables()  # the code for the first account, which start made
                rows.read(source, total=contents.total)
        except rows.Unreadable as error:
            raise archive.Damaged(str(error)) from None
        media = Path(settings.MEDIA_ROOT)
        for file in sorted((Path(folder) / archive.MEDIA).rglob("*")):
            if file.is_file():
                target = media / file.relative_to(Path(folder) / archive.MEDIA)
                target.parent.mkdir(parents=True, exist_ok=True)
                file.replace(target)
    return contents


def add_logs(packed, folder):
    """The contacts of each outing as ADI and ADX."""
    outings = Outing.objects.select_related("owner", "site").order_by("pk")
    for outing in progress.each(outings.iterator(), "Writing the logs of outings", outings.count):
        contacts = adif_files.contacts_of(outing.owner, outing)
        if not contacts.exists():
            continue
        call = outing.owner.call_sign.replace("/", "-")
        for form in ("adi", "adx"):
            written = folder / "log"
            with written.open("w", encoding="utf-8", newline="") as out:
                out.writelines(adif_files.Handover(contacts, form).pieces())
            with written.open("rb") as source:
                packed.add(f"logs/{call}/{outing.window_start:%Y-%m-%d}-{outing.pk}.{form}", source)


def add_tables(packed, kept, folder, total):
    """The rows once more as CSV, a file for each kind."""
    with kept.open(encoding="utf-8") as source:
        lines = progress.each(source, "Writing the tables", total)
        for label, found in itertools.groupby(map(json.loads, lines), key=lambda row: row["model"]):
            written = folder / "table"
            with written.open("w", encoding="utf-8", newline="") as out:
                table = csv.writer(out)
                first = next(found)
                names = [*first["fields"]]
                table.writerow(["id", *names])
                for row in itertools.chain([first], found):
                    table.writerow([row["pk"], *(cell(row["fields"].get(name)) for name in names)])
            with written.open("rb") as source_of_table:
                packed.add(f"tables/{label}.csv", source_of_table)


def cell(value):
    """A value as a spreadsheet takes it: never as a formula."""
    if value is None:
        return ""
    if isinstance(value, bool | int | float):
        return value
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return f"'{text}" if text.startswith(FORMULAS) else text


def add_originals(packed):
    """Files that lie in rows, as they were taken in: sweeps and logs of packs."""
    for sweep in Sweep.everything.order_by("pk").iterator(20):
        packed.add(f"originals/sweeps/{sweep.pk}-{file_name(sweep.file_name)}", io.BytesIO(sweep.original))
    for log in PackLog.everything.order_by("pk").iterator(20):
        packed.add(f"originals/packs/{log.pk}-{file_name(log.file_name)}", io.BytesIO(log.file))


def file_name(name):
    """A file's own name without anything that could lead to another folder."""
    return re.sub(r"[^\w.-]+", "_", name)[-80:] or "file"
