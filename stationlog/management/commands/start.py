"""Runs the program on this computer: brings the database and the static files up to date, then serves."""

import hashlib
import threading
import time

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection, connections
from granian import Granian
from granian.constants import HTTPModes, Interfaces
from granian.log import LogLevels

from stationlog import launch
from stationlog.models import Invitation, Operator


class Server(Granian):
    """The web server; closing its window ends it, as Ctrl-C does."""

    def __init__(self, *args, ready, **options):
        super().__init__(*args, **options)
        self.ready = ready

    def signal_handler_reload(self, *args):
        self.signal_handler_interrupt()

    def _spawn_workers(self, *args):
        launch.deaf_to_terminal(True)  # a worker that begins as a copy of this process is deaf from its first moment
        super()._spawn_workers(*args)
        launch.deaf_to_terminal(False)
        threading.Thread(target=self.announce, daemon=True).start()

    def announce(self):
        """Say that the program is ready, once it is."""
        while not launch.answers(self.bind_port):
            time.sleep(0.05)
        launch.say(self.ready)


class Command(BaseCommand):
    help = "Run stationlog on this computer."
    requires_system_checks = ()

    def add_arguments(self, parser):
        launch.start_options(parser)

    def handle(self, *, port, demo, **options):
        launch.writable_data_folder()
        launch.free_port(port)
        migrate()
        collect_static()
        address = f"http://{launch.ADDRESS}:{port}"
        if demo:
            self.load_demo()
        lines = ["", f"stationlog is ready: {address}/"]
        if not Operator.objects.exists():
            code = Invitation.objects.renew_set_up()
            lines += [
                "", "Nobody has an account yet. Make yours at", f"  {address}/setup/?code={code}",
                f"The set-up code {code} works once.",
            ]
        lines += ["", f"Everything is kept in {settings.DATA_DIR}", "Stop with Ctrl-C.", ""]
        connections.close_all()
        server = Server(
            "stationlog.wsgi:application", address=launch.ADDRESS, port=port, interface=Interfaces.WSGI,
            http=HTTPModes.http1, websockets=False, blocking_threads=8, workers=1, workers_kill_timeout=5,
            log_level=LogLevels.error, ready="\n".join(lines),
        )
        server.serve(target_loader=launch.application, wrap_loader=False)
        launch.say("stationlog has stopped.")

    def load_demo(self):
        call_command("demo", stdout=self.stdout)


def migrate():
    """Bring the database up to date, or say in a sentence why it cannot be used."""
    try:
        connection.ensure_connection()
    except DatabaseError as error:
        sqlite = connection.vendor == "sqlite"
        where = connection.settings_dict["NAME"] if sqlite else "that DATABASE_URL names"
        raise launch.Trouble(
            f"the database {where} cannot be opened ({' '.join(str(error).split())}). "
            "Check that it is there and that you may use it."
        ) from None
    call_command("migrate", verbosity=0, interactive=False)


def collect_static():
    """Collect the static files if one of them changed since the last time."""
    digest = hashlib.sha256()
    for finder in get_finders():
        for path, storage in finder.list(None):
            digest.update(f"{path} {storage.size(path)} {storage.get_modified_time(path)}\n".encode())
    stamp, manifest = settings.DATA_DIR / "static-files.txt", settings.STATIC_ROOT / "staticfiles.json"
    if manifest.exists() and stamp.exists() and stamp.read_text() == digest.hexdigest():
        return
    call_command("collectstatic", verbosity=0, interactive=False, clear=True)
    stamp.write_text(digest.hexdigest())
