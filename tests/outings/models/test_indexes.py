"""Each index of the tables that grow with a log serves a query, and no page goes through one of these tables."""

import datetime
import re
import tempfile
import uuid
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from equipment.models import Arrangement, Change
from outings.field import entries
from outings.intake import phone
from outings.intake.known import Known
from outings.models import (
    Contact,
    ContactConflict,
    FieldEntry,
    ImportedFile,
    ImportFinding,
    Outing,
    Remark,
    Stint,
)
from stationlog.backups import archive, openly
from stationlog.models import Operator
from tests.benchmarks import big_club, every_page

GROWING = (Contact, ContactConflict, Stint, Outing, Change, FieldEntry, ImportedFile, ImportFinding, Remark)
SERVED = {  # index: a request that needs it
    "contact_owner_start": "/contacts/",
    "contact_owner_call": "/contacts/?call=Q7A",
    "contact_gone": "import",
    "contact_pending": "/",
    "contact_outing_start": "/outings/{outing}/log/",
    "contact_stint_sums": "/performance/",
    "contact_uuid": "/contacts/changes/",
    "contact_conflict_open": "/contacts/?conflict=on",
    "stint_owner_start": "/performance/stints/?by=band&of=20m",
    "stint_outing_start": "/outings/{outing}/log/",
    "outing_owner_start": "/outings/?show=past",
    "change_subject": "/contacts/{contact}/",
    "change_leading": "/contacts/changes/",
    "change_batch": "/contacts/changes/{batch}/",
    "change_whole": "/gear/arrangements/{arrangement}/",
    "field_entry_once": "hand in",
    "field_entry_subject": "hand in",
    "field_entry_waits": "hand in",
    "field_entry_phone": "/account/phones/",
    "field_entry_conflicts": "/outings/{outing}/phones/",
    "import_owner_at": "/files/",
    "finding_file_kind": "/files/{file}/findings/refused/",
    "remark_outing_at": "/outings/{outing}/phones/",
}
UNIQUE = {"contact_uuid": "outings_contact", "field_entry_once": "outings_fieldentry"}  # SQLite calls them otherwise


@pytest.fixture
def owner(db):
    """The owner of the longest of several logs, some of whose contacts were mended together."""
    for number in range(4):
        big_club.an_operators_all(1600 if number == 0 else 400, f"Q{number}ALL", number)
    owner = Operator.objects.get(call_sign="Q0ALL")
    rows = list(Contact.objects.of(owner)[:40])
    for row in rows:
        row.name = "Robin"
    Contact.keep_all(rows, owner, cause="mend", batch=uuid.uuid4())
    return owner


@pytest.fixture(params=["ANALYZE", "SELECT 1"] if connection.vendor == "sqlite" else ["ANALYZE"])
def as_known(request, owner):
    """SQLite has no statistics unless somebody asks for them; for PostgreSQL so short a log is not worth an index."""
    with connection.cursor() as cursor:
        cursor.execute(request.param)
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL enable_seqscan = off")
    return owner


def hand_in(owner):
    """What a phone hands in: a stint and a contact of it."""
    outing, stint, now = Outing.objects.of(owner).last(), uuid.uuid4(), timezone.now()
    begun = f"{outing.window_start:%Y-%m-%dT%H:%M:%SZ}"
    act = {"action": "put", "seq": 1, "base": 0, "edited_at": begun}
    here = {"outing": str(outing.uuid), "started_at": begun, "mode": "SSB", "band": "20m"}
    phone.hand_in(owner, entries.Request(uuid.uuid4(), now, tuple(map(entries.read_entry, [
        {**act, "id": str(uuid.uuid4()), "kind": "stint", "subject": str(stint), "values": here},
        {**act, "id": str(uuid.uuid4()), "kind": "contact", "subject": str(uuid.uuid4()),
         "values": {**here, "call": "Q0XYZ", "stint": str(stint), "seconds_known": True}},
    ]))), now=now)


def plans_of(client, owner, request):
    """{statement: its plan} of all that is read for a page, or for what a phone hands in."""
    sent = {}

    def listen(execute, sql, params, many, context):
        if sql.startswith("SELECT") and "FOR UPDATE" not in sql:
            sent[sql] = params
        return execute(sql, params, many, context)

    with connection.execute_wrapper(listen):
        if request == "hand in":
            hand_in(owner)
        elif request == "import":
            Known(owner)
        elif request == "logs of outings":
            with tempfile.TemporaryDirectory() as name, archive.packing(Path(name) / "all.zip") as packed:
                openly.add_logs(packed, Path(name))
        else:
            every_page.read(client.get(request))
    found = {}
    with connection.cursor() as cursor:
        for sql, params in sent.items():
            cursor.execute(("EXPLAIN " if connection.vendor == "postgresql" else "EXPLAIN QUERY PLAN ") + sql, params)
            found[sql] = "\n".join(str(row[-1]) for row in cursor.fetchall())
    return found


