"""Django's SQLite, read without a log of its own where the disk is mounted read-only."""

import os
from pathlib import Path

from django.db.backends.sqlite3 import base


class DatabaseWrapper(base.DatabaseWrapper):
    """In WAL mode every reader writes to files beside the database, which a read-only disk refuses.

    Nothing can change there, so the file is read as it is (immutable), for the length of a request. Where a log with
    rows that are not in the file yet was left beside it, SQLite reads that by its own means.
    """

    def get_connection_params(self):
        params = super().get_connection_params()
        if lies_still(params["database"]):
            params["database"] = f"{Path(params['database']).as_uri()}?immutable=1"
        return params


def lies_still(name):
    """Whether a database file is on a disk that is mounted read-only, with all its rows in it."""
    try:
        if not os.statvfs(name).f_flag & os.ST_RDONLY:
            return False
        return not os.path.exists(f"{name}-wal") or not os.path.getsize(f"{name}-wal")
    except (OSError, AttributeError, ValueError):  # not there yet, or a system that does not tell
        return False
