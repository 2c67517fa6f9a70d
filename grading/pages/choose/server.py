"""The page of choosing over HTTP: pictures and measures to be read, and a word on a frame to be
kept."""

from __future__ import annotations

from typing import Any

from grading.pages.choose import told
from grading.pages.choose.session import Choosing
from grading.pages.html import page
from grading.pages.loopback import FRACTION, ChangingHandler, LoopbackServer, NotThere

ASSETS = {
    "page.css": "text/css",
    "choose.css": "text/css",
    "choose.js": "text/javascript",
    "framing.js": "text/javascript",
    "parts.js": "text/javascript",
}

AHEAD = 3
"""Frames after the one that is asked for which are opened next."""


class ChooseServer(LoopbackServer):
    """Serves one `Choosing`; its parameters are those of `LoopbackServer`, without the handler."""

    def __init__(self, choosing: Choosing, port: int = 0) -> None:
        super().__init__(choosing, _Handler, port)


class _Handler(ChangingHandler):
    assets = ASSETS

    def _page(self):
        evening = self.server.session.evening
        named = evening.marks is not None
        marks = self.server.session.marks.path
        title = evening.model.title or evening.path.stem
        html = page("choose.html", title=title, marks=marks, named=named)
        self.send(200, html, "text/html; charset=utf-8")

    def _frames(self):
        self.server.session.read_again()
        self.send_json(told.of_all(self.server.session))

    def _picture(self, number):
        self._send_picture(self._looked(number).picture)

    def _sharpest(self, number):
        self._send_picture(self._looked(number).detail)

    def _detail(self, number, x, y):
        i = self._number(number)
        self.send(200, self.server.session.opening.detail(i, (float(x), float(y))), "image/jpeg")

    def _send_picture(self, data):
        if not data:
            raise NotThere
        self.send(200, data, "image/jpeg")

    def _looked(self, number):
        i, opening = self._number(number), self.server.session.opening
        looked = opening.look(i)
        opening.ahead(*range(i + 1, min(i + 1 + AHEAD, len(opening.frames))))
        return looked

    def _number(self, text):
        self.server.session.name(int(text))
        return int(text)

    def _say(self, number: str, stated: Any):
        if not isinstance(stated, dict):
            return self.send(400, b"", "text/plain")
        entry = self.server.session.say(int(number), stated)
        return self.send_json({"entry": told.of_entry(entry)})

    def _undo(self, _):
        session = self.server.session
        i = session.undo()
        entry = None if i is None else told.of_entry(session.entry(session.name(i)))
        self.send_json({"frame": i, "entry": entry})


_Handler.routes = (
    ("", _Handler._page),
    (f"({'|'.join(ASSETS).replace('.', '[.]')})", _Handler.asset),
    ("frames", _Handler._frames),
    (r"picture/(\d{1,6})", _Handler._picture),
    (r"sharpest/(\d{1,6})", _Handler._sharpest),
    (rf"detail/(\d{{1,6}})/{FRACTION}/{FRACTION}", _Handler._detail),
)
_Handler.changes = ((r"say/(\d{1,6})", _Handler._say), ("undo", _Handler._undo))
