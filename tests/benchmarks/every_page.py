"""Every page and export of a club's database: median and 95th percentile, against the bare SQL of the same question.

    python -m tests.benchmarks.every_page --contacts 1000000 --operators 200 --into 1m.json
    python -m tests.benchmarks.every_page --growth 10k.json 100k.json 1m.json

Each page is asked for as the operator who has a tenth of the contacts (tests/benchmarks/big_club.py), warm; then the
statements that it had sent are sent again by themselves: the bare SQL of its question. `--growth` sets runs of several
sizes beside each other. DATABASE_URL names a PostgreSQL database to do the same there. With `--computing` the time that
this process computes counts, and the one of PostgreSQL that works for it here: others on the machine hardly change it.
"""

import argparse
import itertools
import json
import logging
import re
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_club
from django.db import connection
from django.test import Client
from django.urls import reverse

import equipment.models as gear
from outings import models as log
from outings.queries import comparison, dimensions
from tests.stationlog.test_access import FRAMES, OPEN, ROUTES

LEFT_OUT = {"outings:field_worker", "outings:field_manifest", "phone_certificate"}  # nothing of the database is in them
ABOUT = {  # beginnings of addresses, and what the first number in them is the key of; the longest that fits counts
    "/outings/": log.Outing, "/outings/shared/": log.OutingMember, "/contacts/": log.Contact,
    "/contacts/changes/": gear.Change, "/files/": log.ImportedFile, "/notes/": log.Note, "/sites/": log.Site,
    "/gear/": gear.Item, "/gear/arrangements/": gear.Arrangement, "/gear/kits/": gear.Kit, "/gear/coils/": gear.Coil,
    "/gear/readings/": gear.PackReading, "/gear/logs/": gear.PackLog, "/gear/sweeps/": gear.Sweep,
    "/evidence/": gear.Arrangement, "/field/outings/": log.Outing,
}
NAMED = {
    "antenna_pk": gear.Antenna, "arrangement_pk": gear.Arrangement, "pack_pk": gear.Pack, "contact_pk": log.Contact,
    "stint_pk": log.Stint, "plan_pk": log.SwitchingPlan, "line_pk": log.ChecklistLine, "file_pk": log.ReceptionFile,
    "remark_pk": log.Remark,
}
WORDS = {"ending": "adi", "format": "adi", "kind": "arrangement", "chapter": "first-outing", "plane": "antenna"}
ASKED = {"outings:contact_known": "?call=Q7ABC"}
SEARCHES = [  # addresses with a question in them
    *(f"/contacts/?{words}" for words in (
        "call=Q7", "call=Q7ABC", "call=7A&match=contains", "band=20m", "band=2190m", "family=cw", "mode=FT8",
        "text=fading", "text=nowhere", "qsl=sent", "qsl=owed", "pending=on", "gridless=on", "stintless=on", "marked=on",
        "conflict=on", "since=2007-01-01&until=2007-02-01", "sort=call", "sort=farthest", "sort=oldest",
        "station_call=Q0NONE",
    )),
    *(f"/performance/?by={by}" for by in dimensions.DIMENSIONS),
    "/performance/contacts/?by=band&of=20m", "/performance/contacts/?by=band&of=20m&sort=farthest",
    "/performance/contacts/?by=band&of=20m&sort=call", "/performance/stints/?by=band&of=20m",
    *(f"/evidence/?measure={measure}" for measure in comparison.MEASURES),
    "/notes/?q=three", "/outings/?show=past", "/outings/?show=past&q=Site", "/sites/?q=Site",
    "/files/export/?band=20m", "/files/export/log.adi?band=20m", "/files/export/log.adx",
    "/contacts/mend/?band=20m", "/contacts/mend/?phone=1",
]
LONGEST_S = 4  # rounds of one page; a slow one is asked for less often, at least three times


def addresses(owner):
    """(name, address) of each page with rows of the operator in it, the last outing of the log in front."""
    def newest(model):
        manager = model.objects if model is log.Outing else model._base_manager
        whose = {"operator": owner} if model is log.OutingMember else {"owner": owner}
        rows = manager.filter(**whose)
        if model is log.Outing:
            return rows.filter(window_start__year__lt=2036).order_by("-window_start").first()
        return rows.order_by("-pk").first()

    for name, arguments in ROUTES:
        if name in OPEN | FRAMES | LEFT_OUT:
            continue
        numbers = {argument: 1 if kind == "int" else "x" for argument, kind in arguments.items()}
        plain = reverse(name, kwargs={
            argument: "00000000-0000-0000-0000-000000000001" if kind == "uuid" else WORDS.get(argument, value)
            for (argument, kind), value in zip(arguments.items(), numbers.values(), strict=True)
        })
        about = max((start for start in ABOUT if plain.startswith(start)), key=len, default=None)
        filled = {}
        for argument, kind in arguments.items():
            model = NAMED.get(argument) or (ABOUT[about] if about else None)
            row = newest(model) if model and kind in ("int", "uuid") else None
            filled[argument] = WORDS.get(argument) if row is None else row.uuid if kind == "uuid" else row.pk
        if name == "outings:hand_in_file":
            filled["number"] = 1
        if None not in filled.values():
            yield name, reverse(name, kwargs=filled) + ASKED.get(name, "")
    for address in SEARCHES:
        yield address, address


