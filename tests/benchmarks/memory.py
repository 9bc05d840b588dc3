"""Memory of imports and exports: the most that a process holds for itself, for logs of several sizes.

    python -m tests.benchmarks.memory 10000 100000 1000000

A log of each size is imported into an empty installation (a long one in files of 200,000, since larger ones are not
taken; told of the last), exported, backed up, written out whole in open formats, and that taken into another empty
installation; each is a process of its own. Pages of a file that a process looks into are the system's and do not count.
DATABASE_URL names a PostgreSQL database that may be emptied to do the same there.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.import_adif import log_of

ROOT = Path(__file__).parents[2]
FILE = 200_000  # contacts
NEW_OPERATOR = (
    "from django.contrib.auth import get_user_model as model; model().objects.create_user('Q1ABC', home_grid='JO62qm')"
)


def run(name, *arguments, data):
    """(most megabytes held, seconds, exit code) of a management command in a process of its own."""
    begun, most = time.perf_counter(), 0
    environment = os.environ | {"STATIONLOG_DATA": str(data), "DJANGO_SETTINGS_MODULE": "stationlog.settings"}
    with subprocess.Popen(
        [sys.executable, "-m", "django", name, *map(str, arguments)], cwd=ROOT, env=environment,
        stdout=subprocess.DEVNULL,
    ) as process:
        while process.poll() is None:
            most = max(most, held_mb(process.pid))
            time.sleep(0.02)
    if process.returncode:
        raise SystemExit(f"{name} failed")
    return most, time.perf_counter() - begun


def held_mb(pid):
    """What a process holds for itself now."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0
    return sum(int(line.split()[1]) for line in lines if line.startswith("RssAnon")) / 1024


def emptied(data):
    """An installation without accounts."""
    data.mkdir()
    run("migrate", data=data)
    if "DATABASE_URL" in os.environ:
        run("flush", "--no-input", data=data)
    return data


def main():
    options = argparse.ArgumentParser()
    options.add_argument("contacts", type=int, nargs="+")
    chosen = options.parse_args()
    print(f"{'':14}" + "".join(f"{number:>24}" for number in chosen.contacts) + "   contacts: MB (seconds)")
    found = {}
    for number in chosen.contacts:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            log, whole = folder / "log.adi", folder / "whole.zip"
            data = emptied(folder / "one")
            run("shell", "--command", NEW_OPERATOR, data=data)
            mine = ("--operator", "Q1ABC")
            for part in range(0, number, FILE):
                log.write_bytes(log_of(min(FILE, number - part), seed=part, year=1940 + 10 * (part // FILE)))
                imported = run("import_adif", log, *mine, data=data)
            found.setdefault("import_adif", []).append(imported)
            for command, arguments in (
                ("export_adif", mine), ("backup", ("--to", folder / "backup.zip")), ("export_all", (whole,)),
            ):
                found.setdefault(command, []).append(run(command, *arguments, data=data))
            found.setdefault("import_all", []).append(run("import_all", whole, data=emptied(folder / "two")))
    for command, figures in found.items():
        print(f"{command:14}" + "".join(f"{most:14.0f} ({seconds:6.1f})" for most, seconds in figures))


if __name__ == "__main__":
    main()
