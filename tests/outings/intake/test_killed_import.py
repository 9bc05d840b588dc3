"""Imports that are killed at any moment leave nothing or everything, and the same import again completes.

A few kills by default; STATIONLOG_IMPORT_KILLS=100 makes a long run of it, STATIONLOG_IMPORT_SEED other moments.
"""

import contextlib
import json
import os
import random
import sqlite3
import subprocess
import sys
import time

import pytest
from django.db import connection

from tests import making
from tests.benchmarks.import_adif import log_of
from tests.starting import PROJECT, environment_beside

pytestmark = pytest.mark.django_db(transaction=True)

KILLS = int(os.environ.get("STATIONLOG_IMPORT_KILLS", "4"))
SEED = int(os.environ.get("STATIONLOG_IMPORT_SEED", "1"))
PATIENCE_S = 300  # a machine may be busy with other tests
CONTACTS = 6_000  # so many that their rows are spooled to a file
ROWS = ("outings_contact", "outings_outing", "outings_stint", "outings_site")


class Importer:
    """Real processes that import a file into the log of one operator after the other."""

    def __init__(self, folder):
        self.environment, self.file = environment_beside(folder), folder / "log.adi"
        self.file.write_bytes(log_of(CONTACTS))
        self.database = folder / "stationlog.sqlite3"

    def asked(self, question, *values):
        """The rows that answer a question to the database of the processes."""
        if connection.vendor == "sqlite":
            with contextlib.closing(sqlite3.connect(self.database, timeout=30)) as database:
                return database.execute(question, values).fetchall()
        with connection.cursor() as cursor:
            cursor.execute(question.replace("?", "%s"), values)
            return cursor.fetchall()

    def started(self, operator):
        """A process that has begun to import."""
        process = subprocess.Popen(
            [sys.executable, "manage.py", "import_adif", str(self.file), "--operator", operator.call_sign, "--json"],
            env=self.environment, cwd=PROJECT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )
        question = "SELECT COUNT(*) FROM outings_importedfile WHERE owner_id = ? AND status NOT IN ('reading', 'read')"
        before, end = self.asked(question, operator.pk), time.monotonic() + PATIENCE_S
        while self.asked(question, operator.pk) == before and process.poll() is None:
            assert time.monotonic() < end, "the import does not begin"
            time.sleep(0.005)
        return process

    def completed(self, operator):
        """(what an import told, how long it worked)."""
        process = self.started(operator)
        begun = time.monotonic()
        question = "SELECT COUNT(*) FROM outings_importedfile WHERE owner_id = ? AND status = 'importing'"
        while self.asked(question, operator.pk) != [(0,)] and process.poll() is None:
            time.sleep(0.005)
        worked_s = time.monotonic() - begun
        told, complaint = process.communicate(timeout=PATIENCE_S)
        assert process.returncode == 0, complaint
        return json.loads(told), worked_s

    def killed_after(self, operator, seconds):
        before = self.connections()
        process = self.started(operator)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(seconds)
        process.kill()
        process.communicate()
        end = time.monotonic() + PATIENCE_S
        while self.connections() - before:  # the database may take a moment to notice
            assert time.monotonic() < end, "the connection of the killed process stays"
            time.sleep(0.01)

    def connections(self):
        """The processes of PostgreSQL that serve this database; those of other tests may be among them."""
        if connection.vendor == "sqlite":
            return set()
        return {*self.asked("SELECT pid FROM pg_stat_activity WHERE datname = current_database()")}

    def found(self, operator):
        """How many rows of each kind an operator has."""
        return [self.asked(f"SELECT COUNT(*) FROM {table} WHERE owner_id = ?", operator.pk)[0][0] for table in ROWS]

    def is_sound(self):
        if connection.vendor == "postgresql":
            return True
        return self.asked("PRAGMA integrity_check") == [("ok",)] and not self.asked("PRAGMA foreign_key_check")


def test_a_killed_import_leaves_nothing_or_everything_and_completes_when_repeated(tmp_path):
    chance = random.Random(SEED)
    whole, *operators = [making.an_operator(f"Q{number}KILL") for number in range(KILLS + 1)]
    importer = Importer(tmp_path)
    told, lasts_s = importer.completed(whole)
    everything, nothing = importer.found(whole), [0] * len(ROWS)
    assert told["new"] == everything[0] == CONTACTS
    outcomes = []
    for operator in operators:
        importer.killed_after(operator, chance.uniform(0, lasts_s))
        left = importer.found(operator)
        assert left in (nothing, everything)
        status = "SELECT status FROM outings_importedfile WHERE owner_id = ?"
        assert importer.asked(status, operator.pk) == [("imported" if left == everything else "importing",)]
        assert importer.is_sound()
        again, _ = importer.completed(operator)
        assert importer.found(operator) == everything
        assert again["known" if left == everything else "new"] == CONTACTS
        outcomes.append(left == everything)
    print(f"{KILLS} kills: {outcomes.count(False)} left nothing, {outcomes.count(True)} everything")
