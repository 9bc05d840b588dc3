"""Costly answers of pure functions, remembered where all processes of the server find them."""

import contextlib
import functools
import hashlib
from pathlib import Path

from django.core.cache import cache

from equipment import numerals
from outings import evidence

KEEP_S = 30 * 24 * 3600


@functools.cache
def code_version():
    """A digest of the modules of evidence, so that nothing of an older version is ever remembered."""
    digest = hashlib.sha256()
    for path in sorted(Path(evidence.__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def remembered(function, *arguments, **named):
    """What a pure function of outings.evidence gives for these arguments.

    The key is a digest of the data themselves: whatever changes in the log, by whichever door, changes it, and the
    answer for data that come back is there again. The sign before decimals belongs to it, since answers hold sentences.
    An exception is not remembered.
    """
    data = repr((function.__module__, function.__qualname__, numerals.sign(), arguments, sorted(named.items())))
    key = f"evidence-{hashlib.sha256((code_version() + data).encode()).hexdigest()}"
    found = cache.get(key)
    if found is None:
        found = function(*arguments, **named)
        with contextlib.suppress(OSError):  # a full disk costs time, not the answer
            cache.set(key, found, KEEP_S)
    return found
