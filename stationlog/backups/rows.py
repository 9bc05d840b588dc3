"""Every row of the program as lines of JSON, through the models, and back: the same for SQLite and PostgreSQL."""

import contextlib
import datetime
import io
import json

from django.apps import apps
from django.core import serializers
from django.core.management.color import no_style
from django.core.serializers import jsonl
from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, connection, transaction

from equipment import progress
from equipment.models import gear_history

from . import releases

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


def kept_models(registry=apps):
    """The models whose rows are the log: of our apps, each table once; of an older release by its registry."""
    found = (model for app in releases.APPS for model in registry.get_app_config(app).get_models())
    return [model for model in found if not model._meta.proxy]


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


def write(stream, registry=apps):
    """Write all rows to a text stream, a line each; returns {model: number of rows}. To be called in `one_moment`."""
    counts, models = {}, kept_models(registry)
    with progress.step("Writing the rows", lambda: sum(model._base_manager.count() for model in models)) as did:
        for model in models:
            rows = Counted(model._base_manager.order_by("pk").iterator(CHUNK), did)
            Lines().serialize(rows, stream=stream, cls=Exact)
            counts[model._meta.label_lower] = rows.seen
    return counts


class Lines(jsonl.Serializer):
    """A line for each row, with everything that it is tied to: Django's own leaves out what was deleted."""

    def handle_m2m_field(self, row, field):
        through = field.remote_field.through
        if through._meta.auto_created:
            tied = through._base_manager.filter(**{field.m2m_field_name(): row.pk})
            other = f"{field.m2m_reverse_field_name()}_id"
            self._current[field.name] = list(tied.order_by(other).values_list(other, flat=True))


class Counted:
    """An iterable that knows how much of it has been read, and tells it."""

    def __init__(self, rows, did):
        self.rows, self.did, self.seen = rows, did, 0

    def __iter__(self):
        for row in self.rows:
            self.seen += 1
            yield row
            self.did()


def count(stream, labels):
    """{model: number of rows} of written rows, each line looked at; Unreadable where one is broken or of no label."""
    counts = dict.fromkeys(labels, 0)
    for number, line in enumerate(stream, 1):
        try:
            label = json.loads(line)["model"]
            counts[label] += 1
        except (ValueError, KeyError, TypeError) as error:
            raise Unreadable(f"line {number} is no row of this program ({error})") from None
    return counts


class Found(jsonl.Deserializer):
    """The rows of a stream, as models of a registry."""

    def __init__(self, stream, registry):
        super().__init__(stream)
        self.registry = registry

    def _get_model_from_node(self, label):
        try:
            return self.registry.get_model(label)
        except (LookupError, TypeError, ValueError):
            raise serializers.base.DeserializationError(f"there is no {label}") from None


def read(stream, registry=apps, total=None):
    """Put written rows into the database, whose tables have to be empty; all or nothing. Unreadable where one is.

    `total` is how many there are, where that is known.
    """
    try:
        with transaction.atomic(), gear_history.unrecorded():
            put_in(progress.each(Found(stream, registry), "Taking the rows in", total))
            with connection.cursor() as cursor:
                for statement in connection.ops.sequence_reset_sql(no_style(), kept_models(registry)):
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
    stamped = any(getattr(field, "auto_now", False) or getattr(field, "auto_now_add", False)
                  for field in model._meta.concrete_fields)  # with the moment of now, unless it is saved raw
    if stamped or model._meta.parents:  # the row of the parent comes on a line of its own
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
