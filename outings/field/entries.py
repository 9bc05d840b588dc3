"""Entries of a phone: JSON of unknown origin in, checked frozen entries or a refusal with its reason out.

A phone keeps every act (a contact typed, an edit, a tick, a deletion) as an entry with a UUID of its own and the whole
state of the row that it is about. Entries may come twice, late and in any order.
"""

import datetime
import json
import math
import re
import uuid
from dataclasses import dataclass

from equipment.numerals import Numeral

MOST_ENTRIES = 500  # in one request
MOST_BYTES = 2 * 1024 * 1024
MOMENT = re.compile(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.(\d{1,6}))?Z", re.ASCII)
UUID_TEXT = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}", re.ASCII)
GRID = re.compile(r"[A-R]{2}(?:[0-9]{2}(?:[A-X]{2}(?:[0-9]{2}(?:[A-X]{2})?)?)?)?", re.ASCII | re.IGNORECASE)
KINDS = ("outing", "stint", "pause", "contact", "reading", "remark", "tick")
ACTIONS = ("put", "delete")


class BadEntry(ValueError):
    """An entry, or a whole request, that cannot be taken; the message says why."""


@dataclass(frozen=True)
class Entry:
    """One act on one row.

    identity: UUID of the act; subject: UUID of the row; seq: rises with every act of a phone; base: the server's
    revision of the row that the phone had seen, 0 for none; edited_at: by the phone's clock, UTC; values: the row's
    columns after the act, checked; sent: the same as they came.
    """

    identity: uuid.UUID
    kind: str
    action: str
    subject: uuid.UUID
    seq: int
    base: int
    edited_at: datetime.datetime
    values: dict
    sent: dict


@dataclass(frozen=True)
class Refused:
    """An entry that cannot be taken: its identity as far as it can be told, and why."""

    identity: str
    reason: str


@dataclass(frozen=True)
class Request:
    """What a phone sends at once.

    phone_now: its clock when it began to send. clock_error_s: by how much its clock is fast, as it measured when it
    greeted the server, which a slow way of a large request does not spoil; None where it did not measure.
    """

    phone: uuid.UUID
    phone_now: datetime.datetime
    entries: tuple
    clock_error_s: float | None = None


def text(longest, *, needed=False, pattern=None, lines=False):
    """A check of a text: its length, whether it must be there, a pattern, whether it may have line breaks."""

    def check(value, name):
        if value is None:
            value = ""
        if not isinstance(value, str):
            raise BadEntry(f"{name}: a text is expected")
        value = value.strip()
        if len(value) > longest:
            raise BadEntry(f"{name}: at most {longest} characters")
        if any(ord(c) < 32 and not (lines and c in "\n\t") for c in value) or "\x7f" in value:
            raise BadEntry(f"{name}: control characters are not allowed")
        if any(0xD800 <= ord(c) <= 0xDFFF for c in value):
            raise BadEntry(f"{name}: broken characters are not allowed")
        if needed and not value:
            raise BadEntry(f"{name}: must not be empty")
        if value and pattern and not pattern.fullmatch(value):
            raise BadEntry(f"{name}: “{value[:20]}” does not have the right form")
        return value

    return check


def number(low, high, *, whole=False, needed=False):
    """A check of a number within bounds; None unless needed."""

    def check(value, name):
        if value is None and not needed:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise BadEntry(f"{name}: a number is expected")
        if whole and value != int(value):
            raise BadEntry(f"{name}: a whole number is expected")
        if not low <= value <= high:
            raise BadEntry(f"{name}: must lie between {Numeral(low):g} and {Numeral(high):g}")
        return int(value) if whole else float(value)

    return check


def flag(*, unknown=False):
    """A check of yes or no, or None where it may be unknown."""

    def check(value, name):
        if value is None and unknown:
            return None
        if value is None:
            return False
        if not isinstance(value, bool):
            raise BadEntry(f"{name}: true or false is expected")
        return value

    return check


def one_of(*words):
    """A check of a word from a list; empty is allowed."""

    def check(value, name):
        if value in (None, ""):
            return ""
        if value not in words:
            raise BadEntry(f"{name}: one of {', '.join(words)} is expected")
        return value

    return check


