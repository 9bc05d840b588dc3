"""The certificate authority of this one computer, and the certificate that its HTTPS server shows to phones.

The authority can vouch for nothing but the computer's own `.local` name and addresses of home networks: its name
constraints say so, and are critical, as RFC 5280 (4.2.1.10) demands. A client that does not know the extension then
refuses the certificate instead of trusting it too far; Chromium and OpenSSL are held to it in the tests, Apple's and
Android's own checks are known to honour it (from memory). There is one authority for each name that the computer had,
so a name that comes back finds the one that phones trust already.
"""

import datetime
import ipaddress
import os
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from .network import PRIVATE

DAY = datetime.timedelta(days=1)
AUTHORITY_DAYS = 3650
LEAF_DAYS = 397  # phones refuse certificates that are valid for longer
RENEWED_DAYS = 60  # before its end a certificate is renewed


class Unreadable(ValueError):
    """The files of the authority are there and cannot be used."""


@dataclass(frozen=True)
class Authority:
    """Who vouches for this computer: certificate and private key, and the name that they are for."""

    name: str
    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def der(self):
        """The certificate as phones take it: in DER (ITU-T X.690)."""
        return self.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def fingerprint(self):
        """The SHA-256 digest of the certificate, as phones show it."""
        return self.certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def keep_authority(folder, name, now):
    """Read the authority for a name from a folder, or make it there: (the authority, whether it was made now).

    `now` is an aware datetime. Raises Unreadable where there are files that are no authority for this name.
    """
    path = Path(folder) / f"{name}.pem"
    if path.exists():
        found = read_authority(path, name)
        former = path.with_name(f"{name}.former.pem")
        if begins_ahead(found.certificate, now) and former.exists():
            # It was made by a clock gone wrong. Phones trust the one before, which comes back with its time.
            before = read_authority(former, name)
            if not begins_ahead(before.certificate, now) and not ends_soon(before.certificate, now):
                os.replace(former, path)
                return before, True
        if not ends_soon(found.certificate, now):
            return found, False
        os.replace(path, former)
    made = make_authority(name, now)
    write_secret(path, pem(made.certificate, made.key))
    return made, True


def read_authority(path, name):
    """Read an authority that was kept; raises Unreadable."""
    try:
        text = path.read_bytes()
        certificate = x509.load_pem_x509_certificate(text)
        key = serialization.load_pem_private_key(text, None)
        constraints = certificate.extensions.get_extension_for_class(x509.NameConstraints).value
    except (OSError, ValueError, x509.ExtensionNotFound) as error:
        raise Unreadable(f"{path} cannot be used ({error})") from None
    if key.public_key() != certificate.public_key() or x509.DNSName(name) not in (constraints.permitted_subtrees or ()):
        raise Unreadable(f"{path} is not the authority for {name}")
    return Authority(name, certificate, key)


def title(name):
    """What phones list the authority as."""
    return f"stationlog on {name.removesuffix('.local')}"


def make_authority(name, now):
    """Make an authority that can vouch for this name and for addresses of home networks alone."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([
        x509.NameAttribute(NameOID.ORGANIZATION_NAME, "stationlog"),
        x509.NameAttribute(NameOID.COMMON_NAME, title(name)[:64]),
    ])
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject).issuer_name(subject).public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - DAY).not_valid_after(now + AUTHORITY_DAYS * DAY)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.NameConstraints([x509.DNSName(name), *map(x509.IPAddress, PRIVATE)], None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Authority(name, certificate, key)


def keep_leaf(authority, path, addresses, now):
    """See to it that a server certificate for the authority's name and these addresses lies at a path, with its key.

    Returns whether it was made now: because there was none, another authority made it, it was for other addresses,
    or its end is near.
    """
    if fits(authority, path, addresses, now):
        return False
    certificate, key = make_leaf(authority, addresses, now)
    write_secret(Path(path), pem(certificate, key))
    return True


def fits(authority, path, addresses, now):
    """Whether the certificate at a path can go on being used."""
    try:
        certificate = x509.load_pem_x509_certificate(Path(path).read_bytes())
        certificate.verify_directly_issued_by(authority.certificate)
        names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, TypeError, InvalidSignature, x509.ExtensionNotFound):
        return False
    wanted = {authority.name, *addresses}
    held = {*names.get_values_for_type(x509.DNSName), *map(str, names.get_values_for_type(x509.IPAddress))}
    # From before the authority's time no clock is believed: a small computer may start in 1970.
    strange = begins_ahead(certificate, now) and not begins_ahead(authority.certificate, now)
    return held == wanted and not strange and not ends_soon(certificate, now)


def begins_ahead(certificate, now):
    """Whether the time of a certificate is still to come."""
    return certificate.not_valid_before_utc > now


def ends_soon(certificate, now):
    """Whether a certificate has to be renewed."""
    return certificate.not_valid_after_utc - now <= RENEWED_DAYS * DAY


def make_leaf(authority, addresses, now):
    """Make a server certificate: (certificate, its private key)."""
    key = ec.generate_private_key(ec.SECP256R1())
    names = [x509.DNSName(authority.name), *(x509.IPAddress(ipaddress.IPv4Address(address)) for address in addresses)]
    issuer = authority.certificate
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )
    begin = now - DAY  # a phone's clock may be behind
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, authority.name[:64])]))
        .issuer_name(issuer.subject).public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin).not_valid_after(min(begin + LEAF_DAYS * DAY, issuer.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer.public_key()), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    return certificate, key


def pem(certificate, key):
    """Certificate and private key in one file, so that no reader finds one without the other."""
    return certificate.public_bytes(serialization.Encoding.PEM) + key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def write_secret(path, content):
    """Write a file that only its owner may read, whole or not at all."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = path.with_name(f"{path.name}.new")
    beside.unlink(missing_ok=True)
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
