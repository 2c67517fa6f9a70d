"""Rows of light on their way from bands of a frame to pieces of a picture, in room for some."""

from collections.abc import Iterator
from threading import Condition
from typing import NamedTuple

from grading.region import Region


class Need(NamedTuple):
    """A piece, and the rows that it needs: from the first to before the last."""

    piece: Region
    first: int
    last: int


class Passing:
    """Tells when rows have room, and which pieces have all their rows.

    Bands are worked on by several threads, and begun from the first row on. A row gives its room
    to the one that comes `room` later, once no piece needs it any more. What is waited for is in
    the hands of threads with earlier bands, so one of them can always go on.

    Parameters
    ----------
    needs : list of Need
        Of all pieces.
    rows : int
        How many there are to come.
    room : int
        For how many there is room: as many as a piece needs and a band has, or more.
    """

    def __init__(self, needs: list[Need], rows: int, room: int) -> None:
        self._waiting = sorted(needs, key=lambda need: need.last, reverse=True)
        self._unmade = {need.piece: need.first for need in needs}
        self._rows, self._room, self._there = rows, room, 0
        self._bands: dict[int, int] = {}
        self._news, self._error = Condition(), None

    def wait_for_room(self, last: int) -> None:
        """Return when the rows before `last` have room; raises what `give_up` was told."""
        with self._news:
            self._news.wait_for(lambda: self._error or self._has_room(last))
            if self._error:
                raise self._error

    def _has_room(self, last):
        return min(self._unmade.values(), default=last) >= last - self._room

    def came(self, first: int, last: int) -> None:
        """Rows from the first to before the last are there."""
        with self._news:
            self._bands[first] = last
            while self._there in self._bands:
                self._there = self._bands.pop(self._there)

    def ready(self) -> Iterator[Region]:
        """Pieces to be made now, each given once; none once all rows are there."""
        while piece := self._next():
            yield piece
            with self._news:
                del self._unmade[piece]
                self._news.notify_all()

    def _next(self):
        with self._news:
            if self._there < self._rows and self._waiting[-1].last <= self._there:
                return self._waiting.pop().piece
            return None

    def rest(self) -> list[Region]:
        """The pieces that were not given so far."""
        return [need.piece for need in reversed(self._waiting)]

    def give_up(self, error: BaseException) -> None:
        """Let nobody wait any more: a band will never come, for this reason."""
        with self._news:
            self._error = error
            self._news.notify_all()