def timed_ms(task, rounds, clock):
    """Milliseconds of each round, in order."""
    found = []
    while len(found) < rounds and (len(found) < 3 or sum(found) < 1000 * LONGEST_S):
        begun = clock()
        task()
        found.append(1000 * (clock() - begun))
    return sorted(found)


def computing_s():
    """Seconds that this process computed, and the one of PostgreSQL that works for it on this machine."""
    served_s = 0
    if connection.vendor == "postgresql" and connection.connection:
        pid = connection.connection.info.backend_pid
        served_s = int(Path(f"/proc/{pid}/schedstat").read_text().split()[0]) / 1e9
    return time.process_time() + served_s


def read(answer):
    """Take the whole answer, streamed or not, and keep none of it."""
    if answer.streaming:
        for _ in answer.streaming_content:
            pass


def measured(client, path, rounds, clock):
    """(median, 95th percentile, median of its bare SQL, statements) of a page, in milliseconds; None without one."""
    sent = []

    def listen(execute, sql, params, many, context):
        if sql.startswith("SELECT"):
            sent.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(listen):
        answer = client.get(path)
        read(answer)
    if answer.status_code != 200:
        return None

    def bare():
        with connection.cursor() as cursor:
            for sql, params in sent:
                cursor.execute(sql, params)
                while cursor.fetchmany(2000):
                    pass

    took, plain = timed_ms(lambda: read(client.get(path)), rounds, clock), timed_ms(bare, rounds, clock)
    return (
        statistics.median(took), took[min(len(took) - 1, int(len(took) * 0.95))], statistics.median(plain), len(sent)
    )


def growth(names):
    """Print runs of several sizes beside each other, the slowest of the largest first."""
    runs = [json.loads(Path(name).read_text()) for name in names]
    print(f"{'':52}" + "".join(f"{run['contacts']:>26}" for run in runs))
    print(f"{'page':52}" + f"{'median    95th     SQL':>26}" * len(runs) + "   times  queries")
    for page in sorted(runs[-1]["pages"], key=lambda page: -runs[-1]["pages"][page][0]):
        found = [run["pages"].get(page) for run in runs]
        figures = "".join(f"{one[0]:10.1f}{one[1]:8.1f}{one[2]:8.1f}" if one else f"{'-':>26}" for one in found)
        steps = [b[0] / a[0] if a and b else float("nan") for a, b in itertools.pairwise(found)]
        counts = "/".join(str(one[3]) if one else "-" for one in found)
        print(f"{page:52}{figures}   {' '.join(f'{step:.1f}' for step in steps)}  {counts}")


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--contacts", type=int, default=1_000_000)
    options.add_argument("--operators", type=int, default=200)
    options.add_argument("--rounds", type=int, default=12)
    options.add_argument("--only", default="", help="a regular expression that names of pages match somewhere")
    options.add_argument("--computing", action="store_true")
    options.add_argument("--into", help="a file for --growth")
    options.add_argument("--growth", nargs="+", metavar="FILE")
    chosen = options.parse_args()
    if chosen.growth:
        return growth(chosen.growth)
    logging.disable(logging.CRITICAL)
    owner = big_club.a_club(chosen.contacts, chosen.operators)
    client = Client(headers={"host": "localhost"}, raise_request_exception=False)
    client.force_login(owner)
    print(f"{chosen.contacts} contacts of {chosen.operators} operators on {connection.vendor}; milliseconds")
    print(f"{'page':52} {'median':>8} {'95th':>8} {'bare SQL':>9} {'times':>6} {'queries':>7}")
    pages = {}
    for name, path in addresses(owner):
        if not re.search(chosen.only, name):
            continue
        found = measured(client, path, chosen.rounds, computing_s if chosen.computing else time.perf_counter)
        if found is None:
            continue
        pages[name] = found
        median, high, sql, statements = found
        times = median / sql if sql else 0
        print(f"{name:52} {median:8.1f} {high:8.1f} {sql:9.1f} {times:6.1f} {statements:7}", flush=True)
    if chosen.into:
        Path(chosen.into).write_text(json.dumps({"contacts": chosen.contacts, "pages": pages}))


if __name__ == "__main__":
    main()
