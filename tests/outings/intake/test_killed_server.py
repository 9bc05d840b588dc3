"""The server is killed while phones hand in: what was answered is there, and nothing is there twice.

A few kills by default; STATIONLOG_SERVER_KILLS=50 makes a long run of it.
"""

import contextlib
import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
import uuid

import pytest
from django.conf import settings
from django.test import Client

from tests import making
from tests.starting import PROJECT, ends, environment_beside, unused_port

pytestmark = pytest.mark.django_db(transaction=True)

KILLS = int(os.environ.get("STATIONLOG_SERVER_KILLS", "2"))
SEED = int(os.environ.get("STATIONLOG_FIELD_SEED", "1"))
BATCH = 40


class Server:
    """The program as `start` serves it, on a database of its own, ended with all its processes by a kill unheard."""

    def __init__(self, folder):
        self.folder, self.port = folder, unused_port()
        self.environment = environment_beside(folder)

    def start(self):
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "start", "--port", str(self.port)], env=self.environment, cwd=PROJECT,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )

    def kill(self):
        """End it at once; what it had begun to write stays as it was at that moment."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        assert ends(self.process.pid)


class Phone:
    """Hands in its queue batch by batch, until every entry has its answer."""

    def __init__(self, outing):
        client = Client()
        client.force_login(outing.owner)
        self.cookie = f"{settings.SESSION_COOKIE_NAME}={client.cookies[settings.SESSION_COOKIE_NAME].value}"
        self.outing, self.id, self.answers, self.token = outing, str(uuid.uuid4()), {}, None
        self.sending = threading.Event()

    def ask(self, method, path, body=None):
        """JSON of an answer; OSError where the server is not there or went away."""
        asked = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=120)
        cookie = self.cookie + (f"; csrftoken={self.token}" if self.token else "")
        headers = {"Cookie": cookie, "X-CSRFToken": self.token or "", "Content-Type": "application/json"}
        try:
            asked.request(method, path, body, headers)
            self.sending.set()
            answer = asked.getresponse()
            text = answer.read()
        except http.client.HTTPException as broken:
            raise OSError(str(broken)) from None
        finally:
            asked.close()
        assert answer.status == 200, (answer.status, text[:200])
        return json.loads(text)

    def entry(self, number):
        return {
            "id": str(uuid.uuid4()), "kind": "contact", "action": "put", "subject": str(uuid.uuid4()), "seq": 1,
            "base": 0, "edited_at": "2026-05-01T13:10:00Z", "values": {
                "outing": str(self.outing.uuid), "call": f"Q{number}ABC", "started_at": "2026-05-01T13:10:00Z",
                "mode": "CW", "band": "20m", "seconds_known": True,
            },
        }

    def hand_in(self, entries):
        body = json.dumps({"phone": self.id, "now": "2026-05-01T13:11:00Z", "entries": entries})
        end = time.monotonic() + 180
        while True:
            assert time.monotonic() < end, "the server does not come up"
            try:
                self.token = self.token or self.ask("GET", "/field/hello/")["token"]
                found = self.ask("POST", "/field/hand-in/", body)
            except OSError:
                time.sleep(0.05)
                continue
            self.answers.update({answer["id"]: answer["outcome"] for answer in found["answers"]})
            return


def test_kills_of_the_server_lose_nothing_and_double_nothing(tmp_path):
    chance = random.Random(SEED)
    outing = making.an_outing()
    phone = Phone(outing)  # whose session is in the database before the server has it
    server = phone.server = Server(tmp_path)
    entries = [phone.entry(number) for number in range(BATCH * (KILLS + 1))]
    server.start()
    try:
        phone.hand_in(entries[:1])  # it is up
        for number in range(KILLS):
            batch = entries[number * BATCH:(number + 1) * BATCH]
            phone.sending.clear()
            thread = threading.Thread(target=phone.hand_in, args=(batch,), daemon=True)
            thread.start()
            assert phone.sending.wait(180)
            time.sleep(chance.uniform(0, 0.25))
            server.kill()
            server.start()
            thread.join(240)
            assert not thread.is_alive()
        phone.hand_in(entries[KILLS * BATCH:])
        assert set(phone.answers.values()) <= {"taken", "had"}
        assert set(phone.answers) == {entry["id"] for entry in entries}
        board = phone.ask("GET", f"/field/outings/{outing.uuid}/")
        assert sorted(one["uuid"] for one in board["contacts"]) == sorted(entry["subject"] for entry in entries)
        assert {one["revision"] for one in board["contacts"]} == {1}
    finally:
        server.kill()
