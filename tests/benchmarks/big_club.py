"""A club's database of any size for the benchmarks: invented, the same on every run, kept where its settings say.

    python -m tests.benchmarks.big_club --contacts 1000000 --operators 200

One operator has a tenth of the contacts, the others share the rest; 50 contacts a stint, 200 an outing. Four stints of
five came in a file, the contacts of the fifth were handed in by a phone and have their history. It is made in a folder
that vanishes, unless DJANGO_SETTINGS_MODULE=stationlog.settings and STATIONLOG_DATA (and DATABASE_URL) name one that
stays: what is there already is used as it is.
"""

import argparse
import datetime
import sys
import time
import uuid
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_log
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction

from equipment.models import Change
from outings.models import Contact, ContactConflict, FieldEntry, ImportedFile, Outing, Stint, SwitchingPlan
from stationlog.models import Operator
from tests import making

OWNER = "Q0BIG"
STINTLESS = 40  # one imported contact of so many is in no stint
TYPED = 5  # of so many stints the contacts of one were typed on a phone


def a_club(contacts, operators):
    """The operator with a tenth of the contacts; the whole club is made unless it is there."""
    big_log.empty_database()
    if not settings.STATIC_ROOT.joinpath("staticfiles.json").exists():
        call_command("collectstatic", interactive=False, verbosity=0)
    found = Operator.objects.filter(call_sign=OWNER).first()
    if found:
        return found
    big_log.CONTACTS_A_STINT = 50
    begun = time.perf_counter()
    with transaction.atomic():
        owner = an_operators_all(contacts // 10, OWNER, 0)
        rest = contacts - contacts // 10
        for number in range(1, operators):
            an_operators_all(rest // (operators - 1), f"Q{number}ALL", number)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    print(f"made in {time.perf_counter() - begun:.0f} s")
    return owner


def an_operators_all(contacts, call_sign, seed):
    """An operator with a log, where it came from, its history, and some of everything else on the last outing."""
    owner = big_log.a_log(contacts, call_sign, seed=seed)
    came = ImportedFile.objects.create(
        owner=owner, name="log.adi", status=ImportedFile.Status.IMPORTED, format="adi", sha256="0" * 64,
        summary={}, size_bytes=200 * contacts,
    )
    stints = list(Stint.objects.of(owner).order_by("started_at").values_list("pk", flat=True))
    typed = stints[::TYPED]
    for part in range(0, len(stints), 500):
        imported = [pk for pk in stints[part:part + 500] if pk not in {*typed}]
        Contact.objects.filter(stint__in=imported).update(imported_by=came)
    if stintless := Contact.objects.of(owner).filter(imported_by=came).order_by("pk")[::STINTLESS]:
        Contact.objects.filter(pk__in=[row.pk for row in stintless]).update(stint=None)
    phone = uuid.UUID(int=seed + 1)
    for part in range(0, len(typed), 20):
        rows = list(Contact.objects.filter(stint__in=typed[part:part + 20]).defer("raw"))
        Change.objects.bulk_create([
            Change(
                owner=owner, actor=owner, at=row.started_at, cause="sync", kind="outings.contact", subject=row.uuid,
                revision=1, action="create", after={"call": row.call, "band": row.band, "mode": row.mode},
            )
            for row in rows
        ])
        FieldEntry.objects.bulk_create([
            FieldEntry(
                owner=owner, identity=uuid.UUID(int=row.uuid.int ^ 1), phone=phone, outing_id=row.outing_id,
                kind="contact", action="make", subject=row.uuid, seq=row.pk, edited_at=row.started_at,
                happened_at=row.started_at, received_at=row.started_at, outcome="taken", revision=1,
                values={"call": row.call, "band": row.band},
            )
            for row in rows
        ])
    some_of_everything(owner)
    return owner


def some_of_everything(owner):
    """What hangs on the last outing of a log, and a plan that is still to come."""
    outing = Outing.objects.of(owner).order_by("-window_start").first()
    plan = SwitchingPlan(owner=owner, outing=outing, minutes=60, block_min=10, change_min=2, order="ABBA", seed=1)
    antenna = making.an_antenna(owner, "Fair antenna")
    plan.make(owner, [making.an_arrangement(antenna, "upright"), making.an_arrangement(antenna, "sloping")])
    making.a_reception_file(outing)
    making.a_remark(outing, at=f"{outing.window_start:%Y-%m-%d %H:%M}")
    arrangement = making.an_arrangement(making.an_antenna(owner), bands=["20m"])
    making.a_sweep(arrangement)
    making.a_coil_tap(making.a_coil(arrangement.antenna))
    pack = making.a_pack(owner, "Second pack")
    making.a_reading(pack)
    making.a_pack_log(pack)
    radio = making.a_radio(owner, "Set-up radio")
    making.a_power_setting(radio)
    kit = making.a_kit(owner, items=[making.an_accessory(owner), pack, radio, arrangement.antenna])
    making.a_note(owner, about=[arrangement, outing])
    last = Contact.objects.of(owner).order_by("-started_at").first()
    ContactConflict.objects.create(contact=last, revision=1, values={"call": "Q9XYZ"})
    start = datetime.datetime(2036, 5, 1, 13, tzinfo=datetime.UTC)
    making.an_outing(owner, site=outing.site, start=f"{start:%Y-%m-%d %H:%M}", kit=kit, bands=["20m"])


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--contacts", type=int, default=1_000_000)
    options.add_argument("--operators", type=int, default=200)
    chosen = options.parse_args()
    a_club(chosen.contacts, chosen.operators)


if __name__ == "__main__":
    main()
