"""The authority and its certificates, judged by OpenSSL: who is believed, for what, and for how long."""

import datetime
import os
import ssl

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.x509.oid import ExtendedKeyUsageOID

from stationlog import launch
from stationlog.phones import authority

NAME = "quiet-box.local"
NOW = datetime.datetime.now(datetime.UTC).replace(microsecond=0)  # OpenSSL goes by the real clock
DAY = datetime.timedelta(days=1)


@pytest.fixture
def made():
    return authority.make_authority(NAME, NOW)


def believed(trusted, leaf, host, folder):
    """Whether a client that trusts the authority goes on talking to a server with the certificate, over real TLS.

    The client is OpenSSL, by way of the standard library, and strict about RFC 5280.
    """
    path = folder / "shown.pem"
    path.write_bytes(authority.pem(*leaf))
    at_server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    at_server.load_cert_chain(path)
    at_client = ssl.create_default_context(cadata=trusted.certificate.public_bytes(serialization.Encoding.PEM).decode())
    at_client.verify_flags |= ssl.VERIFY_X509_STRICT
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    client = at_client.wrap_bio(down, up, server_hostname=host)
    server = at_server.wrap_bio(up, down, server_side=True)
    for _ in range(10):
        for side in (client, server):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                pass
            except ssl.SSLCertVerificationError as error:
                return error.verify_message
    return client.version().startswith("TLS")


@pytest.mark.parametrize("host", [NAME, "192.168.5.20", "10.0.0.7"])
def test_openssl_believes_the_server_under_its_name_and_each_address(made, tmp_path, host):
    leaf = authority.make_leaf(made, ("192.168.5.20", "10.0.0.7"), NOW)
    assert believed(made, leaf, host, tmp_path) is True


@pytest.mark.parametrize("host", ["192.168.5.21", "other.local"])
def test_openssl_does_not_believe_it_under_another(made, tmp_path, host):
    leaf = authority.make_leaf(made, ("192.168.5.20",), NOW)
    assert "mismatch" in believed(made, leaf, host, tmp_path)


@pytest.mark.parametrize(
    ("name", "addresses", "host"),
    [("bank.example", (), "bank.example"), ("other.local", (), "other.local"), (NAME, ("203.0.113.5",), "203.0.113.5")],
)
def test_a_stolen_authority_vouches_for_nothing_but_this_computer(made, tmp_path, name, addresses, host):
    """The name constraints of RFC 5280, 4.2.1.10, as OpenSSL applies them."""
    thief = authority.Authority(name, made.certificate, made.key)
    leaf = authority.make_leaf(thief, addresses, NOW)
    assert believed(made, leaf, host, tmp_path) == "permitted subtree violation"


def test_another_authority_of_the_same_name_is_not_believed(made, tmp_path):
    other = authority.make_authority(NAME, NOW)
    leaf = authority.make_leaf(other, (), NOW)
    assert believed(made, leaf, NAME, tmp_path) is not True


def test_the_server_certificate_is_valid_for_no_longer_than_phones_take(made):
    """Apple, "Requirements for trusted certificates": 825 days for authorities that users add, 398 for all others."""
    leaf, _ = authority.make_leaf(made, (), NOW)
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == 397 * DAY
    assert leaf.not_valid_before_utc < NOW
    usage = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert made.certificate.extensions.get_extension_for_class(x509.NameConstraints).critical


def test_no_certificate_outlives_its_authority(made):
    late = made.certificate.not_valid_after_utc - 100 * DAY
    leaf, _ = authority.make_leaf(made, (), late)
    assert leaf.not_valid_after_utc == made.certificate.not_valid_after_utc


def test_the_authority_is_made_once_kept_and_readable_by_its_owner_alone(tmp_path):
    folder = tmp_path / "phone"
    first, new = authority.keep_authority(folder, NAME, NOW)
    again, newer = authority.keep_authority(folder, NAME, NOW + 400 * DAY)
    assert (new, newer) == (True, False) and again.der == first.der and again.fingerprint == first.fingerprint
    if not launch.WINDOWS:
        assert (folder / f"{NAME}.pem").stat().st_mode & 0o077 == 0 and folder.stat().st_mode & 0o077 == 0
    assert len(os.listdir(folder)) == 1


