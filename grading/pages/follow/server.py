"""The page that follows a recipe or a shoot, over HTTP; nothing can be changed by it."""

import json
import re

from grading.colour.hue_words import hue_words
from grading.pages.follow import closely, figures
from grading.pages.follow.drawn import MAX_POINTS, TOOLS, TOOLS_BY_NAME, drawn
from grading.pages.follow.influence import at_place
from grading.pages.follow.reading import read_place
from grading.pages.follow.session import Session
from grading.pages.html import page
from grading.pages.loopback import FRACTION, Handler, LoopbackServer
from grading.terminal import visible

ASSETS = {
    "page.css": "text/css",
    "follow.css": "text/css",
    "follow.js": "text/javascript",
    "course.js": "text/javascript",
    "drawing.js": "text/javascript",
    "loupe.js": "text/javascript",
    "parts.js": "text/javascript",
}

HEARTBEAT = 15
"""Seconds after which a silent stream of events says that it is alive."""


class FollowServer(LoopbackServer):
    """Serves one session; its parameters are those of `LoopbackServer`, without the handler."""

    def __init__(self, session: Session, port: int = 0) -> None:
        super().__init__(session, _Handler, port)


class _Handler(Handler):
    assets = ASSETS

    def _page(self):
        html = page(
            "follow.html", recipe=self.server.session.followed.path, tools=TOOLS, hues=hue_words()
        )
        self.send(200, html, "text/html; charset=utf-8")

    def _shown(self, version):
        self.send_json(figures.of_shown(self.server.session.shown(int(version))))

    def _picture(self, *key):
        self.send(200, self._rendering(*key).jpeg, "image/jpeg")

    def _figures(self, *key):
        self.send_json(figures.of_rendering(self._rendering(*key)))

    def _marks(self, *key):
        self.send_json(figures.marks(self._rendering(*key)))

    def _place(self, *groups):
        *key, x, y = groups
        rendering = self._rendering(*key)
        place = rendering.plan.view.to_frame(float(x), float(y))
        point = tuple(min(max(each, 0.0), 1.0) for each in place)
        reading = read_place(*rendering.opened, rendering.plan, point)
        self.send_json(figures.of_place(reading, point))

    def _influences(self, *groups):
        *key, x, y = groups
        found = at_place(self._rendering(*key).influences, (float(x), float(y)))
        self.send_json(figures.of_influences(found))

    def _drawn(self, *groups):
        *key, tool, points = groups
        places = [tuple(map(float, pair.split(","))) for pair in points.split(";")]
        self.send_json({"text": drawn(TOOLS_BY_NAME[tool], self._rendering(*key), places)})

    def _ahead(self, index):
        self.server.session.prepare(int(index))
        self.send(202, b"", "text/plain")

    def _mask(self, *groups):
        *key, number = groups
        self.send_json(closely.mask(self._rendering(*key), int(number)))

    def _window(self, *groups):
        *key, left, top, width, height = groups
        part = int(left), int(top), int(width), int(height)
        self.send(200, closely.window(self._rendering(*key), *part), "image/jpeg")

    def _rendering(self, *key):
        return self.server.session.rendering(*map(int, filter(None, key)))

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


_KEY = r"(\d{1,6})/(\d{1,9})(?:/without/(\d{1,3}))?"

_PAIR = r"[01]\.\d{4},[01]\.\d{4}"

_Handler.routes = (
    ("", _Handler._page),
    (f"({'|'.join(map(re.escape, ASSETS))})", _Handler.asset),
    ("events", _Handler._events),
    (r"shown/(\d{1,9})", _Handler._shown),
    (f"picture/{_KEY}", _Handler._picture),
    (f"figures/{_KEY}", _Handler._figures),
    (f"marks/{_KEY}", _Handler._marks),
    (f"place/{_KEY}/{FRACTION}/{FRACTION}", _Handler._place),
    (f"influences/{_KEY}/{FRACTION}/{FRACTION}", _Handler._influences),
    (f"drawn/{_KEY}/({'|'.join(TOOLS_BY_NAME)})/({_PAIR}(?:;{_PAIR}){{1,{MAX_POINTS - 1}}})",
     _Handler._drawn),
    (rf"mask/{_KEY}/(\d{{1,3}})", _Handler._mask),
    (rf"window/{_KEY}/(\d{{1,6}})/(\d{{1,6}})/(\d{{1,4}})/(\d{{1,4}})", _Handler._window),
    (r"ahead/(\d{1,6})", _Handler._ahead),
)
