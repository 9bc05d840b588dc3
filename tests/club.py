"""A club's server as README has it, with real nginx and PostgreSQL on this machine, and phones that hand in to it."""

import contextlib
import glob
import http.client
import json
import os
import random
import re
import select
import shutil
import signal
import ssl
import subprocess
import sys
import threading
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path

from tests.starting import PROJECT, environment, unused_port
from tests.trying import not_tried

NAME = "log.example.net"
LOOPBACK = "127.0.0.1"
PREPARE = """
import json, os
import django
django.setup()
from django.test import Client
from tests import making
outing = making.an_outing()
keys = []
for _ in range(int(os.environ["PHONES"])):
    client = Client()
    client.force_login(outing.owner)
    keys.append(client.cookies["sessionid"].value)
print(json.dumps({"outing": str(outing.uuid), "keys": keys}))
"""
COUNT = """
import json
import django
django.setup()
from django.db.models import Count
from outings.models import Contact, FieldEntry
doubled = Contact.everything.values("uuid").annotate(n=Count("pk")).filter(n__gt=1).count()
revised = Contact.everything.filter(revision__gt=1).count()
found = [str(one) for one in Contact.objects.values_list("uuid", flat=True)]
print(json.dumps({"uuids": found, "doubled": doubled, "revised": revised}))
"""


def recipe(kind, path):
    """A block of README's recipe by its kind and the path that stands before it."""
    readme = (PROJECT / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"`{re.escape(path)}`[^`]*\n\n? *```{kind}\n(.*?)\n *```", readme, re.DOTALL)
    assert found, f"README has no {kind} block after {path}"
    return re.sub(r"^ {3}", "", found[1], flags=re.MULTILINE)


def replaced(text, **changes):
    """A text with every old word replaced, each of which has to be there."""
    for old, new in changes.values():
        assert old in text, f"{old} is not in the recipe any more"
        text = text.replace(old, new)
    return text


