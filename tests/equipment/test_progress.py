"""How far work is: told in steps, heard by one listener at a time, shown in a line of a terminal."""

import io
import threading
import time

import pytest

from equipment import progress
from equipment.progress import Step


class Heard(progress.Listener):
    """A listener that keeps what it hears."""

    def __init__(self):
        self.all = []

    def began(self):
        self.all.append((self.step.words, self.step.total))

    def moved(self):
        self.all.append(self.step.done)

    def ended(self):
        self.all.append("ended")


class Terminal(io.StringIO):
    """A terminal that keeps what was written on it."""

    def isatty(self):
        return True

    def seen(self):
        """What can be read on its last line."""
        shown = ""
        for text in self.getvalue().split("\r"):
            shown = text + shown[len(text):]
        return shown.rstrip()


def test_a_listener_hears_the_steps_with_what_is_done_and_how_much_there_is():
    with progress.heard_by(Heard()) as heard:
        assert list(progress.each("abc", "Reading letters", 3)) == ["a", "b", "c"]
        with progress.step("Writing") as did:
            did(7)
    assert heard.all == [("Reading letters", 3), 1, 2, 3, "ended", ("Writing", None), 7, "ended"]


def test_a_step_within_a_step_is_not_told():
    with progress.heard_by(Heard()) as heard, progress.step("Logs", 2) as did:
        list(progress.each("abc", "Contacts", 3))
        did()
    assert heard.all == [("Logs", 2), 1, "ended"]


def test_nothing_is_counted_where_nobody_listens():
    def total():
        pytest.fail("counted for nobody")

    assert list(progress.each("abc", "Reading letters", total)) == ["a", "b", "c"]
    with progress.heard_by(Heard()) as heard:
        pass
    with progress.step("Writing", total) as did:
        did()
    assert heard.all == []


def test_a_step_ends_where_its_work_is_broken_off_or_fails():
    with progress.heard_by(Heard()) as heard:
        rows = progress.each("abc", "Reading letters", 3)
        next(rows)
        rows.close()
        with pytest.raises(OSError), progress.step("Writing"):
            raise OSError
    assert heard.all == [("Reading letters", 3), "ended", ("Writing", None), "ended"]


def test_another_thread_is_not_heard():
    with progress.heard_by(Heard()) as heard:
        other = threading.Thread(target=lambda: list(progress.each("abc", "Reading letters")))
        other.start()
        other.join()
    assert heard.all == []


def test_pieces_of_an_answer_are_heard_while_they_are_made_and_nothing_in_between():
    heard = Heard()
    pieces = progress.each_heard(heard, progress.each("ab", "Making pieces", 2))
    for _ in pieces:
        list(progress.each("xyz", "Sending"))
    assert heard.all == [("Making pieces", 2), 1, 2, "ended"]


def test_pieces_that_nobody_takes_any_more_are_closed():
    heard = Heard()
    pieces = progress.each_heard(heard, progress.each("ab", "Making pieces", 2))
    next(pieces)
    pieces.close()
    assert heard.all == [("Making pieces", 2), "ended"]


@pytest.mark.parametrize(("step", "columns", "line"), [
    (Step("Writing", 100_000, done=25_000, began_s=0), 99,
     "[######..................] Writing   25 %  25 000 of 100 000  12 s"),
    (Step("Writing", 100_000, done=25_000, began_s=0), 50, "Writing   25 %  25 000 of 100 000  12 s"),
    (Step("Packing", 50_000_000, progress.BYTES, 20_400_000, 0), 99,
     "[##########..............] Packing   41 %  20 of 50 MB  12 s"),
    (Step("Counted before others came", 10, done=12, began_s=0), 99,
     "[########################] Counted before others came  100 %  10 of 10  12 s"),
    (Step("Tidying", None, done=3, began_s=0), 99, "Tidying ... 12 s"),
    (Step("Tidying", None, began_s=0), 7, "Tidying"),
    (Step("Nothing to do", 0, began_s=0), 99, "Nothing to do ... 12 s"),
])
def test_a_step_fits_into_a_line_of_plain_characters(step, columns, line):
    assert progress.line_of(step, 12.4, columns) == line and line.isascii()


def test_a_terminal_shows_what_takes_a_while_and_is_clean_afterwards(monkeypatch):
    monkeypatch.setattr(progress, "FIRST_S", 0.02)
    monkeypatch.setattr(progress, "EVERY_S", 0.01)
    terminal = Terminal()
    with progress.on_terminal(terminal):
        with progress.step("Writing", 4) as did:
            did(3)
            until(lambda: "Writing   75 %  3 of 4" in terminal.seen())
        assert terminal.seen() == ""
        terminal.write("done\n")
    assert terminal.getvalue().endswith("\rdone\n")


def test_a_terminal_shows_nothing_of_what_is_quick():
    terminal = Terminal()
    with progress.on_terminal(terminal):
        list(progress.each("abc", "Reading letters", 3))
        time.sleep(2 * progress.EVERY_S)
    assert terminal.getvalue() == ""


def test_a_terminal_that_is_gone_takes_nothing_from_the_work(monkeypatch):
    class Gone(Terminal):
        tried = 0

        def write(self, text):
            self.tried += 1
            raise OSError

    monkeypatch.setattr(progress, "FIRST_S", 0)
    monkeypatch.setattr(progress, "EVERY_S", 0.01)
    terminal = Gone()
    with progress.on_terminal(terminal), progress.step("Writing", 4) as did:
        until(lambda: terminal.tried)
        did(4)


@pytest.mark.parametrize(("stream", "wanted"), [(io.StringIO(), True), (Terminal(), False)])
def test_what_is_no_terminal_or_asked_for_as_json_gets_no_bar(monkeypatch, stream, wanted):
    monkeypatch.setattr(progress, "FIRST_S", 0)
    monkeypatch.setattr(progress, "EVERY_S", 0.01)
    with progress.on_terminal(stream, wanted=wanted), progress.step("Writing", lambda: pytest.fail("counted")):
        time.sleep(0.1)
    assert stream.getvalue() == ""


def until(happens, seconds=10):
    end = time.monotonic() + seconds
    while not happens():
        assert time.monotonic() < end
        time.sleep(0.01)
