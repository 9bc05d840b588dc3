"""A database of the first release brought up to date: how long, how large, how much memory, and every value compared.

    python -m tests.benchmarks.upgrade --contacts 1000000
    DATABASE_URL=postgresql://... python -m tests.benchmarks.upgrade --contacts 1000000      (an empty database)

It has rows in every table and column, a fifth of the contacts with what a phone handed in and with their history.
`manage.py migrate` makes its backup and goes the steps; then that backup, of the first release, is brought back.
"""

import argparse
import datetime
import hashlib
import os
import subprocess
import sys
import tempfile
import time
import uuid
from pathlib import Path

START = datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC)
CHUNK = 5_000
PHONE = uuid.UUID("3b0f5c7e-1d3a-4a44-9a0c-7c6f1f6a2b11")


def main(folder, contacts):
    import django

    django.setup()
    from django.db import connection

    from stationlog.backups import updating
    from tests import filling, schemas

    began = time.monotonic()
    if connection.introspection.table_names():
        sys.exit("The database is not empty")
    registry = schemas.at_the_first_release()
    filling.write_files(filling.fill(registry))
    add_contacts(registry, contacts)
    columns = columns_of(registry)
    before = digest(columns)
    print(f"{connection.vendor}: {contacts} contacts made in {time.monotonic() - began:.0f} s, "
          f"{updating.database_bytes() / 1e6:,.0f} MB", flush=True)
    connection.close()
    run("migrate")
    print(f"the database has {updating.database_bytes() / 1e6:,.0f} MB")
    same(digest(columns), before)
    (backup,) = (folder / "backups").glob("*-before-update.zip")
    print(f"the backup has {backup.stat().st_size / 1e6:,.0f} MB")
    connection.close()
    run("restore", backup, "--yes")
    same(digest(columns), before)


def add_contacts(registry, count):
    """Contacts of the first release, 50 a stint and 200 an outing."""
    from django.db import transaction

    kinds = {name: registry.get_model(name) for name in (
        "outings.Outing", "outings.Stint", "outings.Contact", "outings.FieldEntry", "equipment.Change")}
    owner = registry.get_model("stationlog.Operator").objects.first()
    site = registry.get_model("outings.Site").objects.first()
    for first in range(0, count, CHUNK):
        rows = {name: [] for name in kinds}
        with transaction.atomic():
            for number in range(first, min(first + CHUNK, count)):
                at = START + datetime.timedelta(minutes=2 * number)
                if number % 200 == 0:
                    outing = kinds["outings.Outing"].objects.create(
                        owner_id=owner.pk, site_id=site.pk, window_start=at, station_call="Q1ABC/P"
                    )
                if number % 50 == 0:
                    stint = kinds["outings.Stint"].objects.create(
                        owner_id=owner.pk, outing_id=outing.pk, started_at=at, mode="CW", band="20m", power_w=5
                    )
                a_contact(rows, kinds, number, at, owner, outing, stint)
            for name, found in rows.items():
                kinds[name].objects.bulk_create(found, batch_size=1_000)


def a_contact(rows, kinds, number, at, owner, outing, stint):
    contact = kinds["outings.Contact"](
        owner_id=owner.pk, outing_id=outing.pk, stint_id=stint.pk, call=f"Q{number % 10}{number:06X}", started_at=at,
        band="20m", frequency_hz=14_010_000 + number % 60_000, mode="CW", rst_sent="599", rst_rcvd="579",
        station_call="Q1ABC/P", operator_call="Q1ABC", power_w=5.0, their_grid="JO62QM", name="Zoë", qth="Łódź",
        comment=f"contact {number}", notes="Ω" * (number % 40), distance_km=number / 7, bearing_deg=number % 360 / 3,
        raw=[["CALL", "", f"Q{number % 10}{number:06X}"], ["APP_Q_NUMBER", "N", str(number)]] if number % 3 else None,
        problems=[["QTH", "too long"]] if number % 50 == 0 else [],
    )
    rows["outings.Contact"].append(contact)
    if number % 5 == 0:
        values = {"call": contact.call, "started_at": at.isoformat(), "mode": "CW", "band": "20m", "rst_sent": "599"}
        rows["outings.FieldEntry"].append(kinds["outings.FieldEntry"](
            owner_id=owner.pk, identity=uuid.uuid4(), phone=PHONE, outing_id=outing.pk, kind="contact",
            action="put", subject=contact.uuid, seq=1, edited_at=at, values=values, outcome="taken", revision=1,
        ))
        rows["equipment.Change"].append(kinds["equipment.Change"](
            owner_id=owner.pk, actor_id=owner.pk, cause="phone", kind="outings.contact", subject=contact.uuid,
            revision=1, action="create", before={}, after=values,
        ))


def columns_of(registry):
    """{table as it is called now: (table then, columns then)} of the first release, with those that link rows."""
    from stationlog.backups import rows
    from tests.schemas import CALLED_NOW

    found = {}
    for model in rows.kept_models(registry):
        links = [field.remote_field.through for field in model._meta.local_many_to_many]
        for kind in (model, *links):
            label = kind._meta.label_lower
            now = CALLED_NOW.get(label, label).replace(".", "_")
            names = [field.column for field in kind._meta.local_concrete_fields]
            found[now] = (kind._meta.db_table, names[1:] if kind in links else names)  # a link's own key is nobody's
    return found


def digest(columns):
    """{table as it is called now: digest of every value in every column that it had then}."""
    from django.db import connection

    here, found = set(connection.introspection.table_names()), {}
    for now, (then, names) in columns.items():
        quoted = ", ".join(map(connection.ops.quote_name, names))
        order = names[0] if names[0] == "id" else quoted
        seen = hashlib.sha256()
        with connection.chunked_cursor() as cursor:
            cursor.execute(f"SELECT {quoted} FROM {now if now in here else then} ORDER BY {order}")
            while part := cursor.fetchmany(2_000):
                for row in part:
                    seen.update(repr([bytes(one) if isinstance(one, memoryview) else one for one in row]).encode())
        found[now] = seen.hexdigest()
    return found


def same(after, before):
    differ = [table for table in before if after[table] != before[table]]
    if differ:
        sys.exit(f"these tables have other values now: {differ}")
    print(f"every value of the {len(before)} tables is as it was", flush=True)


def run(*command):
    """Run a command of the program, and say how long it took and how much memory."""
    began = time.monotonic()
    process = subprocess.Popen([sys.executable, "manage.py", *map(str, command)], stdin=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    if status:
        sys.exit(f"{command[0]} failed")
    print(f"{command[0]}: {time.monotonic() - began:.0f} s, {used.ru_utime + used.ru_stime:.0f} s of processor, "
          f"at most {used.ru_maxrss / 1e3:,.0f} MB of memory", flush=True)


if __name__ == "__main__":
    options = argparse.ArgumentParser()
    options.add_argument("--contacts", type=int, default=1_000_000)
    chosen = options.parse_args()
    os.environ["DJANGO_SETTINGS_MODULE"] = "stationlog.settings"
    with tempfile.TemporaryDirectory() as data:
        os.environ["STATIONLOG_DATA"] = data
        main(Path(data), chosen.contacts)
