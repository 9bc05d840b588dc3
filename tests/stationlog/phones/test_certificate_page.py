"""What is served in the clear on the home network: the authority's certificate, and nothing else."""

import datetime
import http.client
import socket

import pytest
from cryptography import x509

from stationlog import launch
from stationlog.phones import authority, certificate_page


@pytest.fixture
def server():
    made = authority.make_authority("quiet-box.local", datetime.datetime(2026, 5, 1, tzinfo=datetime.UTC))
    started = certificate_page.serve(launch.ADDRESS, 0, lambda: made)
    started.made = made
    yield started
    started.shutdown()
    started.server_close()


def ask(server, path, method="GET"):
    connection = http.client.HTTPConnection(launch.ADDRESS, server.server_address[1], timeout=10)
    connection.request(method, path)
    answer = connection.getresponse()
    return answer, answer.read()


def test_the_certificate_is_handed_out_as_phones_take_it_and_without_its_key(server):
    answer, content = ask(server, certificate_page.CERTIFICATE)
    assert (answer.status, answer.headers["Content-Type"]) == (200, "application/x-x509-ca-cert")
    assert x509.load_der_x509_certificate(content) == server.made.certificate
    assert b"PRIVATE" not in content
    head, nothing = ask(server, certificate_page.CERTIFICATE, "HEAD")
    assert (head.status, head.headers["Content-Length"], nothing) == (200, str(len(content)), b"")


def test_a_page_says_what_it_is_and_leads_to_it(server):
    answer, content = ask(server, "/")
    text = content.decode()
    assert answer.status == 200 and "quiet-box.local" in text and f'href="{certificate_page.CERTIFICATE}"' in text
    assert "compare its SHA-256 fingerprint" in text
    assert ask(server, certificate_page.LOOK)[0].status == 200
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "path", ["/login/", "/field/", "/static/stationlog.css", "/stationlog.crt?x", "/../served.json", "/server.pem"]
)
def test_nothing_else_is_there(server, path):
    answer, content = ask(server, path)
    assert answer.status == 404 and content.startswith(b"Only the certificate is here")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_nothing_can_be_sent_to_it(server, method):
    assert ask(server, "/", method)[0].status == 501


def test_somebody_who_connects_and_says_nothing_keeps_nobody_out(server):
    with socket.create_connection(server.server_address[:2]) as silent:
        silent.sendall(b"GET /")
        assert ask(server, "/")[0].status == 200
