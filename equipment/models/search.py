"""Search that folds the case of every script's letters, alike on SQLite and PostgreSQL: the lookup `holds`."""

import json

from django.db import models
from django.db.backends.signals import connection_created
from django.db.models.functions import Coalesce
from django.dispatch import receiver


def folded(text):
    """Capitals, by the full case mapping of Unicode: what `holds` compares; None stays None."""
    return None if text is None else str(text).upper()


def readable(document):
    """A JSON document with its letters as they are instead of escaped."""
    return None if document is None else json.dumps(json.loads(document), ensure_ascii=False)


@receiver(connection_created)
def teach_sqlite(connection, **_):
    """SQLite's own LIKE and UPPER know the letters of ASCII only."""
    if connection.vendor == "sqlite":
        connection.connection.create_function("stationlog_folded", 1, folded, deterministic=True)
        connection.connection.create_function("stationlog_readable", 1, readable, deterministic=True)


@models.CharField.register_lookup
@models.TextField.register_lookup
class Holds(models.Lookup):
    """The text holds another one, whatever the case of their letters."""

    lookup_name = "holds"
    prepare_rhs = False

    def as_sql(self, compiler, connection):
        text, parameters = self.process_lhs(compiler, connection)
        return f"STRPOS(UPPER(({text})::text COLLATE \"und-x-icu\"), %s) > 0", (*parameters, folded(self.rhs))

    def as_sqlite(self, compiler, connection):
        text, parameters = self.process_lhs(compiler, connection)
        return f"INSTR(stationlog_folded({text}), %s) > 0", (*parameters, folded(self.rhs))


class ReadableJSON(models.Func):
    """A JSON column as text, to be searched."""

    output_field = models.TextField()
    template = "(%(expressions)s)::text"

    def as_sqlite(self, compiler, connection, **context):
        return self.as_sql(compiler, connection, template="stationlog_readable(%(expressions)s)", **context)


class Together(models.Func):
    """Texts as one, with a character between them that nobody types."""

    output_field = models.TextField()
    template = "(%(expressions)s)"
    arg_joiner = " || chr(31) || "

    def as_sqlite(self, compiler, connection, **context):
        return self.as_sql(compiler, connection, arg_joiner=" || char(31) || ", **context)


def any_holds(text, *columns):
    """Q: at least one of the columns holds the text. They are folded together, which takes a fraction of the time."""
    return models.Q(Holds(Together(*(Coalesce(column, models.Value("")) for column in columns)), text))
