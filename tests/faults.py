"""Faults done to the real program: a disk that fills up or turns read-only, a clock that jumps, damaged files."""

import contextlib
import datetime
import http.client
import io
import json
import os
import random
import re
import shutil
import signal
import socket
import sqlite3
import string
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode, urlsplit

from django.db import connection
from PIL import Image

from stationlog import launch
from stationlog.backups import releases, rows
from tests import schemas, trying
from tests.making import PASSWORD
from tests.starting import PROJECT, ends, environment, unused_port

FAULTS = int(os.environ.get("STATIONLOG_FAULTS", "2"))
SEED = int(os.environ.get("STATIONLOG_FAULT_SEED", "1"))
PATIENCE_S = 180  # a machine may be busy with other tests
A_LOG = """
import json
from django.core.management import call_command
from django.db import connection
from django.test import Client
from stationlog.management.commands.start import collect_static
from tests import making
call_command("migrate", verbosity=0)
owner = making.an_operator(keeper=True)
outing = making.an_outing(owner)
making.a_stint(outing)
making.a_contact(outing)
client = Client()
client.force_login(owner)
call_command("backup")
collect_static()
names = ("journal_mode", "synchronous", "page_size", "foreign_keys")
print(json.dumps({
    "pragmas": {name: connection.connection.execute("PRAGMA " + name).fetchone()[0] for name in names},
    "session": client.cookies["sessionid"].value, "outing": outing.pk, "uuid": str(outing.uuid),
    "token": making.a_phone_token(owner),
}))
"""


class Program:
    """The program as `start` serves it and its commands run, on a data folder; what it says goes to a file elsewhere.

    `settings` are lines of Python that come after the real settings.
    """

    def __init__(self, folder, beside, *, settings="", **variables):
        self.folder, self.port, self.process = Path(folder), unused_port(), None
        self.database = self.folder / "stationlog.sqlite3"
        self.said = Path(beside) / f"said-{self.port}.txt"
        self.environment = {**environment(STATIONLOG_DATA=str(folder)), **variables}
        if settings:
            (Path(beside) / "changed_settings.py").write_text(f"from stationlog.settings import *\n{settings}\n")
            self.environment |= {"PYTHONPATH": str(beside), "DJANGO_SETTINGS_MODULE": "changed_settings"}

    def begin(self, *before):
        """Begin to serve."""
        command = [*before, sys.executable, "manage.py", "start", "--port", str(self.port)]
        with self.said.open("ab") as said:
            self.process = subprocess.Popen(
                command, env=self.environment, cwd=PROJECT, stdin=subprocess.DEVNULL, stdout=said, stderr=said,
                start_new_session=True,
            )

    def start(self, *before):
        """Serve; says whether it came up. `before` is a command that it is run by."""
        self.begin(*before)
        end = time.monotonic() + PATIENCE_S
        while not launch.answers(self.port):
            if self.process.poll() is not None:
                self.process = None
                return False
            assert time.monotonic() < end, "it does not come up"
            time.sleep(0.02)
        return True

    def run(self, *words):
        """A command of manage.py, carried out: CompletedProcess."""
        return subprocess.run(
            [sys.executable, "manage.py", *map(str, words)], env=self.environment, cwd=PROJECT, text=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=PATIENCE_S,
        )

    @contextlib.contextmanager
    def looked_into(self):
        """Inside, its database is the default one of this process: a copy of it where it is a file."""
        if "DATABASE_URL" in self.environment:
            with schemas.standing_on(urlsplit(self.environment["DATABASE_URL"]).path[1:]):
                yield
            return
        with tempfile.TemporaryDirectory() as beside:
            for path in self.folder.glob(f"{self.database.name}*"):
                shutil.copy(path, beside)
            with releases.standing_in(Path(beside) / self.database.name):
                yield

    def rows(self):
        """(how many steps its database has to go to be up to date, every row of it as written text)."""
        with self.looked_into(), rows.one_moment():
            steps, out = releases.gone(), io.StringIO()
            rows.write(out, releases.registry(steps))
            return len([step for step in releases.missing(steps) if step[0] in releases.APPS]), out.getvalue()

    def kill(self, how=signal.SIGKILL):
        """End it with all its processes, at once unless told otherwise."""
        if self.process:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, how)
            self.process.wait(PATIENCE_S)
            assert ends(self.process.pid)
            self.process = None

    def asked(self, question, *values):
        """The rows of its database that answer a question."""
        if "DATABASE_URL" in self.environment:
            with connection.cursor() as cursor:
                cursor.execute(question.replace("?", "%s"), values)
                return cursor.fetchall()
        with contextlib.closing(sqlite3.connect(self.database, timeout=30)) as database:
            return database.execute(question, values).fetchall()

    def is_sound(self):
        """Whether SQLite finds its file whole; PostgreSQL sees to that itself."""
        if "DATABASE_URL" in self.environment:
            return True
        return self.asked("PRAGMA integrity_check") == [("ok",)] and not self.asked("PRAGMA foreign_key_check")


