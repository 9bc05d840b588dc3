"""What this computer is called on the home network."""

import ipaddress
import socket

import pytest

from stationlog.phones import network


@pytest.mark.parametrize(
    ("hostname", "name"),
    [
        ("quiet-box", "quiet-box.local"),
        ("Quiet-Box.local", "quiet-box.local"),  # what macOS says
        ("QUIETBOX.home.example", "quietbox.local"),
        ("Robin's laptop", "robin-s-laptop.local"),
        ("größe_7", "gr-e-7.local"),
        ("x" * 80, f"{'x' * 63}.local"),  # a label has at most 63 characters: RFC 1035, 2.3.4
        ("localhost", ""),
        ("", ""),
        ("---", ""),
    ],
)
def test_the_name_follows_from_what_the_system_calls_the_computer(hostname, name):
    assert network.local_name(hostname) == name


def test_without_being_told_the_system_is_asked(monkeypatch):
    monkeypatch.setattr(socket, "gethostname", lambda: "Reed-Box")
    assert network.local_name() == "reed-box.local"


@pytest.mark.parametrize(
    ("address", "private"),
    [
        ("10.1.2.3", True), ("172.16.0.1", True), ("172.31.255.1", True), ("192.168.178.20", True),
        ("169.254.7.7", True), ("127.0.0.1", False), ("172.32.0.1", False), ("192.169.0.1", False),
        ("203.0.113.5", False),
    ],
)
def test_addresses_of_home_networks_are_told_from_others(address, private):
    """RFC 1918, section 3, and RFC 3927, section 2.1; the rest of 172/8 and 192/8 is not private."""
    assert network.is_private(address) is private


def test_only_private_addresses_are_found_each_once_that_of_the_way_out_first(monkeypatch):
    class Probe:
        def __init__(self, *args):
            pass

        def __enter__(self):
            return self

        def __exit__(self, *args):
            pass

        def connect(self, target):
            if target[0].startswith("10."):
                raise OSError("no way there")
            self.target = target[0]

        def getsockname(self):
            return ("192.168.5.20" if self.target == "192.0.2.1" else "203.0.113.9", 4711)

    monkeypatch.setattr(socket, "socket", Probe)
    own = ["127.0.1.1", "192.168.5.20", "10.0.0.7"]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *args: [(0, 0, 0, "", (address, 0)) for address in own])
    assert network.addresses() == ("192.168.5.20", "10.0.0.7")


def test_asking_the_real_system_sends_nothing_and_finds_private_addresses_or_none():
    for address in network.addresses():
        assert ipaddress.ip_address(address).is_private
