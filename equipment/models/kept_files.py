"""Files that lie beside the rows that name them."""

import contextlib

from django.db import DatabaseError


def drop_unnamed(file, rows):
    """Delete a file whose row was refused; `rows` are those that could name it.

    Where the database does not answer, the row may be stored all the same, so the file stays.
    """
    with contextlib.suppress(DatabaseError):
        if not rows.exists():
            file.storage.delete(file.name)
