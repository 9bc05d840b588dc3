"""The performance page at 100,000 contacts against the database's bare aggregate of the same question, in one run.

    python tests/benchmarks/performance_page.py [contacts]

Goal: at most 3 times the bare aggregate and under 300 ms. Two aggregates are shown: counts, hours, mean and farthest
only, and the same with the medians that the page has too; the first is the stricter. DATABASE_URL chooses PostgreSQL.
Showed, on two quiet cores: 115 to 184 ms a page, 0.4 to 0.6 times the aggregate with medians, 2.1 to 3.4 times the one
with counts only.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_log
from django.db import connection
from django.test import Client

from outings.models import Stint
from outings.queries import performance

COUNTS = """
SELECT s.arrangement_id, COUNT(DISTINCT s.id), COUNT(c.id), COUNT(c.distance_km), MAX(c.distance_km),
    AVG(c.distance_km), AVG(c.bearing_deg), MAX(c.distance_km / s.power_w)
FROM outings_stint s
LEFT JOIN outings_contact c
    ON c.stint_id = s.id AND c.owner_id = s.owner_id AND c.deleted_at IS NULL AND NOT c.pending
WHERE s.owner_id = %s AND s.deleted_at IS NULL GROUP BY s.arrangement_id
"""
HOURS = """
SELECT arrangement_id, SUM(on_air_s) FROM outings_stint WHERE owner_id = %s AND deleted_at IS NULL
GROUP BY arrangement_id
"""
MEDIANS = """
SELECT arrangement_id, distance_km FROM (
    SELECT s.arrangement_id, c.distance_km,
        ROW_NUMBER() OVER (PARTITION BY s.arrangement_id ORDER BY c.distance_km) AS place,
        COUNT(*) OVER (PARTITION BY s.arrangement_id) AS many
    FROM outings_stint s JOIN outings_contact c
        ON c.stint_id = s.id AND c.owner_id = s.owner_id AND c.deleted_at IS NULL AND NOT c.pending
    WHERE s.owner_id = %s AND s.deleted_at IS NULL AND c.distance_km IS NOT NULL
) ranked WHERE place IN ((many + 1) / 2, many * 9 / 10)
"""


def asked(*questions, owner):
    with connection.cursor() as cursor:
        for question in questions:
            cursor.execute(question, [owner.pk])
            cursor.fetchall()


def main(contacts=100_000):
    big_log.empty_database()
    owner = big_log.a_log(contacts)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    client = Client(headers={"host": "localhost"})
    client.force_login(owner)
    client.get("/performance/")  # imports and templates
    tasks = {
        "bare": lambda: asked(COUNTS, HOURS, owner=owner),
        "bare with medians": lambda: asked(COUNTS, HOURS, MEDIANS, owner=owner),
        "figures": lambda: performance.performance(owner, Stint.objects.of(owner), "arrangement"),
    }
    tasks |= {by: lambda by=by: client.get(f"/performance/?by={by}") for by in performance.DIMENSIONS}
    shortest = big_log.shortest_ms(tasks)
    print(f"{contacts} contacts on {connection.vendor}, milliseconds, times the bare aggregate")
    print(f"bare aggregate: counts, hours, means, farthest   {shortest['bare']:7.1f}")
    print(f"bare aggregate: the same with the medians        {shortest['bare with medians']:7.1f}")
    print(f"figures by arrangement, without the page         {shortest['figures']:7.1f}")
    for by in performance.DIMENSIONS:
        once, twice = shortest[by] / shortest["bare"], shortest[by] / shortest["bare with medians"]
        print(f"page by {by:12} {shortest[by]:7.1f}   {once:4.1f} x counts   {twice:4.1f} x with medians")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
