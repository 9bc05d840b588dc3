"""The release that a database or a backup is from: the steps (migrations) it has gone, and the models of its time.

What is older is read by the models that it was written with, and goes the steps that are missing; what is newer is
refused.
"""

import contextlib

from django.apps import apps
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.core.management.commands import migrate
from django.db import connection, connections
from django.db.backends.sqlite3.base import DatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from equipment import progress

APPS = ("stationlog", "equipment", "outings")


def gone():
    """The steps that the database has gone, as (app, name) pairs; none of an empty one."""
    return set(MigrationRecorder(connection).applied_migrations())


def has_accounts():
    """Whether the database has rows that somebody would miss, whatever release it is of."""
    with connection.cursor() as cursor:
        if "stationlog_operator" not in connection.introspection.table_names(cursor):
            return False
        cursor.execute("SELECT 1 FROM stationlog_operator LIMIT 1")
        return cursor.fetchone() is not None


def named(texts):
    """Steps from a backup's list, each of which is "app name"."""
    return {tuple(text.split(" ", 1)) for text in texts}


def newer(steps):
    """Those of our steps that this program does not know, in order."""
    known = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    return sorted(step for step in steps if step[0] in APPS and step not in known)


def missing(steps):
    """Those that this program knows and that were not gone, in the order of going them."""
    graph = MigrationLoader(None, ignore_no_migrations=True).graph
    plan = [step for leaf in graph.leaf_nodes() for step in graph.forwards_plan(leaf)]
    return [step for step in dict.fromkeys(plan) if step not in steps]


def ends(steps):
    """The last of our steps that were gone, one an app."""
    graph = MigrationLoader(None, ignore_no_migrations=True).graph
    ours = {step for step in steps if step[0] in APPS and step in graph.nodes}
    before = {parent.key for step in ours for parent in graph.node_map[step].parents if parent.key[0] == step[0]}
    return sorted(ours - before)


def registry(steps):
    """The models as they were after some steps: those of the program where none of ours is missing."""
    if not [step for step in missing(steps) if step[0] in APPS]:
        return apps
    return MigrationLoader(None).project_state(ends(steps)).apps


@contextlib.contextmanager
def standing_in(path):
    """Inside, a SQLite file of its own is the database of everything that this thread does."""
    real = connections["default"]
    given = {"ENGINE": "django.db.backends.sqlite3", "NAME": path, "OPTIONS": {
        "init_command": "PRAGMA journal_mode=MEMORY; PRAGMA synchronous=OFF;",  # it is thrown away if this fails
    }}
    connections["default"] = beside = DatabaseWrapper(
        connections.configure_settings({"default": given})["default"], "default"
    )
    ContentType.objects.clear_cache()
    try:
        yield
    finally:
        beside.close()
        connections["default"] = real
        ContentType.objects.clear_cache()


def go(steps):
    """Bring an empty database to where these steps lead."""
    with progress.step("Making tables as they were then"):
        MigrationExecutor(connection).migrate(ends(steps))


def go_on():
    """Bring the database to where this program's steps lead, as it is, without more ado."""
    with progress.step("Bringing it up to date"):
        call_command(migrate.Command(), verbosity=0, interactive=False)


def may_be_taken_back(step):
    """Whether a step can be one part of a larger transaction."""
    return MigrationLoader(None).get_migration(*step).atomic
