"""A busy club outing on real servers: how long a hand-in takes, and whether anything is lost or doubled.

    python -m tests.benchmarks.club_outing --phones 200 --seconds 600

Every phone types 50 contacts a minute and hands in about every 15 s through nginx to two processes on PostgreSQL; a
tenth of the requests is cut off before the answer. A third of the way one process is killed and started again, at two
thirds PostgreSQL is stopped at once and started. Phones, servers and database share this computer. Root on Debian only,
as README's recipe.
"""

import argparse
import os
import tempfile
import time
from collections import Counter

from tests import club as clubs

AFTER_S = 20  # so long after a trouble ended, what phones see is still counted as its doing
TICK = os.sysconf("SC_CLK_TCK")


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--phones", type=int, default=200)
    options.add_argument("--seconds", type=int, default=600)
    options.add_argument("--every", type=float, default=15.0)
    options.add_argument("--a-minute", type=float, default=50.0)
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        club = clubs.Club(folder)

        def kill():
            club.kill_program(0)
            time.sleep(2)
            club.start_program(0)

        third = chosen.seconds / 3
        try:
            crowd, troubles = clubs.busy_outing(
                club, chosen.phones, chosen.seconds,
                [(third, "a process killed", kill), (2 * third, "PostgreSQL restarted", club.restart_database)],
                every_s=chosen.every, a_minute=chosen.a_minute,
            )
            spent = processor_seconds(club)
            kept = club.kept()
        finally:
            club.stop()
    typed = [subject for phone in crowd for subject in phone.typed]
    tries = [one for phone in crowd for one in phone.tries]
    print(f"{chosen.phones} phones, {chosen.seconds} s: {len(typed)} contacts typed, "
          f"{len(typed) / chosen.seconds:.0f} a second; {sum(phone.dropped for phone in crowd)} requests cut off")
    print(f"{'':24}{'hand-ins':>9}{'median':>9}{'95th':>9}{'longest':>9}  failed and tried again")
    for what, some in parts(tries, troubles):
        line(what, some)
    print("processor time: " + ", ".join(f"{what} {seconds:.0f} s" for what, seconds in spent.items()))
    found = set(kept["uuids"])
    print(f"kept {len(found)}, lost {len(set(typed) - found)}, not typed {len(found - set(typed))}, "
          f"doubled {kept['doubled']}, changed {kept['revised']}, "
          f"still waiting {sum(len(phone.waiting) for phone in crowd)}")


def parts(tries, troubles):
    """All hand-ins, those that began around each trouble, and those in quiet times."""
    yield "all", tries
    near = set()
    for trouble in troubles:
        some = [one for one in tries
                if one.began_s + one.took_s >= trouble.began_s and one.began_s <= trouble.ended_s + AFTER_S]
        near.update(map(id, some))
        yield f"{trouble.what} ({trouble.ended_s - trouble.began_s:.0f} s)", some
    yield "else", [one for one in tries if id(one) not in near]


def line(what, tries):
    times = sorted(one.took_s for one in tries if not one.error)
    errors = Counter(one.error for one in tries if one.error)
    said = ", ".join(f"{name} {count}" for name, count in errors.most_common()) or "none"
    if times:
        half, most = times[len(times) // 2], times[int(len(times) * 0.95)]
        print(f"{what:<24}{len(times):>9}{half:>8.3f}s{most:>8.3f}s{times[-1]:>8.2f}s  {said}")
    else:
        print(f"{what:<24}{0:>9}{'':27}  {said}")


def processor_seconds(club):
    """What each part has used of the processor since it began, children that are gone included."""
    spent = {"phones": sum(os.times()[:2]), "program": 0.0, "nginx": 0.0, "PostgreSQL": 0.0}
    groups = {os.getpgid(process.pid) for process in club.programs}
    postmaster = int((club.cluster / "postmaster.pid").read_text().split()[0])
    for name in filter(str.isdigit, os.listdir("/proc")):
        try:
            with open(f"/proc/{name}/stat") as file:
                fields = file.read().rpartition(")")[2].split()
        except OSError:
            continue
        parent, group, used = int(fields[1]), int(fields[2]), sum(map(int, fields[11:15])) / TICK
        if group in groups:
            spent["program"] += used
        elif club.nginx.pid in (int(name), parent):
            spent["nginx"] += used
        elif postmaster in (int(name), parent):
            spent["PostgreSQL"] += used
    return spent


if __name__ == "__main__":
    main()
