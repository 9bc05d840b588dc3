"""What is said when a step fails on the server: the reason, if it is one that somebody can put right."""

import errno
import re
import shutil
import sys
import traceback

from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpResponse, JsonResponse
from django.template import loader

FULL = 507
AWAY = 503
# What SQLite, PostgreSQL and the system call it; the first that fits is said.
KNOWN = (
    (r"disk is full|no space left|disk quota|sqlite_full|53100", FULL,
     "The disk that the log is kept on is full. Make room on it, then do this again."),
    (r"readonly|read-only", AWAY,
     "The disk that the log is kept on cannot be written. See whether it is mounted read-only, then do this again."),
    (r"locked|lock timeout|55p03", AWAY,
     "Another program holds the database. Close whatever else has it open, and do this again in a moment."),
    (r"malformed|not a database|invalid page|could not decode to utf-8", AWAY,
     "The database is damaged. Stop the program and start it again: it then names the newest backup that is whole."),
    BROKEN := (
        r"disk i/o error|input/output error", AWAY,
        "The disk that the log is kept on does not work as it should. Copy the data folder to another one.",
    ),
    UNREACHED := (
        r"unable to open|connection|server closed|terminating|shutting down|starting up|could not translate|timeout",
        AWAY, "The database cannot be reached just now. Do this again in a moment.",
    ),
)
LITTLE_BYTES = 256 * 1024  # less room than SQLite needs to open a database
FILES = {errno.ENOSPC: KNOWN[0], errno.EDQUOT: KNOWN[0], errno.EROFS: KNOWN[1]}
UNKNOWN = (None, 500, "The window in which the program was started shows the reason.")


def reason_of(error):
    """(status, sentence) for an exception that a step failed with; 500 where it is nothing that is known."""
    if isinstance(error, DatabaseError):
        cause = error.__cause__  # which has the code, whatever language the server speaks
        codes = (getattr(cause, "sqlite_errorname", None), getattr(cause, "sqlstate", None))
        said = f"{error} {codes[0] or ''} {codes[1] or ''}".lower()
        found = next((known for known in KNOWN if re.search(known[0], said)), UNKNOWN)
        if found in (BROKEN, UNREACHED) and connection.vendor == "sqlite" and is_full():
            found = KNOWN[0]  # SQLite has many words for files that it could not make or lengthen
    elif isinstance(error, OSError):
        found = FILES.get(error.errno, UNKNOWN)
    else:
        found = UNKNOWN
    return found[1:]


def is_full():
    """Whether the disk with the data has no room for a step."""
    try:
        return shutil.disk_usage(settings.DATA_DIR).free < LITTLE_BYTES
    except OSError:
        return False


def let_go(error):
    """Have a traceback hold on to nothing: a cursor in it would keep SQLite's locks when the connection is closed."""
    while error is not None:
        traceback.clear_frames(error.__traceback__)
        error = error.__cause__ or error.__context__


def broken(request):
    """The answer to a step that failed, made without the session, which may lie behind what is broken."""
    error = sys.exc_info()[1]
    status, reason = reason_of(error)
    let_go(error)
    if "json" in request.headers.get("Content-Type", "") or request.path.startswith("/field/"):
        answer = JsonResponse({"reason": reason}, status=status)
    else:
        page = loader.render_to_string("500.html", {"reason": reason})
        answer = HttpResponse(page, status=status)
    if status == AWAY:
        answer.headers["Retry-After"] = "10"
    return answer