class Club:
    """PostgreSQL, two processes of the program and nginx, in a folder; ended by `stop`."""

    def __init__(self, folder):
        self.folder = Path(folder)
        self.bin = next(iter(sorted(glob.glob("/usr/lib/postgresql/*/bin"), reverse=True)), None)
        if not self.bin or not shutil.which("nginx") or os.geteuid() != 0:
            not_tried("nginx and PostgreSQL as a club's servers", "they are not here, or this is not run as root")
        self.cluster = self.folder / "cluster"
        self.ports = (unused_port(), unused_port())
        self.https, self.http = unused_port(), unused_port()
        self.programs = [None, None]
        self.nginx = None

    def start(self, phones):
        """Start everything; returns (the outing, a session key for each phone)."""
        self.folder.chmod(0o755)
        shutil.chown(self.made("cluster"), "postgres", "postgres")
        self.postgres("initdb", "-D", self.cluster, "-U", "stationlog", "-E", "UTF8", "--no-locale", "--auth=trust")
        self.start_database()
        self.postgres("createdb", "-h", self.cluster, "-U", "stationlog", "stationlog")
        settings = recipe("ini", "/etc/stationlog.env")
        settings = replaced(
            settings, url=("postgresql:///stationlog?host=/var/run/postgresql",
                           f"postgresql://stationlog@/stationlog?host={self.cluster}"),
            data=("/var/lib/stationlog/data", str(self.folder / "data")),
        )
        self.settings = dict(line.split("=", 1) for line in settings.splitlines() if line)
        for number in (0, 1):
            self.start_program(number)
        self.start_nginx()
        made = json.loads(self.python(PREPARE, PHONES=str(phones)))
        return made["outing"], made["keys"]

    def made(self, name):
        (self.folder / name).mkdir(mode=0o700)
        return self.folder / name

    def postgres(self, program, *arguments):
        subprocess.run(
            ["runuser", "-u", "postgres", "--", f"{self.bin}/{program}", *map(str, arguments)], check=True, cwd="/tmp",
            stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL,
        )

    def start_database(self):
        options = f"-k {self.cluster} -c listen_addresses='' -c fsync=off"
        self.postgres("pg_ctl", "-D", self.cluster, "-s", "-w", "-l", self.cluster / "log", "-o", options, "start")

    def restart_database(self):
        self.postgres("pg_ctl", "-D", self.cluster, "-s", "-w", "-m", "immediate", "stop")
        self.start_database()

    def variables(self, **more):
        return environment(**self.settings, DJANGO_SETTINGS_MODULE="stationlog.settings", **more)

    def python(self, code, **more):
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=PROJECT, env=self.variables(**more), text=True, check=True, timeout=300,
            stdout=subprocess.PIPE, stdin=subprocess.DEVNULL,
        )
        return done.stdout.strip().splitlines()[-1]

    def start_program(self, number):
        unit = recipe("ini", "/etc/systemd/system/stationlog@.service")
        command = re.search(r"^ExecStart=\S+ (.*)$", unit, re.MULTILINE)
        words = command[1].replace("%i", str(self.ports[number])).split()
        self.programs[number] = subprocess.Popen(
            [sys.executable, *words], cwd=PROJECT, env=self.variables(), text=True, stdin=subprocess.DEVNULL,
            stdout=(self.folder / f"program-{number}").open("a"), stderr=subprocess.STDOUT, start_new_session=True,
        )
        self.wait_for(self.ports[number])

    def kill_program(self, number):
        os.killpg(self.programs[number].pid, signal.SIGKILL)
        self.programs[number].wait()

    def start_nginx(self):
        key, certificate = self.folder / "privkey.pem", self.folder / "fullchain.pem"
        certificate.write_bytes(self_signed(key))
        site = replaced(
            recipe("nginx", "/etc/nginx/conf.d/stationlog.conf"),
            one=("127.0.0.1:8001", f"127.0.0.1:{self.ports[0]}"), two=("127.0.0.1:8002", f"127.0.0.1:{self.ports[1]}"),
            https=("listen 443 ssl", f"listen {LOOPBACK}:{self.https} ssl"),
            http=("listen 80", f"listen {LOOPBACK}:{self.http}"),
            certificate=("/etc/ssl/stationlog/fullchain.pem", str(certificate)),
            key=("/etc/ssl/stationlog/privkey.pem", str(key)),
        )
        (self.folder / "site.conf").write_text(site)
        (self.folder / "nginx.conf").write_text(
            f"pid {self.folder}/nginx.pid;\nerror_log {self.folder}/nginx-error warn;\nworker_processes 1;\n"
            f"events {{ worker_connections 1024; }}\nhttp {{ access_log off; include {self.folder}/site.conf; }}\n"
        )
        self.nginx = subprocess.Popen(
            ["nginx", "-c", str(self.folder / "nginx.conf"), "-g", "daemon off;"], stdin=subprocess.DEVNULL,
            stdout=(self.folder / "nginx").open("w"), stderr=subprocess.STDOUT,
        )
        self.wait_for(self.https)

    def wait_for(self, port):
        end = time.monotonic() + 120
        while time.monotonic() < end:
            with contextlib.suppress(OSError):
                http.client.HTTPConnection(LOOPBACK, port, timeout=1).connect()
                return
            time.sleep(0.1)
        raise AssertionError(f"nothing answers on port {port}")

    def ask(self, method, path, headers=None, body=None, timeout=30, https=True):
        """An answer through nginx, (status, headers, body); OSError where none comes."""
        if https:
            asked = http.client.HTTPSConnection(LOOPBACK, self.https, timeout=timeout, context=UNCHECKED)
        else:
            asked = http.client.HTTPConnection(LOOPBACK, self.http, timeout=timeout)
        try:
            asked.request(method, path, body, {"Host": NAME, **(headers or {})})
            answer = asked.getresponse()
            return answer.status, answer.headers, answer.read()
        except http.client.HTTPException as error:
            raise OSError(str(error)) from None
        finally:
            asked.close()

    def kept(self):
        """What is in the log now: {"uuids", "doubled", "revised"}."""
        return json.loads(self.python(COUNT))

    def stop(self):
        for process in [self.nginx, *self.programs]:
            if process is not None:
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(process.pid, signal.SIGKILL) if process is not self.nginx else process.terminate()
                process.wait()
        if (self.cluster / "postmaster.pid").exists():
            self.postgres("pg_ctl", "-D", self.cluster, "-s", "-m", "immediate", "stop")


UNCHECKED = ssl.create_default_context()
UNCHECKED.check_hostname, UNCHECKED.verify_mode = False, ssl.CERT_NONE  # the certificate is made for the test


def self_signed(key_path):
    """A certificate for the club's name, as PEM; its key goes to the path."""
    import datetime

    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, NAME)])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(x509.random_serial_number()).not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=2)).sign(key, hashes.SHA256())
    )
    key_path.write_bytes(key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ))
    return made.public_bytes(serialization.Encoding.PEM)


@dataclass
class Try:
    """One hand-in: when it began, in seconds of the outing, how long it took, and what it failed by."""

    began_s: float
    took_s: float
    error: str = ""


