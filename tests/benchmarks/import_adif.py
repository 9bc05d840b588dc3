"""Import of 100,000 contacts against SQLite's bare insert of the same rows, and adif-io merely parsing the file.

    .venv/bin/python -m tests.benchmarks.import_adif [NUMBER] [--profile]

Parsing, validation, matching, stints and distances are counted in. All three run in one process, one after the other,
several rounds; the smallest time of each counts. Goals: at most 6 times the bare insert, and no slower than adif-io.

Showed, on two quiet cores, in three runs: 0.91 to 0.99 times adif-io, 1.3 to 1.4 times the bare insert, 2.2 s elapsed.
Of the import half is reading, matching and preparing, a third the insert with its indexes, a twentieth each the stints
and the commit. A process holds 118 MB at most for 25,000 contacts, 145 MB for 50,000, 187 MB for 100,000, 200 MB for
200,000; up to 64 MB of that are SQLite's pages.
"""

import argparse
import cProfile
import datetime
import os
import pstats
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

ROUNDS = 3
SHARES = (4, 2, 1)  # files of a quarter, a half and all of the contacts show how memory grows


def log_of(number, seed=1, year=2015):
    """An ADI file of so many contacts: outings of 60, 16 fields a contact, as programs for the field write them."""
    noise, at = random.Random(seed), datetime.datetime(year, 1, 1, 12)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    calls = [f"Q{noise.randrange(10)}{''.join(noise.sample(letters, 3))}" for _ in range(30_000)]
    setups = [
        ("20m", 14.2, "SSB"), ("40m", 7.1, "SSB"), ("20m", 14.0, "CW"), ("30m", 10.1, "CW"), ("20m", 14.074, "FT8"),
    ]
    pieces = ["made for a benchmark <ADIF_VER:5>3.1.7 <EOH>\n"]
    for count in range(number):
        if count % 60 == 0:
            at = at.replace(hour=12, minute=0, second=0) + datetime.timedelta(days=1)
        if count % 30 == 0:
            band, mhz, mode = noise.choice(setups)
            report = "59" if mode == "SSB" else "599"
        at += datetime.timedelta(seconds=noise.randrange(20, 160))
        fields = {
            "CALL": noise.choice(calls), "QSO_DATE": f"{at:%Y%m%d}", "TIME_ON": f"{at:%H%M%S}", "BAND": band,
            "FREQ": f"{mhz + noise.randrange(70) / 1000:.3f}", "MODE": mode, "RST_SENT": report, "RST_RCVD": report,
            "STATION_CALLSIGN": "Q1ABC/P", "OPERATOR": "Q1ABC", "MY_GRIDSQUARE": f"JO{count // 6000 % 10}2QM",
            "GRIDSQUARE": f"{noise.choice('IJK')}{noise.choice('NO')}{noise.randrange(100):02d}", "TX_PWR": "10",
            "MY_SIG": "QPARK", "MY_SIG_INFO": f"QQ-{count // 6000:04d}",
            "NAME": noise.choice(("Robin", "Kim", "Sam", "Noor")),
        }
        pieces.append(" ".join([f"<{name}:{len(text)}>{text}" for name, text in fields.items()]) + " <EOR>\n")
    return "".join(pieces).encode()


def timed(work):
    """(seconds, seconds of this process's own computing) of a piece of work."""
    wall, own = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - own


def bare_insert(database, target):
    """Insert the contacts of a database into a fresh one with the same table and indexes; only the insert is timed."""
    with closing(sqlite3.connect(database)) as source, closing(sqlite3.connect(target, isolation_level=None)) as into:
        schema = source.execute("SELECT sql FROM sqlite_master WHERE tbl_name = 'outings_contact' AND sql IS NOT NULL")
        into.execute("PRAGMA journal_mode=WAL")
        into.execute("PRAGMA synchronous=NORMAL")
        for (statement,) in schema.fetchall():
            into.execute(statement)
        rows = source.execute("SELECT * FROM outings_contact").fetchall()
        marks = ", ".join("?" * len(rows[0]))

        def insert():
            into.execute("BEGIN IMMEDIATE")
            into.executemany(f"INSERT INTO outings_contact VALUES ({marks})", rows)
            into.execute("COMMIT")

        return timed(insert)


IMPORT = """
import sys, django
from django.core.management import call_command
django.setup()
call_command("import_adif", sys.argv[1], operator=sys.argv[2], json=True)
print([line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")][0])
"""


def peak_mb(path):
    """The most memory that a process holds at once which imports a file; None where the system does not tell."""
    if not Path("/proc/self/status").exists():
        return None
    command = [sys.executable, "-c", IMPORT, str(path), path.stem.upper()]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return int(said.split()[-1]) / 1024


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("number", type=int, nargs="?", default=100_000)
    parser.add_argument("--profile", action="store_true", help="show where the time of one import goes")
    arguments = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="stationlog-benchmark-"))
    try:
        compare(folder, arguments)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def compare(folder, arguments):
    os.environ.update(STATIONLOG_DATA=str(folder), DJANGO_SETTINGS_MODULE="stationlog.settings")
    os.environ.pop("DATABASE_URL", None)
    import adif_io
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    from outings.intake import importing, uploads
    from outings.models import Contact, ImportedFile
    from stationlog.models import Operator

    peaks = []
    for share in SHARES:
        Operator.objects.create_user(f"Q{share}MEM", "three loose guy lines", name="Robin")
        part = folder / f"q{share}mem.adi"
        part.write_bytes(log_of(arguments.number // share))
        peaks.append((arguments.number // share, peak_mb(part)))
    Contact.everything.all()._raw_delete("default")
    path = folder / "log.adi"
    path.write_bytes(log_of(arguments.number))
    text = path.read_text(encoding="ascii")
    times = {"import": [], "bare insert": [], "adif-io": []}
    for round_ in range(ROUNDS):
        operator = Operator.objects.create_user(f"Q{round_}ABC", "three loose guy lines", name="Robin")
        imported = uploads.stage_path(operator, path)
        profile = cProfile.Profile()
        if arguments.profile:
            profile.enable()
        times["import"].append(timed(lambda imported=imported: importing.carry_out(imported)))
        profile.disable()
        if arguments.profile:
            pstats.Stats(profile).sort_stats("tottime").print_stats(25)
        if imported.status != ImportedFile.Status.IMPORTED:
            sys.exit(imported.message)
        target = folder / "bare.sqlite3"
        times["bare insert"].append(bare_insert(folder / "stationlog.sqlite3", target))
        times["adif-io"].append(timed(lambda: adif_io.read_from_string(text)))
        count = Contact.objects.of(operator).count()
        Contact.everything.all()._raw_delete("default")
        for leftover in folder.glob("bare.sqlite3*"):
            leftover.unlink()
    print(f"{count} contacts, {path.stat().st_size / 2**20:.1f} MB; smallest of {ROUNDS} rounds: elapsed, computing")
    best = {name: (min(wall for wall, _ in found), min(own for _, own in found)) for name, found in times.items()}
    for name, (wall, own) in best.items():
        print(f"{name:12} {wall:6.2f} s {own:6.2f} s")
    for name, goal in (("bare insert", 6), ("adif-io", 1)):
        wall, own = (best["import"][n] / best[name][n] for n in (0, 1))
        print(f"import / {name}: {wall:.2f} elapsed, {own:.2f} computing (goal: at most {goal})")
    print("peak memory of a process:", ", ".join(f"{mb:.0f} MB for {number}" for number, mb in peaks if mb))


if __name__ == "__main__":
    main()
