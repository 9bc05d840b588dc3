"""A busy club outing on real servers: how long a hand-in takes, and whether anything is lost or doubled.

    python -m tests.benchmarks.club_outing --phones 200 --seconds 600

Every phone types 50 contacts a minute and hands in about every 15 s through nginx to two processes on PostgreSQL; a
tenth of the answers are dropped. A third of the way one process is killed and started again, at two thirds
PostgreSQL is restarted in the middle of its work. Root on Debian only, as README's recipe.
"""

import argparse
import statistics
import tempfile
import time
from collections import Counter

from tests import club as clubs


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--phones", type=int, default=200)
    options.add_argument("--seconds", type=int, default=600)
    options.add_argument("--every", type=float, default=15.0)
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        club = clubs.Club(folder)

        def kill():
            club.kill_program(0)
            time.sleep(2)
            club.start_program(0)

        third = chosen.seconds / 3
        try:
            crowd = clubs.busy_outing(
                club, chosen.phones, chosen.seconds, [(third, kill), (2 * third, club.restart_database)],
                every_s=chosen.every,
            )
            kept = club.kept()
        finally:
            club.stop()
    typed = [subject for phone in crowd for subject in phone.typed]
    times = sorted(one for phone in crowd for one in phone.times_s)
    errors = sum((Counter(phone.errors) for phone in crowd), Counter())
    print(f"{chosen.phones} phones, {chosen.seconds} s: {len(typed)} contacts in {len(times)} hand-ins")
    print(f"a hand-in: median {statistics.median(times):.3f} s, 95th percentile {times[int(len(times) * 0.95)]:.3f} s, "
          f"longest {times[-1]:.2f} s")
    print(f"failed and tried again: {dict(errors) or 'none'}")
    print(f"lost {len(set(typed) - set(kept['uuids']))}, not typed {len(set(kept['uuids']) - set(typed))}, "
          f"doubled {kept['doubled']}, changed {kept['revised']}")


if __name__ == "__main__":
    main()
