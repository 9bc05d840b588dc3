"""Databases of an older or a newer release, beside the one that the tests run on."""

import contextlib
import shutil
import uuid
from unittest import mock

from django.db import connection, connections, migrations
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from stationlog.backups import releases

CALLED_NOW = {"outings.sharedreport": "outings.sharedpage"}  # models that have another name since
FIRST = {(app, "0001_first_release") for app in releases.APPS}


@contextlib.contextmanager
def another_database(folder, like=None):
    """A database of the same kind as that of the tests, empty or a copy of one, which is the default one inside."""
    with beside(folder, like) as database, standing_in(database):
        yield


@contextlib.contextmanager
def beside(folder, like=None):
    """The file or the name of a database of the same kind, empty or a copy of one that nobody is connected to."""
    if connection.vendor == "postgresql":
        with on_the_server(like or "template0") as name:
            yield name
        return
    path = folder / f"another-{uuid.uuid4().hex[:12]}.sqlite3"
    if like:
        shutil.copy(like, path)
    yield path


def standing_in(database):
    """Inside, that database is the default one."""
    return standing_on(database) if connection.vendor == "postgresql" else releases.standing_in(database)


@contextlib.contextmanager
def on_the_server(template="template0"):
    """The name of a database of its own on PostgreSQL, empty or a copy of another one."""
    name = f"another_{uuid.uuid4().hex[:12]}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name} TEMPLATE {template} ENCODING 'UTF8'")
    try:
        yield name
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


@contextlib.contextmanager
def standing_on(name):
    """Inside, that database of PostgreSQL is the default one."""
    real = connections["default"]
    connections["default"] = other = type(real)({**real.settings_dict, "NAME": name}, "default")
    try:
        yield
    finally:
        other.close()
        connections["default"] = real


def at_the_first_release():
    """Bring an empty database to the schema of the first release; returns the models of that time."""
    others = [leaf for leaf in MigrationLoader(None).graph.leaf_nodes() if leaf[0] not in releases.APPS]
    MigrationExecutor(connection).migrate([*others, *sorted(FIRST)])
    return releases.registry(FIRST)


@contextlib.contextmanager
def later_step(*operations, name="0998_a_later_step", app="outings"):
    """Inside, the program knows one step more, which does these operations."""
    before = [step for step in releases.ends(set(releases.missing(set()))) if step[0] == app]
    read = MigrationLoader.load_disk

    def read_more(loader):
        read(loader)
        step = migrations.Migration(name, app)
        step.dependencies, step.operations = before, list(operations)
        loader.disk_migrations[app, name] = step

    with mock.patch.object(MigrationLoader, "load_disk", read_more):
        yield app, name