def assert_sentence(said):
    """What a command says for good bye is for a person."""
    assert "Traceback" not in said, said
    assert re.search(r"(stationlog:|CommandError:) .+\.", said), said


def prepared(folder, **variables):
    """A data folder with an operator, an outing, a contact and a backup, ready to be served; (its facts as a dict)."""
    told = Program(folder, folder.parent, **variables).run("shell", "--verbosity", "0", "--command", A_LOG)
    assert told.returncode == 0, told.stdout
    return json.loads(told.stdout.strip().splitlines()[-1])


def copy_of(folder, target):
    """The same data folder once more."""
    return Path(shutil.copytree(folder, target, dirs_exist_ok=True))


class Visitor:
    """A browser, or a phone, that is logged in."""

    def __init__(self, program, facts):
        self.program, self.outing, self.uuid = program, facts["outing"], facts["uuid"]
        self.cookies, self.phone = {"sessionid": facts["session"]}, str(uuid.uuid4())

    def ask(self, method, path, body=None, kind="application/json"):
        """(status, text, where it leads) of an answer."""
        asked = http.client.HTTPConnection("127.0.0.1", self.program.port, timeout=PATIENCE_S)
        headers = {
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()), "Content-Type": kind,
            "X-CSRFToken": self.cookies.get("csrftoken", ""),
        }
        try:
            asked.request(method, path, body, headers)
            answer = asked.getresponse()
            for line in answer.headers.get_all("Set-Cookie", ()):
                self.cookies.update(re.findall(r"^(\w+)=([^;]*)", line))
            return answer.status, answer.read().decode(errors="replace"), answer.headers.get("Location", "")
        finally:
            asked.close()

    def greet(self):
        """Get the token that posting needs."""
        status, text, _ = self.ask("GET", "/field/hello/")
        assert status == 200, text
        return self

    def log_in(self):
        """Log in with call sign and password."""
        self.ask("GET", "/login/")
        status, text, where = self.post("/login/", username="Q1ABC", password=PASSWORD)
        assert (status, where) == (302, "/"), text

    def post(self, path, **values):
        return self.ask("POST", path, urlencode(values), "application/x-www-form-urlencoded")

    def send(self, path, name, file_name, content, **values):
        """Send a form with a file."""
        mark = uuid.uuid4().hex
        parts = [f'--{mark}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
                 for key, value in values.items()]
        parts.append(
            f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{file_name}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n".encode() + content + f"\r\n--{mark}--\r\n".encode()
        )
        return self.ask("POST", path, b"".join(parts), f"multipart/form-data; boundary={mark}")

    def entry(self, call, at="2026-05-01T13:10:00Z", **values):
        """A contact as a phone hands it in."""
        return {
            "id": str(uuid.uuid4()), "kind": "contact", "action": "put", "subject": str(uuid.uuid4()), "seq": 1,
            "base": 0, "edited_at": at, "values": {
                "outing": self.uuid, "call": call, "started_at": at, "mode": "CW", "band": "20m",
                "seconds_known": True, **values,
            },
        }

    def hand_in(self, *entries, now="2026-05-01T13:11:00Z"):
        body = json.dumps({"phone": self.phone, "now": now, "entries": entries})
        return self.ask("POST", "/field/hand-in/", body)


