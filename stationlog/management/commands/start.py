"""Runs the program on this computer: brings the database and the static files up to date, then serves."""

import hashlib
import multiprocessing
import threading
import time
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection, connections
from django.utils import timezone
from granian import Granian
from granian.constants import HTTPModes, Interfaces, SSLProtocols
from granian.log import LogLevels

from equipment import progress
from stationlog import launch
from stationlog.backups import archive, shelf
from stationlog.models import Invitation, Operator, PhonePairing
from stationlog.phones import authority, certificate_page
from stationlog.phones.door import Door, NoName, forget
from stationlog.views import trouble

APPLICATION = "stationlog.wsgi:application"
SERVED = {
    "interface": Interfaces.WSGI, "http": HTTPModes.http1, "websockets": False, "blocking_threads": 8,
    "workers_kill_timeout": 5, "log_level": LogLevels.error,
}
PHONES = 1  # the number of the worker that phones reach, after that for this computer
LOOKED_EVERY_S = 20  # whether the computer has another address by now
BACKUP_ASKED_EVERY_S = 600  # whether the newest backup is a day old


class Server(Granian):
    """The web server; closing its window ends it, as Ctrl-C does.

    With a door for phones it has a second worker, which serves the same over HTTPS on the home network and is started
    anew when the door's certificate changes.
    """

    def __init__(self, *, port, ready, door=None):
        super().__init__(APPLICATION, address=launch.ADDRESS, port=port, workers=1, **SERVED)
        self.ready = ready
        self.door = door
        self.outside = None
        if door:
            self.outside = Granian(
                APPLICATION, address=launch.EVERYWHERE, port=door.port, ssl_cert=door.leaf, ssl_key=door.leaf,
                ssl_protocol_min=SSLProtocols.tls12, **SERVED,
            )

    def signal_handler_reload(self, *args):
        self.signal_handler_interrupt()

    def _init_shared_socket(self):
        super()._init_shared_socket()
        if self.outside:
            self.workers = 2  # only now: on Windows granian allows one worker a socket, and each of these has its own
            self.outside.runtime_mode = self.runtime_mode
            self.outside._init_shared_socket()

    def _drop_shared_socket(self):
        super()._drop_shared_socket()
        if self.outside:
            self.outside._drop_shared_socket()

    def _spawn_worker(self, idx, target, callback_loader):
        if idx != PHONES:
            return super()._spawn_worker(idx, target, callback_loader)
        worker = self.outside._spawn_worker(idx, target, launch.application_for_phones)
        worker.parent = self  # which has to hear when it ends
        return worker

    def _spawn_workers(self, *args):
        launch.deaf_to_terminal(True)  # a worker that begins as a copy of this process is deaf from its first moment
        super()._spawn_workers(*args)
        launch.deaf_to_terminal(False)
        # From now on this process has threads. A worker that began as a copy of it while one held a lock, such as
        # SQLite's on its memory, would wait for that for ever: the next one begins afresh, as everywhere but on Linux.
        multiprocessing.set_start_method("spawn", force=True)
        threading.Thread(target=self.announce, daemon=True).start()
        threading.Thread(target=self.keep_backups, daemon=True).start()
        if self.door:
            certificate_page.serve(launch.EVERYWHERE, self.door.served.certificate_port, lambda: self.door.authority)
            threading.Thread(target=self.watch, daemon=True).start()

    def announce(self):
        """Say that the program is ready, once it is."""
        for port in filter(None, (self.bind_port, self.door and self.door.port)):
            while not launch.answers(port):
                time.sleep(0.05)
        launch.say(self.ready)

    def keep_backups(self):
        """Make a backup a day, as long as there is a log to lose."""
        while True:
            try:
                if Operator.objects.exists() and shelf.put_new_if_due():
                    call_command("clearsessions")  # those that ran out, which a clock set back would bring to life
            except (OSError, archive.Damaged, DatabaseError) as error:
                launch.say(f"stationlog: no backup was made ({error}). Older ones are in {settings.BACKUP_DIR}.")
            finally:
                connections.close_all()
            time.sleep(BACKUP_ASKED_EVERY_S)

    def watch(self):
        """Look now and then whether the computer has other addresses, and whether the certificate is near its end."""
        while True:
            time.sleep(LOOKED_EVERY_S)
            try:
                if self.door.refresh(timezone.now()):
                    self.reload_signal = True
                    self.main_loop_interrupt.set()
                    lines = ["", "The network has changed.", *door_lines(self.door.served, self.bind_port)]
                    launch.say("\n".join(lines))
            except (OSError, ValueError, DatabaseError) as error:
                launch.say(f"stationlog: the certificate for phones could not be kept up to date ({error}).")
            finally:
                connections.close_all()

    def _reload(self, spawn_target, target_loader):
        self.reload_signal = False
        self.main_loop_interrupt.clear()
        launch.deaf_to_terminal(True)
        self._respawn_workers([PHONES], spawn_target, target_loader)
        launch.deaf_to_terminal(False)


