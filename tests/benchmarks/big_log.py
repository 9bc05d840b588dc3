"""A log of any length for the benchmarks: invented, the same on every run."""

import datetime
import os
import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402

from outings.models import Contact, Outing, Stint  # noqa: E402
from tests.making import a_pack, a_radio, a_site, an_antenna, an_arrangement, an_operator  # noqa: E402

BANDS = {"40m": 7_032_000, "20m": 14_062_000, "15m": 21_062_000, "10m": 28_062_000}
REPORTS = ("599", "589", "579", "559")
CONTACTS_A_STINT, STINTS_AN_OUTING = 25, 4


def empty_database():
    """Make the tables; a benchmark runs in a database of its own."""
    database = settings.DATABASES["default"]
    if not database["ENGINE"].endswith("sqlite3"):
        print(f"in the database {database['NAME']}, which must be empty before and keeps what is made")
    call_command("migrate", verbosity=0)


def a_log(contacts, call_sign="Q1BIG", seed=1):
    """An operator with so many contacts: eight sites, seven arrangements of four antennas, two radios, three packs."""
    numbers = random.Random(seed)
    owner = an_operator(call_sign)
    sites = [a_site(owner, f"Site {number}") for number in range(8)]
    antennas = [an_antenna(owner, f"Antenna {number}") for number in range(4)]
    arrangements = [an_arrangement(antennas[number % 4], f"way {number}") for number in range(7)]
    radios = [a_radio(owner, f"Radio {number}") for number in range(2)]
    packs = [a_pack(owner, f"Pack {number}") for number in range(3)]
    first = datetime.datetime(2006, 1, 1, 10, tzinfo=datetime.UTC)
    outings = Outing.objects.bulk_create(
        [
            Outing(
                owner=owner, site=numbers.choice(sites), station_call=f"{call_sign}/P",
                window_start=first + datetime.timedelta(days=7 * number),
                window_end=first + datetime.timedelta(days=7 * number, hours=4),
            )
            for number in range(-(-contacts // (CONTACTS_A_STINT * STINTS_AN_OUTING)))
        ],
        batch_size=500,
    )
    stints = Stint.objects.bulk_create(
        [
            Stint(
                owner=owner, outing=outing, radio=numbers.choice(radios), arrangement=numbers.choice(arrangements),
                pack=numbers.choice(packs), power_w=numbers.choice([5, 10]), band=numbers.choice(list(BANDS)),
                mode=numbers.choice(["SSB", "CW"]), started_at=outing.window_start + datetime.timedelta(hours=number),
                ended_at=outing.window_start + datetime.timedelta(hours=number, minutes=55), on_air_s=3300,
                inferred=numbers.random() < 0.2, calling=numbers.choice(["calling", "answering"]),
            )
            for outing in outings for number in range(STINTS_AN_OUTING)
        ],
        batch_size=500,
    )
    rows, reports = [], random.Random(seed)
    for number in range(contacts):
        stint = stints[number // CONTACTS_A_STINT]
        located = numbers.random() < 0.8
        rows.append(Contact(
            owner=owner, outing=stint.outing, stint=stint, pending=numbers.random() < 0.01,
            call="Q" + "".join(numbers.choices("0123456789", k=1) + numbers.choices("ABCDEFGHIJKLMNOP", k=3)),
            started_at=stint.started_at + datetime.timedelta(minutes=2 * (number % CONTACTS_A_STINT)),
            band=stint.band, frequency_hz=BANDS[stint.band], mode=stint.mode,
            rst_sent=reports.choice(REPORTS), rst_rcvd=reports.choice(REPORTS),
            station_call=f"{call_sign}/P", power_w=stint.power_w, their_grid="JO22dc" if located else "",
            distance_km=min(20_000, numbers.lognormvariate(6.8, 0.9)) if located else None,
            distance_error_km=2.5 if located else None, bearing_deg=numbers.uniform(0, 360) if located else None,
            comment="good signal, slow fading", raw=[["CALL", "", "Q1X"], ["BAND", "", stint.band], ["MODE", "", "CW"]],
        ))
        if len(rows) == 1000:
            Contact.objects.bulk_create(rows)
            rows.clear()
    Contact.objects.bulk_create(rows)
    return owner


def shortest_ms(tasks, runs=9):
    """The shortest run of each of several tasks, {name: milliseconds}.

    They take turns, so that what else the machine does meets all of them; the shortest is what it can do undisturbed.
    """
    found = dict.fromkeys(tasks, float("inf"))
    for _ in range(runs):
        for name, task in tasks.items():
            begun = time.perf_counter()
            task()
            found[name] = min(found[name], 1000 * (time.perf_counter() - begun))
    return found
