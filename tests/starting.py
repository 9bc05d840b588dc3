"""Starting the program for a test, as a person does it: a real process, in a data folder of its own."""

import contextlib
import itertools
import os
import secrets
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import quote, urlencode

import pytest
from django.conf import settings
from django.db import connection

from stationlog import launch

PROJECT = Path(launch.ROOT)


def environment(**changes):
    """The variables of this process without our own settings, and with the given ones."""
    ours = ("STATIONLOG_", "DATABASE_URL", "DJANGO_", "PYTEST_", "PIP_", "PLAYWRIGHT_")
    return {**{k: v for k, v in os.environ.items() if not k.startswith(ours)}, **changes}


def environment_beside(folder):
    """The variables for a real process beside a test: with its database on PostgreSQL, else with a copy in a folder."""
    found = environment(STATIONLOG_DATA=str(folder), STATIONLOG_SECRET_KEY=settings.SECRET_KEY)
    if connection.vendor == "sqlite":
        with contextlib.closing(sqlite3.connect(folder / "stationlog.sqlite3")) as copy:
            connection.ensure_connection()
            connection.connection.backup(copy)
    else:
        one = connection.settings_dict
        who = f"{quote(one['USER'])}:{quote(one['PASSWORD'])}@" if one["PASSWORD"] else f"{quote(one['USER'])}@"
        where = f"{one['HOST']}:{one['PORT']}".rstrip(":")
        options = {key: value for key, value in one["OPTIONS"].items() if isinstance(value, str)}
        found["DATABASE_URL"] = f"postgresql://{who}{where}/{one['NAME']}?{urlencode(options, quote_via=quote)}"
    return found


PORTS, WORKERS = range(10_000, 32_000), 12  # below those that systems give to whoever asks for any
TURNS = itertools.count(secrets.randbelow(len(PORTS)))  # other runs on this machine are elsewhere


def unused_port():
    """A port that nothing listens on, and that nobody else is given until it is used."""
    return unused_ports(1)


def unused_ports(count):
    """The first of several ports in a row, two at most, that nothing listens on."""
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % WORKERS
    pairs = PORTS[::2][worker::WORKERS]
    while True:
        first = pairs[next(TURNS) % len(pairs)]
        with contextlib.ExitStack() as stack, contextlib.suppress(OSError):
            for number in range(first, first + count):
                stack.enter_context(socket.socket()).bind((launch.ADDRESS, number))
            return first


@contextlib.contextmanager
def started(data, *options, signal_to_end=signal.SIGINT, program=("manage.py",)):
    """A program that was started and is ready, as (port, what it said); it is ended by a signal to all of it."""
    port = unused_port()
    process = subprocess.Popen(
        [sys.executable, *program, "start", "--port", str(port), *options], cwd=PROJECT, text=True,
        env=environment(STATIONLOG_DATA=str(data)), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, start_new_session=True,
    )
    try:
        said = []
        for line in process.stdout:
            said.append(line)
            if "Stop with Ctrl-C" in line:
                break
        else:
            pytest.fail("it did not get ready: " + "".join(said))
        yield port, "".join(said)
        os.killpg(process.pid, signal_to_end)
        rest = process.stdout.read()
        assert process.wait(timeout=120) == 0, rest
        assert "Traceback" not in rest, rest
        assert "stationlog has stopped." in rest
        assert ends(process.pid)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            time.sleep(0.1)


def ends(group):
    """Whether every process of the group is gone, if need be after a moment."""
    for _ in range(600):  # a machine may be busy
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False
