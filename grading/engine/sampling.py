"""A picture of another size, or turned, sampled once from the destination's linear light.

Light is taken in band by band while the frame is graded, and sampled along its rows; down the
columns it is sampled piece by piece, as soon as all that a piece needs is there. A turned picture
gives back the room of rows that no piece needs any more.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from grading import kernels
from grading.engine.passing import Need, Passing
from grading.framing.view import View
from grading.region import Region

STRIP = 64
"""Rows of a resized picture that are sampled down the columns at a time."""

PIECE = (512, 256)
"""Rows and columns of a turned one; short columns would take as long to find as to sample."""

SEAMLESS = 1.1
"""Up to so many pixels for one that is made, the window is not widened."""

ACCURATE = 1e-6
"""Of a pixel: how near a place is found."""

ROUNDS = 20
BLOCK = 16
"""Rows for which the columns that the picture shows are told apart."""


class Resized:
    """A frame, or what a crop leaves of it, brought to another size.

    Parameters
    ----------
    view : View
        Upright.
    width, height : int
        Of what is made.
    beyond : int
        Pixels around a piece that are asked for with it.
    """

    def __init__(self, view: View, width: int, height: int, beyond: int = 0) -> None:
        self.needed = view.crop
        rows, columns = self.needed.shape
        self._rows = np.empty((3, rows, width), np.float32)
        self._across = kernels.resampling.taps(columns, width)
        self._down = start, weights = kernels.resampling.taps(rows, height)
        whole, needs = Region.whole(height, width), []
        for piece in whole.tiles(STRIP, width):
            wanted = around_piece(piece, beyond, whole)
            last = int(start[wanted.bottom - 1]) + weights.shape[1]
            needs.append(Need(piece, int(start[wanted.top]), min(last, rows)))
        self.passing = Passing(needs, rows, rows)

    def blocks(self, region: Region) -> Iterator[Region]:
        """The parts of a region whose light is wanted."""
        yield region

    def add(self, light: np.ndarray, region: Region) -> None:
        """Take in light, shape (3, rows, columns), of whole rows of what is needed."""
        top = self.needed.top
        rows = self._rows[:, region.top - top : region.bottom - top]
        kernels.resampling.resample_rows(light, *self._across, rows)

    def light(self, piece: Region) -> np.ndarray:
        """Light of a piece, or one around it, shape (3, rows, columns), float32."""
        return kernels.resampling.resample_columns(
            self._rows, *self._down, piece.top, piece.bottom
        )


class Turned:
    """A frame seen through a map that turns or bends it, at any size.

    Parameters
    ----------
    view : View
    width, height : int
        Of what is made.
    beyond : int
        Pixels around a piece that are asked for with it.
    ahead : int
        Rows that are worked on at a time, at most.
    """

    def __init__(
        self, view: View, width: int, height: int, beyond: int = 0, ahead: int = 0
    ) -> None:
        self._view, self._size = view, (height, width)
        step, (columns, rows) = kernels.lines.STEP, view.size
        self._each = columns / width, rows / height
        u, v = (np.arange(0.0, each + 2 * step, step) for each in (width, height))
        y_by_column = self._places(u[:, None], v[None])[1]
        self._down_by = _pixels_for_one(y_by_column, 1)
        self._margin = int(np.ceil(kernels.lines.LOBES * max(self._down_by, 1))) + 1
        margin = int(np.ceil(kernels.lines.LOBES * max(self._each))) + 2
        self.needed = view.needed(margin)
        y = self.needed.top + np.arange(0.0, self.needed.shape[0] + 2 * step, step)
        self._across = self._places(u[None], self._rows_at(u[None], y[:, None]))[0]
        self._across_by = _pixels_for_one(self._across, 1)
        self._down = y_by_column - self.needed.top
        self._top = self._places(u, np.zeros_like(u))[1] - self._margin
        self._bottom = self._places(u, np.full_like(u, height - 1))[1] + self._margin
        needs, rows = self._needs(beyond), self.needed.shape[0]
        room = max(need.last - need.first for need in needs) + ahead
        room = min(-(-room // BLOCK), -(-rows // BLOCK)) * BLOCK
        self.passing = Passing(needs, rows, room)
        self._columns = np.empty((3, width, room), np.float32)

    def _needs(self, beyond):
        """The rows that each piece needs, in those of what is needed of the frame."""
        step, rows, needs = kernels.lines.STEP, self.needed.shape[0], []
        whole = Region.whole(*self._size)
        for piece in whole.tiles(*PIECE):
            top, bottom, left, right = around_piece(piece, beyond, whole)
            nodes = self._down[
                left // step : -(-right // step) + 1, top // step : -(-bottom // step) + 1
            ]
            first, last = int(nodes.min()) - self._margin, int(nodes.max()) + 1 + self._margin
            needs.append(Need(piece, min(max(first, 0), rows - 1), min(max(last, 1), rows)))
        return needs

    def blocks(self, region: Region) -> Iterator[Region]:
        """The parts of a region whose light is wanted: of a few rows, what the picture shows.

        Which rows go together does not depend on the region.
        """
        first = self.needed.top
        start = first + (region.top - first) // BLOCK * BLOCK
        for top in range(start, region.bottom, BLOCK):
            begin, end = self._shown(top)
            if end > begin:
                left, right = self._span(top, begin, end)
                block = Region(top, top + BLOCK, left, right).within(region)
                if block.shape[1]:
                    yield block

    def add(self, light: np.ndarray, region: Region) -> None:
        """Take in light, shape (3, rows, columns), of whole rows of what is needed.

        Of the `blocks` alone it has to be there.
        """
        step, first = kernels.lines.STEP, self.needed.top
        for block in self.blocks(region):
            row = block.top - first
            begin, end = self._shown(block.top - row % BLOCK)
            node, some = row // step, (block.top - region.top, block.bottom - region.top)
            nodes = self._across[node : node + 2] - region.left
            kernels.lines.sample_lines(
                light, light.shape[2], some, nodes, self._across_by, row - node * step - some[0],
                begin, end - begin, self._columns, (begin, row % self._columns.shape[2]),
            )  # fmt: skip

    def light(self, piece: Region) -> np.ndarray:
        """Light of a piece, or one around it, shape (3, rows, columns), float32."""
        light = np.empty((3, *piece.shape), np.float32)
        kernels.lines.sample_lines(
            self._columns, self.needed.shape[0], (piece.left, piece.right), self._down,
            self._down_by, 0, piece.top, piece.shape[0], light, (0, 0),
        )  # fmt: skip
        if self._view.fill is not None:
            light[:, self._is_empty(piece)] = self._view.fill
        return light

    def _places(self, u, v):
        """Where pixels of the picture lie in the frame, in pixels from the middle of its first."""
        x, y = self._view.pixels_to_frame((u + 0.5) * self._each[0], (v + 0.5) * self._each[1])
        return x - 0.5, y - 0.5

    def _rows_at(self, u, y):
        """The row of the picture in which a column meets a row of the frame (Newton's method).

        No farther beyond the picture than a place there may matter.
        """
        height, beyond = self._size[0], 4 * kernels.lines.STEP
        v = np.zeros(np.broadcast_shapes(u.shape, y.shape)) + height / 2
        for _ in range(ROUNDS):
            here = self._places(u, v)[1]
            slope = self._places(u, v + 1)[1] - here
            after = np.clip(v - (here - y) / slope, -beyond, height + beyond)
            moved, v = np.abs(after - v).max(), after
            if moved < ACCURATE:
                break
        return v

    def _shown(self, top):
        """First and last column of the picture that rows from `top` on are seen in."""
        step, width = kernels.lines.STEP, self._size[1]
        seen = np.flatnonzero((self._top < top + BLOCK) & (self._bottom > top - 1))
        if not seen.size:
            return 0, 0
        return max(seen[0] - 1, 0) * step, min(int(seen[-1] + 1) * step, width)

    def _span(self, top, begin, end):
        """The columns of the frame that those of the picture need of rows from `top` on."""
        step, row = kernels.lines.STEP, top - self.needed.top
        margin = int(np.ceil(kernels.lines.LOBES * max(self._across_by, 1))) + 1
        nodes = self._across[row // step : row // step + 2, begin // step : -(-end // step) + 1]
        left, right = int(nodes.min()) - margin, int(nodes.max()) + 1 + margin
        left = min(max(left, self.needed.left), self.needed.right - 1)
        return left, max(min(right, self.needed.right), left + 1)

    def _is_empty(self, piece):
        """Which pixels of a piece lie beyond the frame."""
        v, u = np.mgrid[piece.top : piece.bottom, piece.left : piece.right]
        x, y = self._places(u, v)
        width, height = self._view.width, self._view.height
        return (x < -0.5) | (y < -0.5) | (x > width - 0.5) | (y > height - 0.5)


def around_piece(piece: Region, beyond: int, whole: Region) -> Region:
    """A piece of a picture with as much around it, from a row on at which nodes are."""
    around = piece.grown(beyond, whole)
    return around._replace(top=around.top // kernels.lines.STEP * kernels.lines.STEP)


def _pixels_for_one(places, axis):
    """How many pixels become one, in the middle of the nodes; 1 where it is next to one."""
    steps = np.diff(places, axis=axis) / kernels.lines.STEP
    middle = float(steps[steps.shape[0] // 2, steps.shape[1] // 2])
    return middle if middle > SEAMLESS else 1.0