def test_every_index_serves_a_request(as_known):
    """On SQLite; which of several PostgreSQL takes depends on the length of the log."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT indexname FROM pg_indexes")
            assert SERVED.keys() <= {name for (name,) in cursor.fetchall()}
        return
    owner, client = as_known, Client()
    client.force_login(owner)
    last = Outing.objects.of(owner).filter(window_start__lt=datetime.datetime(2030, 1, 1, tzinfo=datetime.UTC)).first()
    keys = {
        "outing": last.pk, "contact": Contact.objects.of(owner).last().pk,
        "batch": Change.objects.of(owner).get(batch__isnull=False, leads=True).pk,
        "arrangement": Arrangement.objects.of(owner).last().pk, "file": ImportedFile.objects.of(owner).get().pk,
    }
    plans, missing = {}, {}
    for index, request in SERVED.items():
        if request not in plans:
            plans[request] = plans_of(client, owner, request.format(**keys))
        name = index
        if index in UNIQUE and connection.vendor == "sqlite":
            name = f"sqlite_autoindex_{UNIQUE[index]}_1"
        if not any(re.search(rf"\b{name}\b", plan) for plan in plans[request].values()):
            missing[index] = request
    assert not missing


def test_lists_are_read_in_the_order_of_an_index(as_known):
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_sort = off; SET LOCAL enable_bitmapscan = off")
    client = Client()
    client.force_login(as_known)
    for address in ("/contacts/", "/contacts/?sort=oldest", "/contacts/?band=20m", "/contacts/?sort=call"):
        listed = {  # what asks for rows by their keys has few to put in order
            sql: plan for sql, plan in plans_of(client, as_known, address).items()
            if sql.startswith('SELECT "outings_contact"."id"') and " ORDER BY " in sql and " IN (" not in sql
        }
        assert listed
        for sql, plan in listed.items():
            assert not re.search(r"TEMP B-TREE FOR ORDER BY|(?<!Incremental )Sort  \(", plan), f"{sql}\n{plan}"


def test_what_is_of_one_outing_is_found_without_going_through_the_others(as_known):
    client, last = Client(), Outing.objects.of(as_known).filter(window_start__lt=timezone.now()).first()
    client.force_login(as_known)
    for request in ("logs of outings", *(f"{path}?outing={last.pk}" for path in (
        "/contacts/", "/contacts/mend/", "/files/export/", "/files/export/log.adi",
    ))):
        of_an_outing = {
            sql: plan for sql, plan in plans_of(client, as_known, request).items()
            if re.search(r'FROM "outings_contact" .*"outing_id" = ', sql)
        }
        assert of_an_outing
        for sql, plan in of_an_outing.items():
            assert "contact_outing_start" in plan, f"{request}\n{sql}\n{plan}"


def test_every_index_is_listed_with_what_it_serves():
    assert {index.name for model in GROWING for index in model._meta.indexes} <= SERVED.keys()


def test_no_index_is_the_beginning_of_another():
    doubled = []
    for model in GROWING:
        whole = [index.fields for index in model._meta.indexes if index.condition is None]
        whole += [constraint.fields for constraint in model._meta.constraints]
        alone = [[field.name] for field in model._meta.local_fields if field.db_index and not field.unique]
        doubled += [
            (model.__name__, one) for one in (*whole, *alone) for other in whole
            if len(one) < len(other) and list(other[:len(one)]) == list(one)
        ]
    assert not doubled


def test_no_page_goes_through_the_contacts_or_the_history_of_all(as_known):
    client, gone_through = Client(), {}
    client.force_login(as_known)
    scan = re.compile(
        r"Seq Scan on (outings_contact|equipment_change|outings_fieldentry)\b"
        if connection.vendor == "postgresql" else r"^SCAN (outings_contact|equipment_change|outings_fieldentry)\b", re.M
    )
    for name, address in [("hand in", "hand in"), *every_page.addresses(as_known)]:
        if name.startswith("equipment:") or name.endswith(("_png", "_svg", "_report", "_paper")):
            continue
        for sql, plan in plans_of(client, as_known, address).items():
            if scan.search(plan):
                gone_through.setdefault(sql, name)
    assert not gone_through
