"""How far the work is that a page waits for: noted by the process that does it, where any other can read it.

A page gives what it waits for a name that cannot be guessed (static/base.js), in a header where a script asks, else in
a cookie that comes along when the browser goes to the next page or fetches a file. The request that bears the name
notes how far it is, and the page asks for the note meanwhile. A note that cannot be written is missed by the page only.
"""

import contextlib
import re
import time

from django.core.cache import caches

from equipment import progress

NAME = re.compile(r"[0-9a-f]{32}")
COOKIE, HEADER = "awaits", "X-Awaits"
KEPT_S = 120
FIRST_S, EVERY_S = 0.5, 0.25


def name_in(request):
    """The name that a page gave to what it waits for; None where no page waits for this answer."""
    name = request.headers.get(HEADER)
    if name is None and request.headers.get("Sec-Fetch-Dest", "document") == "document":
        name = request.COOKIES.get(COOKIE)
    return name if name and NAME.fullmatch(name) else None


def noted(name):
    """What was noted last under a name: {} where nothing was, or all is done."""
    with contextlib.suppress(OSError):
        return caches["waiting"].get(name) or {}
    return {}


class Note(progress.Listener):
    """The note on one piece of work, written a few times a second once it takes a while."""

    def __init__(self, name):
        self.name, self.next_s = name, time.monotonic() + FIRST_S

    def began(self):
        if self.step.total is None:  # nothing will move before its end
            self.next_s = 0
        self.moved()

    def moved(self):
        now_s = time.monotonic()
        if now_s >= self.next_s:
            self.next_s = now_s + EVERY_S
            self.write(words=self.step.words, said=str(self.step), share=self.step.share)

    def write(self, **found):
        with contextlib.suppress(OSError):
            caches["waiting"].set(self.name, found, KEPT_S)

    def forget(self):
        with contextlib.suppress(OSError):
            caches["waiting"].delete(self.name)

    def to_its_end(self, pieces):
        """The pieces of a file, noted while they are sent, and whether all of them were made."""
        self.write(words="Making the file", said="", share=None)
        return self._noted(pieces)

    def _noted(self, pieces):
        try:
            yield from progress.each_heard(self, pieces)
        except GeneratorExit:  # whoever asked for it has broken it off
            self.forget()
            raise
        except BaseException:
            self.write(failed=True)
            raise
        self.forget()