class Command(BaseCommand):
    help = "Run stationlog on this computer."
    requires_system_checks = ()

    def add_arguments(self, parser):
        launch.start_options(parser)

    def handle(self, *, port, demo, phone, phone_port, **options):
        launch.writable_data_folder()
        launch.free_ports(port, phone_port if phone else None)
        with progress.on_terminal():
            migrate()
            collect_static()
        forget(settings.DATA_DIR)
        door = opened_door(phone_port) if phone else None
        address = f"http://{launch.ADDRESS}:{port}"
        if demo:
            self.load_demo()
        lines = ["", f"stationlog is ready: {address}/"]
        if Operator.objects.nobody_yet():
            code = Invitation.objects.renew_set_up()
            lines += [
                "", "Nobody has an account of their own yet. Make yours at", f"  {address}/setup/?code={code}",
                f"The set-up code {code} works once.",
            ]
        lines += ["", *door_lines(door and door.served, port)]
        lines += [f"Everything is kept in {settings.DATA_DIR}", "Stop with Ctrl-C.", ""]
        connections.close_all()
        try:
            Server(port=port, ready="\n".join(lines), door=door).serve(
                target_loader=launch.application, wrap_loader=False
            )
        finally:
            if door:
                door.close()
        launch.say("stationlog has stopped.")

    def load_demo(self):
        call_command("demo", stdout=self.stdout)


def opened_door(port):
    """The door for phones, or say in a sentence why there can be none."""
    if settings.HTTPS or settings.BEHIND_PROXY:
        raise launch.Trouble(
            "--phone serves HTTPS itself, and STATIONLOG_HTTPS or STATIONLOG_PROXY say that a proxy does. "
            "Start without --phone: phones then come through the proxy."
        )
    door = Door(settings.DATA_DIR, port)
    try:
        door.refresh(timezone.now())
    except NoName:
        raise launch.Trouble(
            "this computer has no name of its own that phones could call it by. Give it one in the system's settings "
            "(such as quiet-box) and start again."
        ) from None
    except authority.Unreadable as error:
        raise launch.Trouble(
            f"{error}. Move that file away and start again: another certificate is made, which every phone has to "
            "trust anew."
        ) from None
    return door


def door_lines(served, port):
    """What to say about phones: where they come in, and which were paired with what this computer was called before."""
    lines = []
    if served:
        lines += [
            f"Phones on the same network: {' or '.join(served.origins)}",
            f"Pair one at http://{launch.ADDRESS}:{port}/account/phones/", "",
        ]
        if not served.addresses:
            lines += ["This computer is on no home network now; phones find it once it is.", ""]
    if settings.HTTPS or settings.BEHIND_PROXY:  # phones come through the proxy, whose name is not ours to know
        return lines
    strays = list(PhonePairing.objects.paired().strays(served.origins if served else ()).origins())
    if strays and served:
        lines += [
            f"Phones are paired with {' and '.join(strays)}, where this computer is not reached any more.",
            "Pair them anew before you leave home; what they keep under the old address comes over by its saved copy.",
            "",
        ]
    elif strays:
        lines += [f"Phones are paired with {' and '.join(strays)}: to let them in, start with --phone.", ""]
    return lines


def migrate():
    """Bring the database up to date, or say in a sentence why it cannot be used."""
    sqlite = connection.vendor == "sqlite"
    try:
        if sqlite and Path(connection.settings_dict["NAME"]).exists():
            archive.look_over(connection.settings_dict["NAME"])
        connection.ensure_connection()
    except archive.Damaged as error:
        raise damaged(error) from None
    except DatabaseError as error:
        if trouble.reason_of(error)[0] == trouble.FULL:
            raise  # which is said in the sentence that pages say
        where = connection.settings_dict["NAME"] if sqlite else "that DATABASE_URL names"
        raise launch.Trouble(
            f"the database {where} cannot be opened ({' '.join(str(error).split())}). "
            "Check that it is there and that you may use it."
        ) from None
    try:
        call_command("migrate", verbosity=0, interactive=False)
    except CommandError as error:
        raise launch.Trouble(str(error)) from None


def damaged(error):
    """What to say about a damaged database, with the newest backup that is whole."""
    good = shelf.newest_good()
    way_out = (
        f"The newest backup that is whole was made on {good.made_at:%Y-%m-%d at %H:%M} UTC; bring it back with: "
        f"manage.py restore {good.path}" if good else f"There is no backup in {settings.BACKUP_DIR} that is whole."
    )
    return launch.Trouble(f"{error}. {way_out}")


def collect_static():
    """Collect the static files if one of them changed since the last time."""
    digest = hashlib.sha256()
    for finder in get_finders():
        for path, storage in finder.list(None):
            digest.update(f"{path} {storage.size(path)} {storage.get_modified_time(path)}\n".encode())
    stamp, manifest = settings.DATA_DIR / "static-files.txt", settings.STATIC_ROOT / "staticfiles.json"
    if manifest.exists() and stamp.exists() and stamp.read_text() == digest.hexdigest():
        return
    with progress.step("Collecting what pages are made of"):
        call_command("collectstatic", verbosity=0, interactive=False, clear=True)
    stamp.write_text(digest.hexdigest())