def test_a_name_that_comes_back_finds_its_authority(tmp_path):
    first, _ = authority.keep_authority(tmp_path, NAME, NOW)
    other, new = authority.keep_authority(tmp_path, "other.local", NOW)
    assert new and other.fingerprint != first.fingerprint
    assert authority.keep_authority(tmp_path, NAME, NOW)[0].fingerprint == first.fingerprint


def test_an_authority_near_its_end_is_made_anew(tmp_path):
    first, _ = authority.keep_authority(tmp_path, NAME, NOW)
    near = first.certificate.not_valid_after_utc - authority.RENEWED_DAYS * DAY
    assert authority.keep_authority(tmp_path, NAME, near)[1]


def test_the_authority_that_phones_trust_comes_back_after_a_clock_went_wrong(tmp_path):
    before, _ = authority.keep_authority(tmp_path, NAME, NOW)
    ahead = NOW + datetime.timedelta(days=9000)
    other, made = authority.keep_authority(tmp_path, NAME, ahead)
    assert made and other.fingerprint != before.fingerprint
    again, changed = authority.keep_authority(tmp_path, NAME, NOW)
    assert changed and again.fingerprint == before.fingerprint
    assert not authority.keep_authority(tmp_path, NAME, NOW)[1]
    early = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)  # where a small computer without a battery starts
    assert authority.keep_authority(tmp_path, NAME, early)[0].fingerprint == before.fingerprint


def test_a_certificate_from_ahead_is_made_anew_unless_the_clock_is_not_to_be_believed(made, tmp_path):
    leaf, ahead = tmp_path / "server.pem", NOW + datetime.timedelta(days=500)
    assert authority.keep_leaf(made, leaf, ("192.168.0.7",), ahead)
    assert not authority.keep_leaf(made, leaf, ("192.168.0.7",), NOW - datetime.timedelta(days=9000))
    assert authority.keep_leaf(made, leaf, ("192.168.0.7",), NOW)


def test_a_certificate_is_kept_until_its_end_is_near_or_an_address_changes(made, tmp_path):
    path = tmp_path / "server.pem"

    def keep(addresses, days, of=made):
        return authority.keep_leaf(of, path, addresses, NOW + days * DAY)

    assert keep(("192.168.5.20",), 0)
    assert not keep(("192.168.5.20",), 1)
    assert keep(("192.168.5.21",), 1)
    assert not keep(("192.168.5.21",), 1 + 396 - authority.RENEWED_DAYS - 1)
    assert keep(("192.168.5.21",), 1 + 396 - authority.RENEWED_DAYS)
    assert keep(("192.168.5.21",), 340, of=authority.make_authority(NAME, NOW))
    path.write_text("half a certi")
    assert keep(("192.168.5.21",), 340)
    if not launch.WINDOWS:
        assert path.stat().st_mode & 0o077 == 0


def test_files_that_are_no_authority_for_the_name_are_refused_by_name(tmp_path):
    path = tmp_path / f"{NAME}.pem"
    authority.keep_authority(tmp_path, "other.local", NOW)
    for content in (b"not a certificate", (tmp_path / "other.local.pem").read_bytes()):
        path.write_bytes(content)
        with pytest.raises(authority.Unreadable, match=NAME):
            authority.keep_authority(tmp_path, NAME, NOW)
        assert path.read_bytes() == content, "nothing is thrown away"


def test_certificate_and_key_of_different_authorities_are_refused(made, tmp_path):
    other = authority.make_authority(NAME, NOW)
    (tmp_path / f"{NAME}.pem").write_bytes(authority.pem(made.certificate, other.key))
    with pytest.raises(authority.Unreadable):
        authority.keep_authority(tmp_path, NAME, NOW)
