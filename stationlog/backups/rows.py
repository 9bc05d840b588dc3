"""Every row of the program as lines of JSON, through the models, and back: the same for SQLite and PostgreSQL."""

import contextlib
import datetime
import io
import json

from django.apps import apps
from django.core import serializers
from django.core.management.color import no_style
from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, connection, transaction

from equipment.models import gear_history

APPS = ("stationlog", "equipment", "outings")
CHUNK = 500
PASSING = ("sessions", "axes")  # who is logged in, and who failed to


class Unreadable(ValueError):
    """Rows that cannot be taken in; the text says which and why."""


class Exact(DjangoJSONEncoder):
    """Moments to the microsecond, where Django's own stops at the millisecond."""

    def default(self, value):
        if isinstance(value, datetime.datetime):
            return value.isoformat()
        return super().default(value)


def kept_models():
    """The models whose rows are the log: of our apps, each table once."""
    return [model for app in APPS for model in apps.get_app_config(app).get_models() if not model._meta.proxy]


def passing_tables():
    """The tables that no copy needs."""
    return [model._meta.db_table for app in PASSING for model in apps.get_app_config(app).get_models()]


@contextlib.contextmanager
def one_moment():
    """Whatever is read inside is as it was at one moment, while others go on writing."""
    if connection.vendor != "sqlite":
        with transaction.atomic(durable=True), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            yield
        return
    with connection.cursor() as cursor:  # atomic() would be immediate, and keep writers out
        cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


def write(stream):
    """Write all rows to a text stream, a line each; returns {model: number of rows}. To be called in `one_moment`."""
    counts = {}
    for model in kept_models():
        rows = Counted(model._base_manager.order_by("pk").iterator(CHUNK))
        serializers.serialize("jsonl", rows, stream=stream, cls=Exact)
        counts[model._meta.label_lower] = rows.seen
    return counts


class Counted:
    """An iterable that knows how much of it has been read."""

    def __init__(self, rows):
        self.rows, self.seen = rows, 0

    def __iter__(self):
        for row in self.rows:
            self.seen += 1
            yield row


def count(stream):
    """{model: number of rows} of written rows, each line looked at; Unreadable where one is broken."""
    counts = {model._meta.label_lower: 0 for model in kept_models()}
    for number, line in enumerate(stream, 1):
        try:
            label = json.loads(line)["model"]
            counts[label] += 1
        except (ValueError, KeyError, TypeError) as error:
            raise Unreadable(f"line {number} is no row of this program ({error})") from None
    return counts


def read(stream):
    """Put written rows into the database, whose tables have to be empty; all or nothing. Unreadable where one is."""
    try:
        with transaction.atomic(), gear_history.unrecorded():
            put_in(serializers.deserialize("jsonl", stream, ignorenonexistent=True))
            with connection.cursor() as cursor:
                for statement in connection.ops.sequence_reset_sql(no_style(), kept_models()):
                    cursor.execute(statement)
    except (serializers.base.DeserializationError, IntegrityError) as error:
        raise Unreadable(f"a row cannot be taken in ({' '.join(str(error).split())})") from None


def put_in(found):
    """Insert rows as they were read, and link them when all are there."""
    waiting, linked = [], []
    for row in found:
        if waiting and (type(waiting[0]) is not type(row.object) or len(waiting) >= CHUNK):
            insert(waiting)
            waiting = []
        waiting.append(row.object)
        if row.m2m_data:
            linked.append(row)
    insert(waiting)
    for row in linked:
        for name, keys in row.m2m_data.items():
            getattr(row.object, name).set(keys)


def insert(objects):
    """Insert rows of one model as they are."""
    if not objects:
        return
    model = type(objects[0])
    if model._meta.parents:  # the row of the parent comes on a line of its own
        for row in objects:
            row.save_base(raw=True, force_insert=True)
    else:
        model._base_manager.bulk_create(objects)


def empty_tables():
    """Delete every row of the log, and the sessions with it."""
    tables = [model._meta.db_table for model in kept_models()]
    tables += [
        field.remote_field.through._meta.db_table for model in kept_models() for field in model._meta.local_many_to_many
    ]
    here = set(connection.introspection.table_names())
    wanted = [table for table in dict.fromkeys([*tables, *passing_tables()]) if table in here]
    connection.ops.execute_sql_flush(connection.ops.sql_flush(no_style(), wanted, reset_sequences=False))


def text(binary):
    """A text stream on a binary one, which stays open."""
    return io.TextIOWrapper(binary, encoding="utf-8", newline="\n", write_through=True)
