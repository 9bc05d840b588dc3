"""How far a long piece of work is: told by what does it, shown by whoever listens; pure.

Work tells its steps whether or not somebody listens, which costs it next to nothing:

    with progress.step("Writing contacts", contacts.count) as did:
        for part in parts:
            ...
            did(len(part))

Who listens is heard for the length of a request or a command, in that thread only: a line on the terminal
(`on_terminal`), or a note for the page that waits (outings/waiting.py). Of a step within a step only the outer one
is told. A library would draw bars on terminals only, and could not before libraries are installed.
"""

import contextlib
import shutil
import sys
import threading
import time
from contextvars import ContextVar
from dataclasses import dataclass, field

BYTES = "bytes"
FIRST_S = 0.7  # work that is quicker shows nothing
EVERY_S = 0.25
BAR = 24  # characters

_listener = ContextVar("who hears how far work is", default=None)


@dataclass
class Step:
    """One step of some work; `total` is None where it cannot be known. In BYTES, or without a unit."""

    words: str
    total: int | None = None
    unit: str = ""
    done: int = 0
    began_s: float = field(default_factory=time.monotonic)

    @property
    def share(self):
        """How much of it is done, from 0 to 1; None where that cannot be known."""
        return min(1.0, self.done / self.total) if self.total else None

    def __str__(self):
        """How far it is, such as 12 000 of 100 000; empty where that cannot be known."""
        if not self.total:
            return ""
        done = min(self.done, self.total)  # what was counted beforehand may have grown since
        if self.unit == BYTES:
            return f"{done / 1e6:.0f} of {self.total / 1e6:.0f} MB"
        return f"{parted(done)} of {parted(self.total)}"


def parted(number):
    """A whole number, its thousands parted by narrow spaces from 10 000 on, as on pages."""
    return f"{number:,}".replace(",", "\u202f") if number >= 10_000 else str(number)


class Listener:
    """Hears of one step after the other. Whoever shows them overrides `began`, `moved` and `ended`."""

    step = None

    def begin(self, step):
        self.step = step
        self.began()

    def did(self, count=1):
        """So much more of the step is done."""
        self.step.done += count
        self.moved()

    def end(self):
        self.step = None
        self.ended()

    def began(self):
        pass

    def moved(self):
        pass

    def ended(self):
        pass


def unheard(count=1):
    """What a step is told by where nobody listens."""


@contextlib.contextmanager
def heard_by(listener):
    """Have a Listener hear of all steps until the block ends."""
    before = _listener.set(listener)
    try:
        yield listener
    finally:
        _listener.reset(before)


@contextlib.contextmanager
def step(words, total=None, unit=""):
    """A step of some work; gives the function that is called with how much more of it is done.

    `total` may be a function, which is asked only where somebody listens.
    """
    listener = _listener.get()
    if listener is None or listener.step is not None:
        yield unheard
        return
    listener.begin(Step(words, total() if callable(total) else total, unit))
    try:
        yield listener.did
    finally:
        listener.end()


def each(rows, words, total=None, unit=""):
    """The same rows, told as they are taken, one by one."""
    with step(words, total, unit) as did:
        for row in rows:
            yield row
            did()


def each_heard(listener, pieces):
    """The pieces of an answer that is streamed, with the Listener hearing of the steps that make them."""
    pieces = iter(pieces)
    try:
        while True:
            with heard_by(listener):
                try:
                    piece = next(pieces)
                except StopIteration:
                    return
            yield piece
    finally:
        if hasattr(pieces, "close"):
            pieces.close()


@contextlib.contextmanager
def on_terminal(stream=None, *, wanted=True):
    """Show the steps of a command in a line of the terminal, if standard error is one. It is a decorator, too."""
    stream = stream or sys.stderr
    if not wanted or _listener.get() is not None or not is_terminal(stream):
        yield
        return
    with contextlib.closing(Line(stream)) as line, heard_by(line):
        yield


def is_terminal(stream):
    """Whether somebody looks on; a program without a window has no standard error at all."""
    return stream is not None and stream.isatty()


class Line(Listener):
    """The last line of a terminal: drawn by a thread of its own, so that time goes on, and wiped after each step."""

    def __init__(self, stream):
        self.stream, self.shown = stream, ""
        self.lock, self.over = threading.Lock(), threading.Event()
        threading.Thread(target=self.keep_drawing, daemon=True).start()

    def keep_drawing(self):
        while not self.over.wait(EVERY_S):
            with self.lock:
                if self.step and time.monotonic() - self.step.began_s >= FIRST_S:
                    self.draw(line_of(self.step, time.monotonic(), shutil.get_terminal_size().columns - 1))

    def begin(self, step):
        with self.lock:
            super().begin(step)

    def end(self):
        with self.lock:
            super().end()

    def ended(self):
        if self.shown:
            self.draw("")
            self.draw_raw("\r")

    def draw(self, text):
        """Put a text in place of what the line shows."""
        self.draw_raw("\r" + text.ljust(len(self.shown)))
        self.shown = text

    def draw_raw(self, text):
        with contextlib.suppress(OSError, ValueError):  # a terminal that is gone takes nothing from the work
            self.stream.write(text)
            self.stream.flush()

    def close(self):
        self.over.set()


def line_of(step, now_s, columns):
    """A step as a line of plain characters that is at most so many columns long."""
    seconds = f"{now_s - step.began_s:.0f} s"
    if step.share is None:
        return f"{step.words} ... {seconds}"[:columns]
    full = round(BAR * step.share)
    told = f"{step.words}  {100 * step.share:3.0f} %  {step}  {seconds}".replace("\u202f", " ")
    bar = f"[{'#' * full}{'.' * (BAR - full)}] "
    return (bar + told if len(bar + told) <= columns else told)[:columns]
