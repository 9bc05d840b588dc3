"""Many rows into one table at once, as fast as the database takes them."""

import os
import time
from contextlib import contextmanager

from django.db import connection

CACHE_KB = 16 * 1024
PART = 500


@contextmanager
def little_cache():
    """Have SQLite write early what a large transaction changes, so that memory does not grow with it."""
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        before = cursor.execute("PRAGMA cache_size").fetchone()[0]
        cursor.execute(f"PRAGMA cache_size = -{CACHE_KB}")
        try:
            yield
        finally:
            cursor.execute(f"PRAGMA cache_size = {before}")


def count(model, ids):
    """How many of these rows there are."""
    ids = list(ids)
    return sum(model.objects.filter(pk__in=ids[at : at + PART]).count() for at in range(0, len(ids), PART))


def new_ids(model, count):
    """Ids for rows that are about to be inserted in this transaction."""
    table = connection.ops.quote_name(model._meta.db_table)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                [model._meta.db_table, count],
            )
            return [row[0] for row in cursor.fetchall()]
        # SQLite has one writer, and this transaction is it: no other row can take these meanwhile.
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [model._meta.db_table])
        used = cursor.fetchone()
        cursor.execute(f"SELECT COALESCE(MAX(id), 0) FROM {table}")
        first = max(cursor.fetchone()[0], used[0] if used else 0) + 1
        return list(range(first, first + count))


def fresh_uuids(count):
    """UUIDs of version 7 (RFC 9562) in hex: time first, so that their index grows at its end, which is quicker.

    A millisecond, a count of 12 bits, and 60 bits of noise.
    """
    noise, stamp = os.urandom(8 * count).hex(), f"{time.time_ns() // 1_000_000:012x}"
    return [f"{stamp}7{number & 0xFFF:03x}8{noise[16 * number + 1 : 16 * number + 16]}" for number in range(count)]


def insert(model, columns, **shared):
    """Insert prepared rows, without signals or history.

    `columns` maps columns to the values of all rows, as the database takes them: text for moments, days, UUIDs and
    JSON. `shared` are values that all rows have alike; whatever column is in neither has what a new row has. Columns
    that are alike are written into the statement, which saves most of the time that binding them would take.
    """
    alike = _alike(model, columns, shared)
    columns = {name: values for name, values in columns.items() if name not in alike}
    table = connection.ops.quote_name(model._meta.db_table)
    listed = ", ".join(map(connection.ops.quote_name, [*columns, *alike]))
    rows = zip(*columns.values(), strict=True)
    with connection.cursor() as cursor, connection.wrap_database_errors:
        if connection.vendor == "postgresql":
            rest = tuple(alike.values())
            with cursor.copy(f"COPY {table} ({listed}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row + rest)
            return
        values = ", ".join(["?"] * len(columns) + [_literal(value) for value in alike.values()])
        # Past Django's cursor, which would look at every row once more to turn its placeholders.
        connection.connection.executemany(f"INSERT INTO {table} ({listed}) VALUES ({values})", rows)


def _alike(model, columns, shared):
    """{column: value} of the columns that have the same value in all rows."""
    found = {name: values[0] for name, values in columns.items() if len(values) > 1 and _is_one(values)}
    for field in model._meta.concrete_fields:
        if field.column not in columns and not field.primary_key:
            value = shared[field.column] if field.column in shared else field.get_default()
            found[field.column] = field.get_db_prep_save(value, connection)
    return found


def _is_one(values):
    """Whether all values are the same."""
    return values[0] == values[-1] and values.count(values[0]) == len(values)


def _literal(value):
    """A value as it stands in a statement of SQLite."""
    if value is None:
        return "NULL"
    if isinstance(value, (bool, int)):
        return str(int(value))
    return "'" + str(value).replace("'", "''") + "'"