@dataclass
class Phone:
    """One phone at the outing: types contacts at a pace, hands them in now and then, over a road that drops.

    As the field page does: it greets the server, then hands in what waits, a hundred entries at most a request, and
    lets go of what was answered. It sleeps between, and has its entries ready as text: many of them share a computer
    with the servers.
    """

    club: Club
    outing: str
    key: str
    seed: int
    a_minute: float
    every_s: float
    drops: float
    id: str = field(default_factory=lambda: str(uuid.uuid4()))
    waiting: dict = field(default_factory=dict)
    typed: list = field(default_factory=list)
    tries: list = field(default_factory=list)
    dropped: int = 0
    road: http.client.HTTPSConnection | None = None

    def run(self, began, seconds):
        """Go on for some time from a moment of time.monotonic()."""
        chance = random.Random(self.seed)
        self.began = began
        self.stint = self.wait_for("stint", {
            "outing": self.outing, "started_at": "2026-05-01T13:00:00Z", "mode": "CW", "band": "20m",
        })
        pause = chance.uniform(0, self.every_s)
        while (now := time.monotonic() - began) + pause < seconds:
            time.sleep(pause)
            self.type_until(now + pause)
            fine = self.hand_in(drop=chance.random() < self.drops)
            pause = self.every_s * chance.uniform(0.7, 1.3) * (1 if fine else 0.3)
        time.sleep(max(0, began + seconds - time.monotonic()))
        self.type_until(seconds)

    def type_until(self, second):
        """What was typed by then."""
        for number in range(len(self.typed), int(second * self.a_minute / 60)):
            self.typed.append(self.wait_for("contact", {
                "outing": self.outing, "stint": self.stint, "band": "20m", "mode": "CW", "seconds_known": True,
                "call": f"Q{number % 10}{chr(65 + self.seed % 26)}{chr(65 + number % 26)}", "rst_sent": "599",
                "started_at": f"2026-05-01T13:{10 + number // 60 % 50}:{number % 60:02}Z", "rst_rcvd": "599",
            }))

    def wait_for(self, kind, values):
        """An entry that waits to be handed in; the UUID of its row."""
        identity, subject = str(uuid.uuid4()), str(uuid.uuid4())
        self.waiting[identity] = json.dumps({
            "id": identity, "kind": kind, "action": "put", "subject": subject, "seq": 1, "base": 0,
            "edited_at": "2026-05-01T13:10:00Z", "values": values,
        })
        return subject

    def hand_in(self, drop=False):
        """Hand in what waits; with `drop` the answer is not waited for. Whether all of it was answered."""
        began, error = time.monotonic(), ""
        try:
            token = json.loads(self.ask("GET", "/field/hello/", {}))["token"]
            waiting = list(self.waiting)
            for start in range(0, len(waiting), 100):
                entries = ",".join(self.waiting[identity] for identity in waiting[start:start + 100])
                body = f'{{"phone":"{self.id}","now":"2026-05-01T13:11:00Z","entries":[{entries}]}}'
                found = self.ask("POST", "/field/hand-in/", {
                    "Cookie": f"sessionid={self.key}; csrftoken={token}", "X-CSRFToken": token,
                    "Content-Type": "application/json", "Referer": f"https://{NAME}/field/",
                }, body, drop)
                for answer in json.loads(found)["answers"]:
                    if answer["outcome"] == "refused":
                        error = f"refused: {answer['reason']}"
                    else:
                        del self.waiting[answer["id"]]
        except Dropped:
            self.dropped += 1
            return True
        except Failed as failure:
            error = str(failure)
        except (OSError, http.client.HTTPException) as failure:
            error = type(failure).__name__
        self.tries.append(Try(began - self.began, time.monotonic() - began, error))
        if error and self.road:
            self.road.close()
        return not error

    def ask(self, method, path, headers, body=None, drop=False):
        """The body of an answer; Failed with its status where that is not 200, Dropped where it is not waited for."""
        if self.road is None:
            self.road = http.client.HTTPSConnection(LOOPBACK, self.club.https, timeout=60, context=UNCHECKED)
        if self.road.sock is not None and select.select([self.road.sock], [], [], 0)[0]:
            self.road.close()  # nginx has closed what was not used for long; a browser notices that, too
        self.road.request(method, path, body, {"Host": NAME, "Cookie": f"sessionid={self.key}", **headers})
        if drop:
            self.road.close()
            raise Dropped
        answer = self.road.getresponse()
        found = answer.read()
        if answer.status != 200:
            raise Failed(f"status {answer.status}")
        return found

    def finish(self, attempts=20):
        """Hand in all that is left, over a good road."""
        while self.waiting and attempts:
            if not self.hand_in():
                time.sleep(0.5)
                attempts -= 1


class Dropped(Exception):
    """The road broke off after the request."""


class Failed(Exception):
    """An answer that takes nothing."""


@dataclass(frozen=True)
class Trouble:
    """What happened to the servers, and from when until when, in seconds of the outing."""

    what: str
    began_s: float
    ended_s: float


def busy_outing(club, phones, seconds, troubles, *, a_minute=50, every_s=15, drops=0.1):
    """Let phones log and hand in for some time while troubles happen; returns the phones and the Troubles.

    `troubles`: (second, what, function) triples.
    """
    outing, keys = club.start(phones)
    crowd = [Phone(club, outing, key, number, a_minute, every_s, drops) for number, key in enumerate(keys)]
    began, happened = time.monotonic(), []
    threads = [threading.Thread(target=phone.run, args=(began, seconds)) for phone in crowd]
    for thread in threads:
        thread.start()
    for second, what, trouble in troubles:
        time.sleep(max(0, began + second - time.monotonic()))
        start = time.monotonic() - began
        trouble()
        happened.append(Trouble(what, start, time.monotonic() - began))
    for thread in threads:
        thread.join()
    for phone in crowd:
        phone.finish()
    return crowd, happened
