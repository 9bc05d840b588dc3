"""List pages in logs of 1,000, 10,000 and 100,000 contacts, in one run: their time must not grow with the log.

    python tests/benchmarks/list_pages.py

The first page and searches; each against the shortest log. Showed, on two cores that others kept busy, for 100,000
against 1,000 contacts: contacts 1.3 times, of a band 1.4, farthest first 1.3, outings 1.3, behind a figure 1.3; stints
behind a figure 1.3 against 10,000 contacts (1,000 do not fill a page).
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import big_log
from django.db import connection
from django.test import Client

LOGS = (1_000, 10_000, 100_000)
PAGES = {
    "contacts": "/contacts/",
    "contacts, call begins with Q7": "/contacts/?call=Q7",
    "contacts of a band": "/contacts/?band=20m",
    "contacts, farthest first": "/contacts/?sort=farthest",
    "outings": "/outings/",
    "contacts behind a figure": "/performance/contacts/?by=band&of=20m",
    "stints behind a figure": "/performance/stints/?by=band&of=20m",
}


def main():
    big_log.empty_database()
    clients = {}
    for number, contacts in enumerate(LOGS):
        owner = big_log.a_log(contacts, f"Q{number}LOG", seed=number)
        clients[contacts] = Client(headers={"host": "localhost"})
        clients[contacts].force_login(owner)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    print(f"milliseconds on {connection.vendor}; in brackets against the log of {LOGS[0]} contacts")
    for name, address in PAGES.items():
        statuses = {contacts: client.get(address).status_code for contacts, client in clients.items()}
        assert set(statuses.values()) == {200}, (address, statuses)
        tasks = {
            contacts: lambda client=client, address=address: client.get(address)
            for contacts, client in clients.items()
        }
        shortest = big_log.shortest_ms(tasks, runs=7)
        figures = "   ".join(
            f"{contacts:>6}: {ms:6.1f} ({ms / shortest[LOGS[0]]:4.1f})" for contacts, ms in shortest.items()
        )
        print(f"{name:30} {figures}")


if __name__ == "__main__":
    main()
