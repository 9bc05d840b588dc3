"""What a test needs from outside: where this system has none, the test says so and the closing list names it."""

import importlib
import os

import pytest

MARK = "not tried"


def in_ci():
    """Whether this run must try everything."""
    return os.environ.get("CI", "").lower() in ("1", "true", "yes")


def not_tried(name, reason, *, optional=False):
    """Leave the running test (or the module being collected), to be listed at the end as not tried on this system.

    With CI=true anything that was not tried fails the whole run, except what is `optional`: a thing that no
    package manager can bring.
    """
    word = f"{MARK} (optional)" if optional else MARK
    pytest.skip(f"{word}: {name}: {reason}", allow_module_level=True)


def reference_library(module, package=None):
    """Import a library that only serves as a witness, or leave the test where the system has no wheel of it."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        not_tried(package or module, f"cannot be imported here ({error})")


def file_from(variable, name):
    """The path that an environment variable names, or leave the test: a file that is not part of the project."""
    path = os.environ.get(variable, "")
    if not path:
        not_tried(name, f"set {variable} to its path", optional=True)
    if not os.path.isfile(path):
        pytest.fail(f"{variable} names {path}, which is no file")
    return path
