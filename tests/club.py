"""A club's server as README has it, with real nginx and PostgreSQL on this machine, and phones that hand in to it."""

import contextlib
import glob
import http.client
import json
import os
import random
import re
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
class Phone:
    """One phone at the outing: types contacts at a pace, hands them in now and then, over a road that drops."""

    club: Club
    outing: str
    key: str
    seed: int
    a_minute: float
    every_s: float
    id: str = field(default_factory=lambda: str(uuid.uuid4()))
    waiting: dict = field(default_factory=dict)
    typed: list = field(default_factory=list)
    times_s: list = field(default_factory=list)
    errors: dict = field(default_factory=dict)
    token: str = ""

    def run(self, until):
        """Go on until a moment of time.monotonic()."""
        chance = random.Random(self.seed)
        next_sync = time.monotonic() + chance.uniform(0, self.every_s)
        began, count = time.monotonic(), 0
        while (now := time.monotonic()) < until:
            while count < (now - began) * self.a_minute / 60:
                self.type(count)
                count += 1
            if now >= next_sync:
                next_sync = now + self.every_s * chance.uniform(0.7, 1.3)
                self.hand_in(drop=chance.random() < 0.1)
            time.sleep(0.05)

    def type(self, number):
        subject = str(uuid.uuid4())
        self.typed.append(subject)
        entry = {
            "id": str(uuid.uuid4()), "kind": "contact", "action": "put", "subject": subject, "seq": 1, "base": 0,
            "edited_at": "2026-05-01T13:10:00Z", "values": {
                "outing": self.outing, "call": f"Q{number % 10}{chr(65 + self.seed % 26)}{chr(65 + number % 26)}",
                "started_at": "2026-05-01T13:10:00Z", "mode": "CW", "band": "20m", "seconds_known": True,
            },
        }
        self.waiting[entry["id"]] = entry

    def headers(self):
        return {
            "Cookie": f"sessionid={self.key}; csrftoken={self.token}", "X-CSRFToken": self.token,
            "Content-Type": "application/json", "Referer": f"https://{NAME}/field/",
        }

    def hand_in(self, drop=False):
        """One hand-in of at most a hundred entries; with `drop` the answer is not waited for."""
        batch = list(self.waiting.values())[:100]
        began = time.monotonic()
        try:
            if not self.token:
                status, _, found = self.club.ask("GET", "/field/hello/", self.headers())
                if status != 200:
                    return self.failed(status)
                self.token = json.loads(found)["token"]
            body = json.dumps({"phone": self.id, "now": "2026-05-01T13:11:00Z", "entries": batch})
            status, _, found = self.club.ask(
                "POST", "/field/hand-in/", self.headers(), body, timeout=0.02 if drop else 60
            )
        except OSError as error:
            return None if drop else self.failed(type(error).__name__)
        if status != 200:
            return self.failed(status)
        self.times_s.append(time.monotonic() - began)
        for answer in json.loads(found)["answers"]:
            if answer["outcome"] in ("taken", "had"):
                self.waiting.pop(answer["id"], None)
            else:
                self.failed(answer.get("reason") or answer["outcome"])

    def failed(self, what):
        self.errors[what] = self.errors.get(what, 0) + 1

    def finish(self):
        """Hand in all that is left, over a good road."""
        end = time.monotonic() + 120
        while self.waiting and time.monotonic() < end:
            self.hand_in()


def busy_outing(club, phones, seconds, troubles, *, a_minute=50, every_s=15):
    """Let phones log and hand in for some time while troubles happen; returns the phones.

    `troubles`: (second, function) pairs.
    """
    outing, keys = club.start(phones)
    crowd = [Phone(club, outing, key, number, a_minute, every_s) for number, key in enumerate(keys)]
    until = time.monotonic() + seconds
    began = time.monotonic()
    threads = [threading.Thread(target=phone.run, args=(until,)) for phone in crowd]
    for thread in threads:
        thread.start()
    for second, trouble in troubles:
        time.sleep(max(0, began + second - time.monotonic()))
        trouble()
    for thread in threads:
        thread.join()
    for phone in crowd:
        phone.finish()
    return crowd
