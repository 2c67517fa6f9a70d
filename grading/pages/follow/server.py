"""The page over HTTP, for this machine and this person only.

It listens on a loopback address and answers only to its own name (which defeats names that a
stranger points here), only to itself or to nobody as the origin, and only below a path that
cannot be guessed. Nothing in an address is ever a path of a file, and nothing can be changed.
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
from contextlib import suppress
from http.server import BaseHTTPRequestHandler
from importlib.resources import files
from socketserver import TCPServer, ThreadingMixIn
from typing import Any

from grading.errors import GradingError, OutputError
from grading.pages.follow import figures
from grading.pages.follow.cache import Closed
from grading.pages.follow.reading import read_place
from grading.pages.follow.session import NotThere, Session
from grading.pages.html import page
from grading.terminal import say, visible

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

ASSETS = {
    "page.css": "text/css",
    "follow.css": "text/css",
    "follow.js": "text/javascript",
    "course.js": "text/javascript",
    "parts.js": "text/javascript",
}

HEARTBEAT = 15
"""Seconds after which a silent stream of events says that it is alive."""

PATIENCE = 60
"""Seconds for a request to arrive whole, and for an answer to be taken."""

CONNECTIONS = 64
"""How many there are at a time; more are closed at once."""

LOOPBACK = "127.0.0.1"
"""Where it listens: for this machine only."""

_FRACTION = r"(0(?:\.\d{1,6})?|1(?:\.0{1,6})?)"


class FollowServer(ThreadingMixIn, TCPServer):
    """Serves one session.

    Parameters
    ----------
    session : grading.pages.follow.session.Session
    port : int
        0 for any that is free.

    Raises
    ------
    OutputError
        If the port is taken.
    """

    daemon_threads = True
    allow_reuse_address = os.name == "posix"  # elsewhere it would share the port with strangers

    def __init__(self, session: Session, port: int = 0) -> None:
        self.session, self.token = session, secrets.token_urlsafe(18)
        self._due = {}
        try:
            super().__init__((LOOPBACK, port), _Handler)
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


class _Handler(BaseHTTPRequestHandler):
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
            return self._send(403, b"", "text/plain")
        token, _, rest = self.path.removeprefix("/").partition("/")
        is_ours = hmac.compare_digest(token.encode(), self.server.token.encode())
        for pattern, answer in _ROUTES if is_ours else ():
            if match := re.fullmatch(pattern, rest, re.ASCII):
                return self._answer(answer, match.groups())
        return self._send(404, b"", "text/plain")

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
        except (NotThere, Closed):
            self._send(404, b"", "text/plain")
        except GradingError as error:
            self._send_json({"error": str(error)}, 422)

    def _send(self, status, body, kind):
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def _send_json(self, value, status=200):
        self._send(status, json.dumps(value).encode(), "application/json")

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

    def _page(self):
        html = page("follow.html", recipe=self.server.session.followed.path)
        self._send(200, html, "text/html; charset=utf-8")

    def _asset(self, name):
        content = (files("grading.pages") / "templates" / name).read_bytes()
        self._send(200, content, f"{ASSETS[name]}; charset=utf-8")

    def _shown(self, version):
        self._send_json(figures.of_shown(self.server.session.shown(int(version))))

    def _picture(self, index, version):
        self._send(200, self._rendering(index, version).jpeg, "image/jpeg")

    def _figures(self, index, version):
        self._send_json(figures.of_rendering(self._rendering(index, version)))

    def _marks(self, index, version):
        self._send_json(figures.marks(self._rendering(index, version)))

    def _place(self, index, version, x, y):
        rendering = self._rendering(index, version)
        place = rendering.plan.view.to_frame(float(x), float(y))
        point = tuple(min(max(each, 0.0), 1.0) for each in place)
        reading = read_place(*rendering.opened, rendering.plan, point)
        self._send_json(figures.of_place(reading, point))

    def _ahead(self, index):
        self.server.session.prepare(int(index))
        self._send(202, b"", "text/plain")

    def _rendering(self, index, version):
        return self.server.session.rendering(int(index), int(version))

    def _events(self):
        """Report every change of the recipe as it happens (server-sent events, WHATWG HTML)."""
        self.close_connection = True
        self.send_response(200)
        self.send_header("Content-Type", "text/event-stream")
        self.end_headers()
        session, state = self.server.session, self.server.session.state
        self._send_state(state)
        while True:
            news = session.wait(state.number, HEARTBEAT)
            if session.stopped.is_set():
                return
            if news is state:
                self.wfile.write(b":\n\n")
            else:
                self._send_state(news)
            state = news

    def _send_state(self, state):
        value = {
            "version": state.latest.number,
            "title": visible(state.latest.shown.title),
            "error": state.error,
            "work": state.work,
        }
        self.wfile.write(f"data: {json.dumps(value)}\n\n".encode())


_KEY = r"(\d{1,6})/(\d{1,9})"

_ROUTES = (
    ("", _Handler._page),
    (f"({'|'.join(map(re.escape, ASSETS))})", _Handler._asset),
    ("events", _Handler._events),
    (r"shown/(\d{1,9})", _Handler._shown),
    (f"picture/{_KEY}", _Handler._picture),
    (f"figures/{_KEY}", _Handler._figures),
    (f"marks/{_KEY}", _Handler._marks),
    (f"place/{_KEY}/{_FRACTION}/{_FRACTION}", _Handler._place),
    (r"ahead/(\d{1,6})", _Handler._ahead),
)
