"""What this computer is called on the home network, and its addresses there."""

import contextlib
import ipaddress
import re
import socket

# RFC 1918, and RFC 3927 for networks without a router. Nothing else is served, so nothing else is certified.
PRIVATE = tuple(map(ipaddress.IPv4Network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16")))
FAR = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254")  # the first is nowhere: RFC 5737


def local_name(hostname=None):
    """The name under which multicast DNS (RFC 6762) finds this computer, such as quiet-box.local; empty if it has none.

    `hostname` is what the system calls the computer, and is asked for if it is not given.
    """
    first = (socket.gethostname() if hostname is None else hostname).split(".")[0].lower()
    word = re.sub(r"[^a-z0-9-]+", "-", first)[:63].strip("-")
    return f"{word}.local" if word and word != "localhost" else ""


def is_private(address):
    """Whether this is an address of a home network."""
    return any(ipaddress.IPv4Address(address) in network for network in PRIVATE)


def addresses():
    """The private IPv4 addresses of this computer as a tuple of texts, the one that leads furthest first."""
    found = []
    for target in FAR:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
            probe.connect((target, 9))  # for datagrams this only chooses a way out: nothing is sent
            found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(address for address in dict.fromkeys(found) if is_private(address))
