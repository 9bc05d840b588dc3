"""Many rows into one table at once, as fast as the database takes them."""

from django.db import connection


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


def insert_objects(rows):
    """Insert unsaved objects of one model, with ids of their own, without signals or history."""
    if not rows:
        return
    model = type(rows[0])
    for row, pk in zip(rows, new_ids(model, len(rows)), strict=True):
        row.pk = pk
    columns = model._meta.concrete_fields
    values = [
        tuple(field.get_db_prep_save(getattr(row, field.attname), connection) for field in columns) for row in rows
    ]
    with connection.cursor() as cursor:
        quote = connection.ops.quote_name
        names = ", ".join(quote(field.column) for field in columns)
        marks = ", ".join(["%s"] * len(columns))
        cursor.executemany(f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({marks})", values)


def insert(model, names, rows, same):
    """Insert prepared rows.

    `names` are the columns of a row's values, `rows` an iterable of tuples, `same` maps every other column to the value
    that all rows share. Values are as the database takes them: text for moments, days, UUIDs and JSON. Columns that are
    the same in all rows are written into the statement, which saves most of the time that binding them would take.
    """
    quote = connection.ops.quote_name
    table, shared = quote(model._meta.db_table), list(same)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            listed = ", ".join(quote(name) for name in [*names, *shared])
            rest = tuple(same[name] for name in shared)
            with cursor.copy(f"COPY {table} ({listed}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row((*row, *rest))
            return
        listed = ", ".join(quote(name) for name in [*names, *shared])
        values = ", ".join(["?"] * len(names) + [_literal(same[name]) for name in shared])
        # Past Django's cursor, which would look at every row once more to turn its placeholders.
        connection.connection.executemany(f"INSERT INTO {table} ({listed}) VALUES ({values})", rows)


def _literal(value):
    """A value as it stands in a statement of SQLite."""
    if value is None:
        return "NULL"
    if isinstance(value, (bool, int)):
        return str(int(value))
    return "'" + str(value).replace("'", "''") + "'"
