"""Every page and export over a database of a million contacts: median and 95th percentile, against its own bare SQL.

    python -m tests.benchmarks.every_page --contacts 1000000 --operators 200

One operator has a tenth of the contacts, the others share the rest; 50 contacts a stint. Each page is asked for as that
operator, warm; then the statements that it had sent are sent again by themselves: the bare SQL of its question.
DATABASE_URL names an empty PostgreSQL database to do the same there.
"""

import argparse
import logging
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_log
from django.apps import apps
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.stationlog.test_access import FRAMES, OPEN, ROUTES

LEFT_OUT = {  # these start work, or hand out what others measure
    "outings:field_worker", "outings:field_manifest", "phone_certificate", "outings:outing_restore",
}
ROUNDS = 12


def addresses(owner):
    """(name, address) of each page that one can ask for, with rows of the operator in it."""
    newest = {}
    for label in ("outings", "equipment", "stationlog"):
        for model in apps.get_app_config(label).get_models():
            if any(field.name == "owner" for field in model._meta.fields):
                newest[model.__name__.lower()] = model._base_manager.filter(owner=owner).order_by("-pk").first()
    for name, arguments in ROUTES:
        if name in OPEN | FRAMES | LEFT_OUT:
            continue
        candidates = [{}]
        if arguments:
            ids = [row for row in newest.values() if row is not None]
            candidates = [
                {
                    argument: row.pk if kind == "int" else getattr(row, "uuid", None) if kind == "uuid" else "adi"
                    for argument, kind in arguments.items()
                }
                for row in ids
            ]
        for filled in candidates:
            if None not in filled.values():
                yield name, filled


def timed_ms(task, rounds):
    found = []
    for _ in range(rounds):
        begun = time.perf_counter()
        task()
        found.append(1000 * (time.perf_counter() - begun))
    return sorted(found)


def read(answer):
    """The whole answer, streamed or not."""
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--contacts", type=int, default=1_000_000)
    options.add_argument("--operators", type=int, default=200)
    options.add_argument("--rounds", type=int, default=ROUNDS)
    chosen = options.parse_args()
    logging.disable(logging.CRITICAL)
    big_log.empty_database()
    big_log.CONTACTS_A_STINT = 50
    begun = time.perf_counter()
    owner = big_log.a_log(chosen.contacts // 10, "Q0BIG", seed=0)
    rest = chosen.contacts - chosen.contacts // 10
    for number in range(1, chosen.operators):
        big_log.a_log(rest // (chosen.operators - 1), f"Q{number}ALL", seed=number)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    print(f"{chosen.contacts} contacts of {chosen.operators} operators on {connection.vendor}, "
          f"made in {time.perf_counter() - begun:.0f} s")
    client = Client(headers={"host": "localhost"}, raise_request_exception=False)
    client.force_login(owner)
    print(f"{'page':34} {'median':>8} {'95th':>8} {'bare SQL':>9} {'times':>6} {'queries':>7}   milliseconds")
    done = set()
    for name, filled in addresses(owner):
        if name in done:
            continue
        path = reverse(name, kwargs=filled)
        with CaptureQueriesContext(connection) as captured:
            answer = client.get(path)
            if answer.status_code != 200:
                continue
            read(answer)
            statements = [one["sql"] for one in captured.captured_queries if one["sql"].startswith("SELECT")]
        done.add(name)
        took = timed_ms(lambda path=path: read(client.get(path)), chosen.rounds)

        def bare(statements=statements):
            with connection.cursor() as cursor:
                for sql in statements:
                    cursor.execute(sql)
                    cursor.fetchall()

        try:
            sql_ms = statistics.median(timed_ms(bare, 3))
        except Exception:  # a statement as it is logged cannot always be sent again (quotes in it)
            sql_ms = float("nan")
        median, high = statistics.median(took), took[min(len(took) - 1, int(len(took) * 0.95))]
        print(f"{name:34} {median:8.1f} {high:8.1f} {sql_ms:9.1f} {median / sql_ms if sql_ms else 0:6.1f} "
              f"{len(statements):7}", flush=True)


if __name__ == "__main__":
    main()