def moment(*, needed=False):
    """A check of a UTC moment such as 2026-05-01T14:05:00Z."""

    def check(value, name):
        if value in (None, "") and not needed:
            return None
        found = MOMENT.fullmatch(value) if isinstance(value, str) else None
        if not found:
            raise BadEntry(f"{name}: a UTC time such as 2026-05-01T14:05:00Z is expected")
        *parts, fraction = found.groups()
        try:
            when = datetime.datetime(*map(int, parts), int((fraction or "0").ljust(6, "0")), tzinfo=datetime.UTC)
        except ValueError:
            raise BadEntry(f"{name}: there is no such moment") from None
        if not 1930 <= when.year <= 2200:
            raise BadEntry(f"{name}: the year {when.year} cannot be meant")
        return when

    return check


def identity(*, needed=False):
    """A check of a UUID in its usual form."""

    def check(value, name):
        if value in (None, "") and not needed:
            return None
        if not isinstance(value, str) or not UUID_TEXT.fullmatch(value):
            raise BadEntry(f"{name}: a UUID is expected")
        return uuid.UUID(value)

    return check


def words(most, longest):
    """A check of a list of short texts."""

    def check(value, name):
        if value is None:
            return []
        if not isinstance(value, list) or len(value) > most:
            raise BadEntry(f"{name}: a list of at most {most} is expected")
        return [text(longest, needed=True)(one, name) for one in value]

    return check


def references(value, name):
    """A check of own references: [{"programme": ..., "reference": ...}, ...]."""
    if value is None:
        return []
    if not isinstance(value, list) or len(value) > 20:
        raise BadEntry(f"{name}: a list of at most 20 is expected")
    found = []
    for one in value:
        if not isinstance(one, dict):
            raise BadEntry(f"{name}: programme and reference are expected")
        found.append({key: text(60)(one.get(key), name) for key in ("programme", "reference")})
    return found


ROW = number(1, 2**62, whole=True)  # the primary key of a piece of gear or a site, as the server gave it
CALL = text(30, needed=True, pattern=re.compile(r"[A-Za-z0-9?]+(?:/[A-Za-z0-9?]+){0,3}", re.ASCII))
OWN_CALL = text(30, pattern=re.compile(r"[A-Za-z0-9]+(?:/[A-Za-z0-9]+){0,3}", re.ASCII))
HERTZ = number(0, 10**13, whole=True)
WATTS = number(0, 100_000)

SHAPES = {
    "outing": {
        "site": number(1, 2**62, whole=True, needed=True), "title": text(80),
        "station_call": text(30, needed=True, pattern=re.compile(r"[A-Za-z0-9]+(?:/[A-Za-z0-9]+){0,3}", re.ASCII)),
        "references": references, "window_start": moment(needed=True), "window_end": moment(), "started_at": moment(),
        "ended_at": moment(), "kit": ROW, "bands": words(40, 8), "goal_contacts": number(0, 100_000, whole=True),
        "exchange": one_of("report", "location", "serial"), "exchange_text": text(40),
        "notes": text(20_000, lines=True), "follows": identity(),
    },
    "stint": {
        "outing": identity(needed=True), "follows": identity(), "radio": ROW, "arrangement": ROW, "pack": ROW,
        "other_source": text(40), "power_w": WATTS, "band": text(8), "frequency_hz": HERTZ,
        "mode": text(20, needed=True), "submode": text(20), "tuner_in": flag(unknown=True),
        "calling": one_of("calling", "answering", "both"), "block": identity(), "swr_at_radio": number(1, 1000),
        "started_at": moment(needed=True), "ended_at": moment(), "setup_min": number(0, 10_000),
        "takedown_min": number(0, 10_000), "note": text(200),
    },
    "pause": {"stint": identity(needed=True), "started_at": moment(needed=True), "ended_at": moment()},
    "contact": {
        "outing": identity(needed=True), "stint": identity(), "call": CALL, "pending": flag(),
        "started_at": moment(needed=True), "seconds_known": flag(), "band": text(8), "frequency_hz": HERTZ,
        "mode": text(20), "submode": text(20), "rst_sent": text(20), "rst_rcvd": text(20), "station_call": OWN_CALL,
        "operator_call": OWN_CALL, "power_w": WATTS, "their_grid": text(10, pattern=GRID),
        "their_programme": text(40), "their_reference": text(60), "name": text(80), "qth": text(120),
        "state": text(20), "country": text(80), "comment": text(255), "notes": text(20_000, lines=True),
        "exchange_sent": text(60), "exchange_rcvd": text(60), "serial_sent": number(0, 10**6, whole=True),
        "serial_rcvd": number(0, 10**6, whole=True),
    },
    "reading": {
        "outing": identity(), "pack": number(1, 2**62, whole=True, needed=True), "at": moment(needed=True),
        "voltage_v": number(0, 1000, needed=True), "current_a": number(-1000, 1000),
        "temperature_c": number(-100, 150),
        "doing": one_of("resting", "receiving", "transmitting", "charging", "unknown"), "resting_since": moment(),
        "note": text(200),
    },
    "remark": {
        "outing": identity(needed=True), "at": moment(needed=True), "about": one_of("note", "noise", "voltage"),
        "value": number(-10**6, 10**6), "text": text(2_000, lines=True),
    },
    "tick": {
        "outing": identity(needed=True), "text": text(160, needed=True),
        "section": one_of("before", "pack", "arrival", "leaving"), "quantity": number(1, 1000, whole=True),
        "position": number(0, 30_000, whole=True), "ticked_at": moment(),
    },
}

