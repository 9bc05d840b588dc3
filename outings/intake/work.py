"""Reading and importing beside the pages: small files at once, larger ones in a process of their own.

The process is a management command, so it works alike on every system, outlives a restart of the server, and shares
nothing with it but the database. If it is killed, its silence shows (ImportedFile.give_up_if_silent).
"""

import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings
from django.db import close_old_connections

from outings.models import ImportedFile

from . import importing, preview

AT_ONCE_BYTES = 512 * 1024  # about 2,000 contacts, well under a second


def start(imported):
    """Do what the file's status asks for, here if that is quick, else in a process of its own."""
    if imported.size_bytes <= AT_ONCE_BYTES:
        carry_on(imported)
    else:
        launch(imported)


def carry_on(imported):
    """Read through a file that is being read, import one that is being imported."""
    if imported.status == ImportedFile.Status.READING:
        preview.read_through(imported)
    elif imported.status == ImportedFile.Status.IMPORTING:
        importing.carry_out(imported)


def launch(imported):
    """Start the process that carries on with a file."""
    close_old_connections()
    command = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py"), "work_on_file", str(imported.pk)]
    options = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    if os.name == "nt":
        options["creationflags"] = subprocess.DETACHED_PROCESS | subprocess.CREATE_NEW_PROCESS_GROUP
    else:
        options["start_new_session"] = True
    environment = {**os.environ, "STATIONLOG_DATA": str(settings.DATA_DIR)}
    subprocess.Popen(command, cwd=settings.BASE_DIR, env=environment, **options)
