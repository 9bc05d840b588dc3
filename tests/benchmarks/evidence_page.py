"""The page of evidence over 125,000 contacts and 5,000 stints, and the comparison of 50 stints, in one run.

    python tests/benchmarks/evidence_page.py [contacts]

Goals: the page under 1 s, also when nothing is remembered; 50 stints under 200 ms once the libraries are imported.
As long as the log is as it was, the fit is remembered and the page takes what reading the stints takes. DATABASE_URL
chooses PostgreSQL. Showed, on two quiet cores, SQLite, at first and again: rates 0.2 to 0.5 s and 0.2 to 0.35 s,
distances 0.7 and 0.5 s, upper tenth 0.65 and 0.5 s, share beyond 0.55 and 0.45 s, reports 0.95 and 0.9 s, stories of
gear 0.9 to 1.4 s and 0.6 to 0.85 s; 50 stints 21 ms; 12 queries.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_log
from django.core.cache import cache
from django.db import connection, reset_queries
from django.test import Client
from django.urls import reverse

from outings.evidence.comparison import compare
from outings.models import Stint
from outings.queries import comparison, observing, stories


def fifty(owner):
    """The observations of the newest 50 stints."""
    newest = list(Stint.objects.of(owner).order_by("-started_at").values_list("pk", flat=True)[:50])
    return observing.observed(owner, Stint.objects.filter(pk__in=newest)).observations()


def forgotten(task):
    """The shortest of three runs with nothing remembered, in milliseconds: by the clock, and of the processor."""
    found = []
    for _ in range(3):
        cache.clear()
        begun, used = time.perf_counter(), time.process_time()
        task()
        found.append((1000 * (time.perf_counter() - begun), 1000 * (time.process_time() - used)))
    return tuple(min(one) for one in zip(*found, strict=True))


def main(contacts=125_000):
    big_log.empty_database()
    owner = big_log.a_log(contacts)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    client = Client(headers={"host": "localhost"})
    client.force_login(owner)
    client.get("/evidence/")  # imports and templates
    print(f"{contacts} contacts, {Stint.objects.of(owner).count()} stints on {connection.vendor}, milliseconds")
    few = fifty(owner)
    comparing = {"few": lambda: compare(few)}
    print(f"comparison of {len({one.stint for one in few})} stints {big_log.shortest_ms(comparing)['few']:7.0f}")
    reading = {"read": lambda: observing.observed(owner, Stint.objects.of(owner))}
    print(f"reading the stints      {big_log.shortest_ms(reading, 3)['read']:7.0f}")
    pages = {f"by {by}": f"/evidence/?by={by}" for by in observing.WAYS}
    pages |= {f"by {measure}": f"/evidence/?measure={measure}" for measure in comparison.MEASURES if measure != "rate"}
    pages |= {f"story, {kind}": reverse("outings:story", args=(kind, form.model.objects.of(owner).first().pk))
              for kind, form in stories.KINDS.items()}
    for name, address in pages.items():
        def page(address=address):
            answer = client.get(address)
            assert answer.status_code == 200

        (at_first, cpu), again = forgotten(page), big_log.shortest_ms({"again": page}, 3)["again"]
        print(f"page {name:18} at first {at_first:7.0f} ({cpu:.0f} CPU)   again {again:7.0f}")
    connection.force_debug_cursor = True
    reset_queries()
    client.get("/evidence/")
    print(f"queries of the page     {len(connection.queries):7}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 125_000)