NEEDED = ("site", "station_call", "window_start")  # of an outing


def read_entry(one):
    """Check one entry of a request; BadEntry with the name of what is wrong."""
    if not isinstance(one, dict):
        raise BadEntry("an entry is an object")
    act = identity(needed=True)(one.get("id"), "id")
    kind, action = one.get("kind"), one.get("action")
    if kind not in KINDS:
        raise BadEntry("kind: not known here; the server may be older than the page")
    if action not in ACTIONS:
        raise BadEntry("action: put or delete is expected")
    sent = one.get("values")
    if not isinstance(sent, dict):
        raise BadEntry("values: an object is expected")
    shape = SHAPES[kind]
    values = {}
    if action == "put":
        # Of an outing a phone may know a part only, as older pages do: what it does not name stays as it is.
        named = {name: check for name, check in shape.items() if kind != "outing" or name in sent or name in NEEDED}
        values = {name: check(sent.get(name), name) for name, check in named.items()}
        for early, late in (("started_at", "ended_at"), ("window_start", "window_end")):
            if values.get(early) and values.get(late) and values[late] < values[early]:
                raise BadEntry(f"{late}: must not be before {early}")
    return Entry(
        act, kind, action, identity(needed=True)(one.get("subject"), "subject"),
        number(1, 10**9, whole=True, needed=True)(one.get("seq"), "seq"),
        number(0, 10**9, whole=True, needed=True)(one.get("base"), "base"),
        moment(needed=True)(one.get("edited_at"), "edited_at"), values, sent,
    )


def read_request(body):
    """Check the bytes of a request: a Request whose entries are Entry or Refused. BadEntry if it is none at all."""
    if len(body) > MOST_BYTES:
        raise BadEntry("the request is too large; send fewer entries at once")
    try:
        found = json.loads(body.decode("utf-8"), parse_constant=_no_constant)
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise BadEntry("the request is not JSON") from None
    if not isinstance(found, dict) or not isinstance(found.get("entries"), list):
        raise BadEntry("the request has no list of entries")
    if len(found["entries"]) > MOST_ENTRIES:
        raise BadEntry(f"at most {MOST_ENTRIES} entries at once")
    phone = identity(needed=True)(found.get("phone"), "phone")
    now = moment(needed=True)(found.get("now"), "now")
    error_s = number(-10**10, 10**10)(found.get("clock_error_s"), "clock_error_s")
    entries = []
    for one in found["entries"]:
        try:
            entries.append(read_entry(one))
        except BadEntry as problem:
            named = one.get("id") if isinstance(one, dict) else None
            entries.append(Refused(named[:36] if isinstance(named, str) else "", str(problem)))
    return Request(phone, now, tuple(entries), error_s)


def _no_constant(word):
    raise ValueError(word)
