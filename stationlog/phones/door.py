"""The door for phones: what is served under which name and addresses, kept up to date while the program runs."""

import contextlib
import json
from dataclasses import asdict, dataclass

from stationlog import launch

from . import authority, network


class NoName(ValueError):
    """The system has no name for this computer."""


@dataclass(frozen=True)
class Served:
    """What phones find on the home network: one HTTPS server under a name and several addresses."""

    name: str
    addresses: tuple
    port: int
    fingerprint: str

    @property
    def hosts(self):
        """The name first: it stays while addresses come and go."""
        return (self.name, *self.addresses)

    @property
    def origins(self):
        """The addresses of the HTTPS server, each a place of its own to a browser."""
        return tuple(f"https://{host}" if self.port == 443 else f"https://{host}:{self.port}" for host in self.hosts)

    @property
    def certificate_port(self):
        """The port of the plain page that hands out the authority's certificate: the next one."""
        return self.port + 1

    @property
    def certificate_pages(self):
        """Where that page is, by address first, since that needs no name service."""
        return tuple(f"http://{host}:{self.certificate_port}/" for host in (*self.addresses, self.name))


class Door:
    """Keeps authority, server certificate and the note on what is served, all in the folder `phone` of the data."""

    def __init__(self, data_folder, port):
        self.folder = data_folder / "phone"
        self.port = port
        self.served = None
        self.authority = None

    @property
    def leaf(self):
        """The server's certificate and key."""
        return self.folder / "server.pem"

    def refresh(self, now):
        """Bring everything up to date with the computer's present name and addresses.

        Returns whether something changed, so that the server has to be started anew. Raises NoName and
        authority.Unreadable.
        """
        name, addresses = network.local_name(), network.addresses()
        if not name:
            raise NoName("this computer has no name")
        self.authority, _ = authority.keep_authority(self.folder, name, now)
        renewed = authority.keep_leaf(self.authority, self.leaf, addresses, now)
        served = Served(name, addresses, self.port, self.authority.fingerprint)
        changed = renewed or served != self.served
        if changed:
            authority.write_secret(note(self.folder.parent), json.dumps(asdict(served)).encode())
        self.served = served
        return changed

    def close(self):
        """Take the note away: nothing is served any more."""
        forget(self.folder.parent)


def note(data_folder):
    return data_folder / "phone" / "served.json"


def forget(data_folder):
    """What a program left that was ended too suddenly to do it itself."""
    with contextlib.suppress(OSError):
        note(data_folder).unlink(missing_ok=True)


def noted(data_folder):
    """What the program says it serves; None if that is nothing."""
    try:
        found = json.loads(note(data_folder).read_bytes())
        return Served(found["name"], tuple(found["addresses"]), found["port"], found["fingerprint"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def open_now(data_folder):
    """What is really served at this moment; None if nothing answers there."""
    served = noted(data_folder)
    return served if served and launch.answers(served.port) else None


def authority_kept(data_folder, served):
    """The authority of what is served, read from where the door keeps it."""
    return authority.read_authority(data_folder / "phone" / f"{served.name}.pem", served.name)