def call_sign(number):
    """One of 175,760 call signs."""
    number, digit = divmod(number, 10)
    letters = [string.ascii_uppercase[number // 26**place % 26] for place in (2, 1, 0)]
    return f"Q{digit}{''.join(letters)}"


SENTENCES = (503, 507)  # the statuses that stationlog/views/trouble.py knows a reason for


@dataclass
class Ledger:
    """What was answered: call signs that are in the log now, those that are not, and pictures."""

    visitor: Visitor
    number: int = 0
    kept: set = field(default_factory=set)
    refused: set = field(default_factory=set)
    pictures: int = 0
    answers: Counter = field(default_factory=Counter)
    begun: dict = field(default_factory=dict)  # {first call sign or caption: all call signs that were sent together}
    told: dict = field(default_factory=dict)  # {first call sign or caption: when it was answered that it is stored}
    waiting: list = field(default_factory=list)  # entries that a phone keeps
    lock: threading.Lock = field(default_factory=threading.Lock)  # several may use it at a time

    def calls(self, count):
        """Call signs that were not used before."""
        with self.lock:
            self.number += count
            calls = [call_sign(number) for number in range(self.number - count, self.number)]
            self.begun[calls[0]] = calls
        return calls

    def note(self, what, status, calls, text):
        """Book an answer; anything but success or a known sentence is a failure of the program."""
        if status in (200, 302) and calls:
            self.told[calls[0]] = time.time()
        took = status in (200, 302)
        assert took or status in SENTENCES, (what, status, self.visitor.program.said.read_text()[-4000:])
        if not took:
            assert "Traceback" not in text and re.search(r"[a-z]\. ?", text), text[:2000]
        (self.kept if took else self.refused).update(calls)
        self.answers[what, status] += 1
        return took

    def by_form(self):
        (call,) = self.calls(1)
        path = f"/outings/{self.visitor.outing}/log/contacts/"
        status, text, _ = self.visitor.post(
            path, call=call, tuning="20m", mode_typed="CW", identity=str(uuid.uuid4())
        )
        return self.note("form", status, [call], text)

    def by_phone(self, count=12, at="2026-05-01T13:10:00Z"):
        """Hand in contacts; what is not taken stays in `waiting`, as on a phone, and goes along the next time."""
        calls, waiting = self.calls(count), self.waiting
        entries = [*waiting, *(self.visitor.entry(call, at) for call in calls)]
        status, text, _ = self.visitor.hand_in(*entries, now=at)
        took = self.note("phone", status, calls, text)
        if took:
            outcomes = [answer["outcome"] for answer in json.loads(text)["answers"]]
            assert {*outcomes[:len(waiting)]} <= {"taken", "had"} and {*outcomes[len(waiting):]} == {"taken"}, text
            late = {entry["values"]["call"] for entry in waiting}
            self.refused, self.kept = self.refused - late, self.kept | late
        self.waiting = [] if took else entries[-100:]
        return took

    def by_file(self, count=150):
        calls = self.calls(count)
        log = "".join(
            f"<CALL:{len(call)}>{call}<QSO_DATE:8>20260501<TIME_ON:4>1310<BAND:3>40m<MODE:2>CW<EOR>\n" for call in calls
        )
        status, text, where = self.visitor.send("/files/", "log", "log.adi", b"<EOH>\n" + log.encode())
        if status != 302:
            return self.note("file", status, calls, text)
        status, text, _ = self.visitor.post(f"{where}import/", onto="outing", outing=self.visitor.outing)
        return self.note("file", status, calls, text)

    def by_picture(self):
        caption = f"mast {uuid.uuid4()}"
        status, text, _ = self.visitor.send(
            f"/outings/{self.visitor.outing}/pictures/", "file", "mast.png", a_picture(), caption=caption
        )
        if took := self.note("picture", status, [], text):
            self.told[caption] = time.time()
            self.pictures += 1
        return took

    def anyhow(self, chance):
        """Store something by one of the ways in."""
        return chance.choice([self.by_form, self.by_phone, self.by_file, self.by_picture])()

    def check(self, program):
        """Hold the database and the files against what was answered."""
        found = Counter(call for (call,) in program.asked("SELECT call FROM outings_contact"))
        assert not (lost := [call for call in self.kept if found[call] == 0]), f"lost: {lost}"
        assert not (twice := [call for call in self.kept if found[call] > 1]), f"twice: {twice}"
        assert not (half := self.refused & {*found}), f"refused, and there: {half}"
        entries = {subject for (subject,) in program.asked("SELECT subject FROM outings_fieldentry")}
        contacts = {identity for (identity,) in program.asked("SELECT uuid FROM outings_contact")}
        assert entries <= contacts, "entries without their contacts"
        self.check_pictures(program)

    def check_pictures(self, program):
        named = {name for (name,) in program.asked("SELECT picture FROM outings_outingpicture")}
        assert len(named) == self.pictures
        media = program.folder / "media"
        there = {path.relative_to(media).as_posix() for path in media.glob("pictures/*/*")}
        assert named == there, "pictures without files, or files without pictures"
        assert all(is_whole(program, name) for name in named)

    def lost_in(self, program, until):
        """What is missing or half there in the folder of a program of what was answered up to a moment, in words."""
        lost = []
        try:
            if not program.is_sound():
                lost.append("the database is damaged")
            found = Counter(call for (call,) in program.asked("SELECT call FROM outings_contact"))
            pictures = dict(program.asked("SELECT caption, picture FROM outings_outingpicture"))
        except sqlite3.DatabaseError as error:
            return [f"the database cannot be read: {error}"]
        for first, calls in self.begun.items():
            there = sum(found[call] for call in calls)
            if there not in (0, len(calls)):
                lost.append(f"{there} of {len(calls)} contacts that were sent together")
            elif not there and self.told.get(first, until + 1) <= until:
                lost.append(f"contact {first}")
        lost += [
            f"picture {name}" for name, at in self.told.items()
            if name.startswith("mast") and at <= until and name not in pictures
        ]
        return lost + [f"file of {caption}" for caption, name in pictures.items() if not is_whole(program, name)]

    def summary(self):
        took = sum(number for (_, status), number in self.answers.items() if status in (200, 302))
        return f"{took} answers that it is stored, {self.answers.total() - took} sentences: {dict(self.answers)}"


def is_whole(program, name):
    """Whether the file of a picture is there to its end; a damaged database may have anything for its name."""
    try:
        with Image.open(program.folder / "media" / name) as picture:
            picture.load()
    except (OSError, SyntaxError, TypeError, ValueError):
        return False
    return True


class Disk:
    """A small disk of its own, in memory; mounting it needs root."""

    def __init__(self, path, megabytes=48):
        self.path = Path(path)
        self.path.mkdir()
        mounted = self._mount("-t", "tmpfs", "-o", f"size={megabytes}m", "none") if sys.platform == "linux" else None
        if mounted is None or mounted.returncode:
            trying.not_tried("a full and a read-only disk", "mounting a small disk needs Linux and root")
        self.ballast = self.path / "ballast"

    def _mount(self, *words):
        return subprocess.run(["mount", *words, self.path], capture_output=True, text=True)

    def fill(self, *, leaving):
        """Take all room but some bytes."""
        room = os.statvfs(self.path)
        with self.ballast.open("wb") as file:
            os.posix_fallocate(file.fileno(), 0, max(room.f_bavail * room.f_frsize - leaving, 1))

    def free(self):
        self.ballast.unlink(missing_ok=True)

    def turn(self, how):
        """Mount it "ro" or "rw"; refused as long as something is being written."""
        end = time.monotonic() + PATIENCE_S
        while (done := self._mount("-o", f"remount,{how}")).returncode:
            assert time.monotonic() < end, done.stderr
            time.sleep(0.05)

    def unmount(self):
        subprocess.run(["umount", "--lazy", self.path], check=True)


def a_picture():
    """A picture of noise, which takes some room."""
    out = io.BytesIO()
    Image.effect_noise((320, 240), 90).save(out, "PNG")
    return out.getvalue()


def chance_of(name):
    """Numbers that depend on the seed of the run and on which trial it is."""
    return random.Random(f"{SEED} {name}")


class Clock:
    """A clock of its own for a Program: what it is ahead by can be set at any moment (libfaketime)."""

    def __init__(self, beside):
        found = sorted(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"))
        if not found:
            trying.not_tried("jumps of the clock", "libfaketime is not installed (Debian: apt install faketime)")
        self.note, self.ahead_s = Path(beside) / "clock.txt", 0
        self.set(0)
        self.variables = {
            "LD_PRELOAD": str(found[0]), "FAKETIME_TIMESTAMP_FILE": str(self.note), "FAKETIME_NO_CACHE": "1",
            "DONT_FAKE_MONOTONIC": "1", "FAKETIME_DONT_FAKE_MONOTONIC": "1", "NO_FAKE_STAT": "1",
        }

    def set(self, ahead_s):
        self.ahead_s = int(ahead_s)
        beside = self.note.with_suffix(".new")
        beside.write_text(f"{self.ahead_s:+d}")
        beside.replace(self.note)

    def jump(self, chance):
        """By minutes, days or years, forward or back; at times to the right time."""
        most = chance.choice((0, 30 * 60, 20 * 86400, 3 * 365 * 86400, 20 * 365 * 86400))
        self.set(chance.uniform(-most, most))

    @property
    def now(self):
        return datetime.datetime.now(datetime.UTC) + datetime.timedelta(seconds=self.ahead_s)


HOLD_SQLITE = """
import sqlite3, sys, time
for _ in range(10):  # an exclusive mode has to wait until every other connection is closed
    held = sqlite3.connect(sys.argv[1], timeout=2, isolation_level=None)
    try:
        held.execute("PRAGMA locking_mode=" + sys.argv[2])
        held.execute("BEGIN EXCLUSIVE")
        break
    except sqlite3.OperationalError:
        held.close()
        time.sleep(0.02)
held.execute("UPDATE stationlog_operator SET name = name")
print("held", flush=True)
sys.stdin.read()
held.execute("COMMIT")
"""
HOLD_POSTGRESQL = """
import psycopg, sys
with psycopg.connect(sys.argv[1]) as held:
    held.execute("LOCK TABLE outings_contact, outings_importedfile, outings_outingpicture IN " + sys.argv[2] + " MODE")
    print("held", flush=True)
    sys.stdin.read()
"""


@contextlib.contextmanager
def locked(program, chance):
    """Another process holds the database of a program: against writers, or against readers too."""
    if "DATABASE_URL" in program.environment:
        words = [HOLD_POSTGRESQL, program.environment["DATABASE_URL"], chance.choice(("EXCLUSIVE", "ACCESS EXCLUSIVE"))]
    else:
        words = [HOLD_SQLITE, str(program.database), chance.choice(("NORMAL", "EXCLUSIVE"))]
    with subprocess.Popen(
        [sys.executable, "-c", *words], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout.readline() == "held\n"
        try:
            yield
        finally:
            holder.stdin.close()
            holder.wait(PATIENCE_S)


class Wire:
    """A way to a PostgreSQL server that can be cut: what comes in is carried on, or nothing is."""

    def __init__(self, folder):
        one = connection.settings_dict
        port = int(one["PORT"] or 5432)
        host = one["HOST"] or one["OPTIONS"].get("host", "localhost")
        self.server = f"{host}/.s.PGSQL.{port}" if host.startswith("/") else (host, port)
        self.folder, self.path = folder, str(Path(folder) / ".s.PGSQL.5432")
        self.carried, self.door, self.lock = [], None, threading.Lock()
        self.join()

    def join(self):
        """Let through what comes."""
        self.door = socket.socket(socket.AF_UNIX)
        self.door.bind(self.path)
        self.door.listen(50)
        threading.Thread(target=self._let_in, args=(self.door,), daemon=True).start()

    def cut(self):
        """End what goes over it, and let nothing in."""
        os.unlink(self.path)
        with self.lock:
            self.door.close()
            self.door = None
            for end in self.carried:
                with contextlib.suppress(OSError):
                    end.shutdown(socket.SHUT_RDWR)
            self.carried = []

    def _let_in(self, door):
        with contextlib.suppress(OSError):
            while True:
                near = door.accept()[0]
                far = socket.socket(socket.AF_UNIX if isinstance(self.server, str) else socket.AF_INET)
                with self.lock:
                    if door is not self.door:  # it was cut meanwhile
                        near.close()
                        return
                    far.connect(self.server)
                    self.carried += [near, far]
                for ways in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=ways, daemon=True).start()

    @staticmethod
    def _carry(source, target):
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                target.sendall(data)
        for end in (source, target):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
