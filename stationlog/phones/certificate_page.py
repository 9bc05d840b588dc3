"""The one thing that is served in the clear on the home network: the authority's certificate, and a page about it."""

import http.server
import threading
from html import escape

CERTIFICATE = "/stationlog.crt"
LOOK = "/page.css"
AT_ONCE = 16  # requests; more have to wait their turn
CSS = """\
:root { color-scheme: light dark }
body { font: 1.125rem/1.5 system-ui, sans-serif; max-width: 34rem; margin: 0 auto; padding: 1rem }
h1 { overflow-wrap: anywhere }
a { display: block; padding: 1rem; border: 2px solid; border-radius: 0.5rem; text-align: center; font-weight: bold }
"""
PAGE = """\
<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><title>Certificate of {name}</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="stylesheet" href="{look}"></head>
<body>
<h1>Certificate of {name}</h1>
<p>This is the certificate of the authority with which stationlog on the computer {name} proves to your phone that it
is that computer. Once the phone trusts it, the field page can be kept on the phone and opened without a network.</p>
<p><a href="{certificate}">Fetch the certificate</a></p>
<p>Before you trust it, compare its SHA-256 fingerprint, which the phone shows among the details, with the one on the
computer’s own screen, under Pair a phone. If they differ, do not trust it: somebody else on this network has
answered.</p>
<p>It can vouch for this computer’s name and for addresses of home networks only, and for no site on the internet. How
to install it, and how to remove it again, is written on the page Pair a phone.</p>
</body></html>
"""


class Server(http.server.ThreadingHTTPServer):
    """Answers with the certificate of the authority that `authority` returns, and with nothing else."""

    daemon_threads = True

    def __init__(self, address, authority):
        self.authority = authority
        self.turns = threading.BoundedSemaphore(AT_ONCE)
        super().__init__(address, Handler)

    def process_request_thread(self, request, client_address):
        with self.turns:
            super().process_request_thread(request, client_address)

    def handle_error(self, request, client_address):
        """A phone that hangs up is no news."""


class Handler(http.server.BaseHTTPRequestHandler):
    """One request."""

    timeout = 10  # seconds, for those who connect and say nothing

    def version_string(self):
        return "stationlog"

    def do_GET(self):
        authority = self.server.authority()
        if self.path == CERTIFICATE:
            self.answer(authority.der, "application/x-x509-ca-cert")
        elif self.path == LOOK:
            self.answer(CSS.encode(), "text/css; charset=utf-8")
        elif self.path == "/":
            page = PAGE.format(name=escape(authority.name), certificate=CERTIFICATE, look=LOOK)
            self.answer(page.encode(), "text/html; charset=utf-8")
        else:
            self.answer(b"Only the certificate is here: ask for /\n", "text/plain; charset=utf-8", status=404)

    do_HEAD = do_GET

    def answer(self, content, kind, status=200):
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Content-Security-Policy", "default-src 'none'; style-src 'self'; frame-ancestors 'none'")
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(content)

    def log_message(self, *args):
        """Who fetched the certificate is nobody's business."""


def serve(address, port, authority):
    """Begin to serve in a thread of its own; returns the server, to be ended with `shutdown()`."""
    server = Server((address, port), authority)
    threading.Thread(target=server.serve_forever, daemon=True, name="certificate page").start()
    return server
