"""Entries of phones: what is read, what is refused, and that nothing hostile gets through."""

import json
import uuid

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outings.field import entries


def an_entry(**changes):
    entry = {
        "id": str(uuid.uuid4()), "kind": "remark", "action": "put", "subject": str(uuid.uuid4()), "seq": 1, "base": 0,
        "edited_at": "2026-05-01T14:05:00Z",
        "values": {"outing": str(uuid.uuid4()), "at": "2026-05-01T14:04:59.5Z", "about": "noise", "value": 5},
    }
    return {**entry, **changes}


def body(*some, **changes):
    request = {"phone": "a7d5a8db-6b7a-4521-8cd6-b1db0d42ea40", "now": "2026-05-01T14:06:00Z", "entries": list(some)}
    return json.dumps({**request, **changes}).encode()


def test_an_entry_is_read_with_its_kind_values_and_what_was_sent():
    sent = an_entry()
    (entry,) = entries.read_request(body(sent)).entries
    assert entry.values["value"] == 5.0 and entry.values["text"] == "" and entry.sent == sent["values"]
    assert entry.values["at"].microsecond == 500_000


@pytest.mark.parametrize(
    ("changes", "word"),
    [({"id": "x"}, "UUID"), ({"kind": "poem"}, "kind"), ({"action": "burn"}, "action"), ({"seq": 0}, "seq"),
     ({"base": -1}, "base"), ({"edited_at": "yesterday"}, "UTC time"), ({"values": []}, "values"),
     ({"values": {"outing": str(uuid.uuid4()), "at": "2026-02-30T00:00:00Z"}}, "no such moment"),
     ({"values": {"at": "2026-05-01T14:05:00Z"}}, "outing"), ({"seq": True}, "number")],
)
def test_a_bad_entry_is_refused_by_itself_and_the_others_are_read(changes, word):
    good = an_entry()
    bad, fine = entries.read_request(body(an_entry(**changes), good)).entries
    assert isinstance(bad, entries.Refused) and word in bad.reason
    assert isinstance(fine, entries.Entry)


@pytest.mark.parametrize(
    ("values", "word"),
    [({"call": "Q1'); DROP"}, "call"), ({"their_grid": "ZZ99"}, "their_grid"), ({"power_w": float("1e400")}, "JSON"),
     ({"comment": "x" * 300}, "comment"), ({"comment": "a\x00b"}, "control"), ({"serial_rcvd": 1.5}, "whole")],
)
def test_a_bad_value_is_named(values, word):
    contact = {"outing": str(uuid.uuid4()), "call": "Q1ABC", "started_at": "2026-05-01T14:05:00Z", "mode": "CW"}
    sent = body(an_entry(kind="contact", values={**contact, **values}))
    if word == "JSON":
        with pytest.raises(entries.BadEntry, match=word):
            entries.read_request(sent)
        return
    (entry,) = entries.read_request(sent).entries
    assert word in entry.reason


@pytest.mark.parametrize(
    ("sent", "word"),
    [(b"", "JSON"), (b"[]", "list of entries"), (b"\xff\xfe", "JSON"), (b"[" * 100_000, "JSON"),
     (body(phone="me"), "phone"), (body(now=None), "now"), (body(*[0] * 501), "at most"),
     (b'{"x": "' + b"a" * entries.MOST_BYTES + b'"}', "too large"), (b'{"entries": NaN}', "JSON")],
)
def test_a_request_that_is_none_is_refused(sent, word):
    with pytest.raises(entries.BadEntry, match=word):
        entries.read_request(sent)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4), max_leaves=12,
)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(kind=st.sampled_from(entries.KINDS), name=st.data())
def test_any_value_in_any_place_is_read_or_refused_with_a_reason(kind, name):
    shape = entries.SHAPES[kind]
    values = {key: name.draw(JSON) for key in shape}
    (entry,) = entries.read_request(body(an_entry(kind=kind, values=values))).entries if _plain(values) else (None,)
    assert entry is None or isinstance(entry, entries.Entry) or entry.reason


def _plain(values):
    return "NaN" not in json.dumps(values) and "Infinity" not in json.dumps(values)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.binary(max_size=400) | JSON.map(lambda value: json.dumps(value).encode()))
def test_any_body_is_read_or_refused(sent):
    try:
        entries.read_request(sent)
    except entries.BadEntry as problem:
        assert str(problem)
