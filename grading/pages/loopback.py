"""A page over HTTP, for this machine and this person only.

It listens on a loopback address and answers only to its own name (which defeats names that a
stranger points here), only to itself or to nobody as the origin, and only below a path that
cannot be guessed. Nothing in an address is ever a path of a file.
"""

import hmac
import json
import math
import os
import re
import secrets
import socket
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from http.server import BaseHTTPRequestHandler
from importlib.resources import files
from socketserver import TCPServer, ThreadingMixIn
from typing import Any, ClassVar

from grading.errors import GradingError, OutputError
from grading.terminal import say

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self';"
        " connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}

PATIENCE = 60
"""Seconds for a request to arrive whole, and for an answer to be taken."""

CONNECTIONS = 64
"""How many there are at a time; more are closed at once."""

LOOPBACK = "127.0.0.1"
"""Where it listens: for this machine only."""

LARGEST = 16384
"""Bytes of what a page may send."""


FRACTION = r"(0(?:\.\d{1,6})?|1(?:\.0{1,6})?)"
"""A place along a side, 0 to 1, in an address."""


class NotThere(Exception):
    """There is nothing at this address, or no longer."""


class LoopbackServer(ThreadingMixIn, TCPServer):
    """Serves one session to its own page.

    Parameters
    ----------
    session : object
        What the handler shows; it knows what it is.
    handler : type of Handler
    port : int
        0 for any that is free.

    Raises
    ------
    OutputError
        If the port is taken.
    """

    daemon_threads = True
    allow_reuse_address = os.name == "posix"  # elsewhere it would share the port with strangers

    def __init__(self, session: Any, handler: "type[Handler]", port: int = 0) -> None:
        self.session, self.token = session, secrets.token_urlsafe(18)
        self._due = {}
        try:
            super().__init__((LOOPBACK, port), handler)
        except OSError as error:
            raise OutputError(
                f"port {port} cannot be used ({error.strerror})",
                remedy="choose another port, or none to have a free one found",
            ) from None
        port = self.server_address[1]
        self.names = (f"{LOOPBACK}:{port}", f"localhost:{port}")
        self.url = f"http://{LOOPBACK}:{port}/{self.token}/"

    def verify_request(self, request: Any, client_address: Any) -> bool:
        """Whether there is room for another connection."""
        return len(self._due) < CONNECTIONS

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer on a thread of its own."""
        self.await_request(request)
        super().process_request(request, client_address)

    def await_request(self, request: Any) -> None:
        """Have a connection ended unless a whole request comes in time."""
        self._due[request] = time.monotonic() + PATIENCE

    def take_time(self, request: Any) -> None:
        """Leave a connection whose request is there for as long as the answer takes."""
        self._due[request] = math.inf

    def service_actions(self) -> None:
        """End what has waited too long, however busily it sends; its thread ends with it."""
        now = time.monotonic()
        self._end([request for request, due in list(self._due.items()) if due < now])

    def _end(self, requests):
        for request in requests:
            with suppress(OSError):
                request.shutdown(socket.SHUT_RDWR)

    def shutdown_request(self, request: Any) -> None:
        """Forget a connection."""
        self._due.pop(request, None)
        super().shutdown_request(request)

    def server_close(self) -> None:
        """Stop listening, and end all connections."""
        super().server_close()
        self._end(list(self._due))

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say what went wrong, unless the browser just hung up."""
        error = sys.exception()
        if not isinstance(error, (ConnectionError, TimeoutError)):
            say(f"the page failed unexpectedly ({type(error).__name__}: {error})", error=True)


class Handler(BaseHTTPRequestHandler):
    """Answers what its routes name: pairs of a pattern below the token and a method."""

    routes: ClassVar[tuple[tuple[str, Callable], ...]] = ()
    assets: ClassVar[dict[str, str]] = {}

    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    timeout = PATIENCE

    def handle_one_request(self):
        """Wait for a request and answer it."""
        self.server.await_request(self.connection)
        super().handle_one_request()

    def parse_request(self):
        """Read a request."""
        whole = super().parse_request()
        self.server.take_time(self.connection)
        return whole

    def send_error(self, code, *_):
        """Refuse without repeating what was asked."""
        super().send_error(code)

    def do_GET(self):
        """Answer, or refuse without a word about why."""
        if not self._from_own_page():
            return self.send(403, b"", "text/plain")
        return self._dispatch(self.routes, ())

    def _dispatch(self, routes, more):
        token, _, rest = self.path.removeprefix("/").partition("/")
        is_ours = hmac.compare_digest(token.encode(), self.server.token.encode())
        for pattern, answer in routes if is_ours else ():
            if match := re.fullmatch(pattern, rest, re.ASCII):
                return self._answer(answer, (*match.groups(), *more))
        return self.send(404, b"", "text/plain")

    def _from_own_page(self):
        own = self.server.names
        origin = self.headers.get("Origin")
        return (
            self.headers.get_all("Host", []) in [[name] for name in own]
            and (origin is None or origin in [f"http://{name}" for name in own])
            and self.headers.get("Sec-Fetch-Site", "none") in ("none", "same-origin")
        )

    def _answer(self, answer, groups):
        try:
            answer(self, *groups)
        except NotThere:
            self.send(404, b"", "text/plain")
        except GradingError as error:
            self.send_json({"error": str(error)}, 422)

    def send(self, status: int, body: bytes, kind: str) -> None:
        """Send an answer."""
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def send_json(self, value: Any, status: int = 200) -> None:
        """Send a value as JSON."""
        self.send(status, json.dumps(value).encode(), "application/json")

    def end_headers(self):
        """Every answer, errors too, carries the same protection."""
        for name, value in HEADERS.items():
            self.send_header(name, value)
        super().end_headers()

    def version_string(self):
        """Do not say which version runs here."""
        return "grading"

    def log_message(self, *_):
        """Keep the terminal for the person."""

    def asset(self, name: str) -> None:
        """Send a file that belongs to the page."""
        content = (files("grading.pages") / "templates" / name).read_bytes()
        self.send(200, content, f"{self.assets[name]}; charset=utf-8")


class ChangingHandler(Handler):
    """Takes changes too, as JSON, which only the page itself may send."""

    changes: ClassVar[tuple[tuple[str, Callable], ...]] = ()

    def do_POST(self):
        """Take a change that the page itself sends."""
        if not (self._from_own_page() and self.headers.get("Origin")):
            return self.send(403, b"", "text/plain")
        size = self.headers.get("Content-Length", "")
        kind = self.headers.get("Content-Type", "")
        if kind != "application/json" or not re.fullmatch(r"\d{1,6}", size, re.ASCII):
            return self.send(400, b"", "text/plain")
        if int(size) > LARGEST:
            return self.send(413, b"", "text/plain")
        try:
            value = json.loads(self.rfile.read(int(size)))
        except ValueError:
            return self.send(400, b"", "text/plain")
        return self._dispatch(self.changes, (value,))
