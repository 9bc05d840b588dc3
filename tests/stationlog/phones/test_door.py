"""The door for phones: what is served, when it changes, and what is left when the program ends."""

import datetime
import json
import socket

import pytest

from stationlog import launch
from stationlog.phones import authority, door, network
from tests.starting import unused_port

NOW = datetime.datetime(2026, 5, 1, 12, tzinfo=datetime.UTC)


@pytest.fixture
def surroundings(monkeypatch):
    """A computer whose name and addresses can be changed."""
    found = {"name": "quiet-box.local", "addresses": ("192.168.5.20",)}
    monkeypatch.setattr(network, "local_name", lambda: found["name"])
    monkeypatch.setattr(network, "addresses", lambda: found["addresses"])
    return found


def test_the_door_serves_the_name_first_and_notes_it_for_the_pages(tmp_path, surroundings):
    opened = door.Door(tmp_path, 8443)
    assert opened.refresh(NOW)
    assert opened.served.origins == ("https://quiet-box.local:8443", "https://192.168.5.20:8443")
    assert opened.served.certificate_pages == ("http://192.168.5.20:8444/", "http://quiet-box.local:8444/")
    assert door.noted(tmp_path) == opened.served
    assert door.authority_kept(tmp_path, opened.served).der == opened.authority.der
    opened.close()
    assert door.noted(tmp_path) is None
    opened.close()


def test_a_standard_port_is_left_out_of_the_address():
    assert door.Served("quiet-box.local", (), 443, "").origins == ("https://quiet-box.local",)


def test_it_changes_with_the_network_and_only_then(tmp_path, surroundings):
    opened = door.Door(tmp_path, 8443)
    opened.refresh(NOW)
    certificate, vouching = opened.leaf.read_bytes(), opened.authority.fingerprint
    assert not opened.refresh(NOW)
    surroundings["addresses"] = ("192.168.5.21", "10.0.0.7")
    assert opened.refresh(NOW)
    assert opened.leaf.read_bytes() != certificate
    assert opened.authority.fingerprint == vouching, "phones that trust it need nothing new"
    assert door.noted(tmp_path).addresses == ("192.168.5.21", "10.0.0.7")
    surroundings["name"] = "renamed.local"
    assert opened.refresh(NOW)
    assert opened.authority.fingerprint != vouching
    assert door.noted(tmp_path).name == "renamed.local"


def test_the_next_start_goes_on_with_the_same_certificate(tmp_path, surroundings):
    door.Door(tmp_path, 8443).refresh(NOW)
    certificate = (tmp_path / "phone" / "server.pem").read_bytes()
    again = door.Door(tmp_path, 8443)
    again.refresh(NOW + datetime.timedelta(days=30))
    assert again.leaf.read_bytes() == certificate


def test_a_computer_without_a_name_and_a_spoilt_authority_are_refused(tmp_path, surroundings):
    surroundings["name"] = ""
    with pytest.raises(door.NoName):
        door.Door(tmp_path, 8443).refresh(NOW)
    surroundings["name"] = "quiet-box.local"
    (tmp_path / "phone").mkdir()
    (tmp_path / "phone" / "quiet-box.local.pem").write_text("spoilt")
    with pytest.raises(authority.Unreadable):
        door.Door(tmp_path, 8443).refresh(NOW)


def test_what_a_killed_program_left_behind_is_not_taken_for_an_open_door(tmp_path, surroundings):
    with socket.socket() as probe:
        port = unused_port()
        probe.bind((launch.ADDRESS, port))
        probe.listen()
        door.Door(tmp_path, port).refresh(NOW)
        assert door.open_now(tmp_path).port == port
    assert door.open_now(tmp_path) is None


@pytest.mark.parametrize("content", ["", "{", "[]", "null", json.dumps({"name": "quiet-box.local"})])
def test_a_spoilt_note_counts_as_none(tmp_path, content):
    (tmp_path / "phone").mkdir()
    door.note(tmp_path).write_text(content)
    assert door.noted(tmp_path) is None
