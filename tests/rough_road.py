"""A road between phone and server that loses, delays, repeats and cuts off what goes over it; loopback only."""

import http.client
import random
import socket
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

ROUGH = ("/field/hello/", "/field/hand-in/", "/field/outings/")
FATES = {  # what happens to a request on a rough road, and how often
    "pass": 30, "delay": 10, "lose": 10, "cut request": 10, "repeat": 10, "repeat later": 10, "lose answer": 10,
    "cut answer": 10,
}


class Road:
    """Forwards requests to a server at a port of this computer; `mood` is "smooth", "rough" or "closed".

    `happened` counts what was done to requests. `seed` decides what happens; requests that come at once may share it
    out among them in another order.
    """

    def __init__(self, server_port, seed=0):
        self.server_port, self.mood, self.chance = server_port, "smooth", random.Random(seed)
        self.happened, self.late = {}, []
        road = self

        class Handler(BaseHTTPRequestHandler):
            def setup(self):
                super().setup()
                self.connection.settimeout(20)

            def handle(self):
                if road.mood == "closed":
                    return
                super().handle()

            def do_GET(self):
                road.carry(self)

            do_POST = do_HEAD = do_GET

            def log_message(self, *args):
                """Say nothing."""

        class Server(ThreadingHTTPServer):
            def handle_error(self, request, client_address):
                """A phone that was killed is no news."""

        self.http = Server(("127.0.0.1", 0), Handler)
        self.port = self.http.server_address[1]
        threading.Thread(target=self.http.serve_forever, daemon=True).start()

    def close(self):
        self.http.shutdown()
        self.http.server_close()
        for thread in self.late:
            thread.join()

    def carry(self, handler):
        """Carry one request, and its answer."""
        body = handler.rfile.read(int(handler.headers.get("Content-Length") or 0))
        rough = self.mood == "rough" and handler.path.startswith(ROUGH)
        fate = self.chance.choices(list(FATES), FATES.values())[0] if rough else "pass"
        self.happened[fate] = self.happened.get(fate, 0) + 1
        if fate == "lose":
            return
        if fate == "cut request":
            self.forward(handler, body, cut=True)
            return
        if fate == "delay":
            time.sleep(self.chance.uniform(0.02, 0.2))
        if fate == "repeat":
            self.forward(handler, body)
        answer = self.forward(handler, body)
        if fate == "repeat later":
            thread = threading.Timer(self.chance.uniform(0.05, 0.5), self.forward, (handler, body))
            thread.start()
            self.late.append(thread)
        if fate == "lose answer" or answer is None:
            return
        status, headers, content = answer
        handler.send_response(status)
        for name, value in headers:
            if name.lower() not in ("connection", "transfer-encoding", "content-length", "server", "date"):
                handler.send_header(name, value)
        handler.send_header("Content-Length", str(len(content)))
        handler.end_headers()
        handler.wfile.write(content[: len(content) // 2] if fate == "cut answer" else content)

    def forward(self, handler, body, *, cut=False):
        """Send a request on; (status, headers, content), None where the server is not there or it was cut off."""
        connection = http.client.HTTPConnection("localhost", self.server_port, timeout=20)
        try:
            connection.putrequest(handler.command, handler.path, skip_host=True, skip_accept_encoding=True)
            for name, value in handler.headers.items():
                if name.lower() != "connection":
                    connection.putheader(name, value)
            connection.putheader("Connection", "close")
            connection.endheaders()
            connection.send(body[: len(body) // 2] if cut else body)
            if cut:
                connection.sock.shutdown(socket.SHUT_RDWR)
                return None
            answer = connection.getresponse()
            return answer.status, answer.getheaders(), answer.read()
        except OSError:
            return None
        finally:
            connection.close()
