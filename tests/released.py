"""Archives as a release writes them, which every later one has to take in.

    python -m tests.released tests/data/releases/NAME

Run it in a checkout of that release, once without DATABASE_URL and once on an empty PostgreSQL database. An archive
holds rows with a value in every column (`tests/filling.py`) and two outings of the demo scenario.
"""

import datetime
import os
import sys
import tempfile
from pathlib import Path

MOMENT = datetime.datetime(2026, 11, 27, 6, 30, tzinfo=datetime.UTC)


def main(folder):
    """Write the archives that the database of this run can write."""
    import django

    django.setup()
    from django.apps import apps
    from django.core.management import call_command
    from django.db import connection

    from stationlog.backups import archive, openly
    from tests import filling

    call_command("migrate", verbosity=0)
    filling.write_files(filling.fill(apps))
    call_command("demo", today=MOMENT.date())
    shorten()
    archive.make(folder / f"backup-{connection.vendor}.zip", MOMENT)
    if connection.vendor == "postgresql":
        openly.export_all(folder / "export.zip", MOMENT)


def shorten():
    """Leave two outings of the demo scenario, and a piece of what hangs on them."""
    from equipment.models import Change, PackLog, Sweep
    from outings.models import Contact, Outing
    from stationlog.models import Operator

    demo = Operator.objects.get(call_sign="Q0DEMO")
    for rows, stay in (
        (Outing.everything.of(demo), Outing.everything.of(demo).order_by("-pk")[1:3]),
        (Sweep.everything.of(demo), Sweep.everything.of(demo)[:1]),
        (PackLog.everything.of(demo), PackLog.everything.of(demo)[:1]),
        (Contact.everything.of(demo), Contact.everything.of(demo)[:20]),
    ):
        rows.exclude(pk__in=[row.pk for row in stay]).delete()
    Change.objects.of(demo).exclude(subject__in=Contact.everything.of(demo).values("uuid")).delete()


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "stationlog.settings"
    with tempfile.TemporaryDirectory() as data:
        os.environ["STATIONLOG_DATA"] = data
        main(Path(sys.argv[1]).resolve())
