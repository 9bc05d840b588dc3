"""Many rows into one table at once, as fast as the database takes them."""

import os
import sqlite3
import time
from itertools import chain, islice

from django.db import connection

from equipment.models.history import chunks

PART = 500


def count(model, ids):
    """How many of these rows there are."""
    return sum(model.objects.filter(pk__in=part).count() for part in chunks(list(ids)))


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
    that are alike are given once, which saves most of the time that binding them would take.
    """
    alike = _alike(model, columns, shared)
    columns = {name: values for name, values in columns.items() if name not in alike}
    rows = zip(*columns.values(), strict=True)
    into = _insert_into_postgresql if connection.vendor == "postgresql" else _insert_into_sqlite
    with connection.wrap_database_errors:
        into(connection.ops.quote_name(model._meta.db_table), columns, alike, rows)


def _insert_into_postgresql(table, columns, alike, rows):
    rest = tuple(alike.values())
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} ({_listed(columns, alike)}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row + rest)


def _insert_into_sqlite(table, columns, alike, rows):
    """Many rows a statement, since what SQLite does for each statement takes a fifth of the time of a row.

    Its text holds no values, so that the statement of the rows before is used again.
    """
    raw, shared = connection.connection, list(alike.values())  # past Django's cursor, which would look at each value
    many = min(PART, (raw.getlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER) - len(shared)) // len(columns))
    head = f"INSERT INTO {table} ({_listed(columns, alike)}) SELECT {', '.join(['*', *'?' * len(shared)])}"
    marks = f"({', '.join('?' * len(columns))})"
    while part := list(chain.from_iterable(islice(rows, many))):
        values = ", ".join([marks] * (len(part) // len(columns)))
        raw.execute(f"{head} FROM (VALUES {values})", shared + part)


def _listed(columns, alike):
    return ", ".join(map(connection.ops.quote_name, [*columns, *alike]))


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
