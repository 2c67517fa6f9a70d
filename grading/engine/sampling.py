"""A picture of another size, or turned, sampled once from the destination's linear light.

Light is put into rows on their way while the frame is graded, and sampled piece by piece, down the
columns first, as soon as all that a piece needs is there. Rows that no piece needs any more give
their room to others.
"""

from __future__ import annotations

import numpy as np

from grading import kernels
from grading.engine import spare
from grading.engine.passing import Need, Passing
from grading.framing.view import View
from grading.region import Region

STRIP = 32
"""Rows of a resized picture that are made at a time."""

PIECE = (64, 1024)
"""Rows and columns of a turned one: few rows, or what they need falls out of the cache."""

SEAMLESS = 1.1
"""Up to so many pixels for one that is made, the window is not widened."""

BEYOND = 4
"""Nodes about a turned picture of which places are known."""

EVER = 1e-9
"""What a place that stands still is said to move on by, for each pixel of the picture."""

LINES = 64
"""Of nodes that are found at a time, so that they stay near to the core."""

BLOCK = 16
"""Rows for which the columns that the picture shows are told apart."""


class Rows:
    """Light on its way from a frame to the pieces of a picture, in room for some rows.

    Parameters
    ----------
    needed : Region
        What of the frame has to be there.
    needs : list of Need
        Of all pieces, in rows of what is needed.
    ahead : int
        Rows that are worked on at a time, at most.
    spans : ndarray, shape (blocks, 2), int64
        First column, and the one after the last, that is wanted of each `BLOCK` rows. Which rows
        go together does not depend on tiles.

    Attributes
    ----------
    light : ndarray, shape (3, room, width), float32
        Row y of what is needed is in row ``y % room``.
    passing : Passing
    """

    def __init__(self, needed: Region, needs: list[Need], ahead: int, spans: np.ndarray) -> None:
        rows, columns = needed.shape
        room = min(max(need.last - need.first for need in needs) + ahead, rows)
        lanes = kernels.lanes.LANES
        odd = -(-columns // lanes) | 1  # cache lines: pixels below each other do not collide
        self.needed, self.spans, self.passing = needed, spans, Passing(needs, rows, room)
        self.light = spare.take(3 * room * odd * lanes).reshape(3, room, odd * lanes)

    def give_back(self) -> None:
        """Let another picture have the room, once all pieces are made."""
        spare.give_back(self.light.reshape(-1))

    def wanted(self, region: Region) -> Region:
        """The least part of a region that holds all whose light is wanted; maybe without rows."""
        here, top = region.within(self.needed), self.needed.top
        first, last = (here.top - top) // BLOCK, -(-(here.bottom - top) // BLOCK)
        left, right = self.spans[first:last].T + self.needed.left
        left, right = left.clip(here.left), right.clip(max=here.right)
        (blocks,) = np.nonzero(left < right)
        if not blocks.size:
            return here._replace(bottom=here.top)
        rows = Region(
            top + BLOCK * (first + int(blocks[0])),
            top + BLOCK * (first + int(blocks[-1]) + 1),
            int(left[blocks].min()),
            int(right[blocks].max()),
        )
        return rows.within(here)


class Resized(Rows):
    """A frame, or what a crop leaves of it, brought to another size.

    Parameters
    ----------
    view : View
        Upright.
    width, height : int
        Of what is made.
    beyond : int
        Pixels around a piece that are asked for with it.
    ahead : int
        As of `Rows`.
    """

    def __init__(
        self, view: View, width: int, height: int, beyond: int = 0, ahead: int = 0
    ) -> None:
        rows, columns = view.crop.shape
        self._across = kernels.resampling.taps(columns, width)
        self._down = start, weights = kernels.resampling.taps(rows, height)
        whole, needs = Region.whole(height, width), []
        for piece in whole.tiles(STRIP, width):
            wanted = around_piece(piece, beyond, whole)
            last = int(start[wanted.bottom - 1]) + weights.shape[1]
            needs.append(Need(piece, int(start[wanted.top]), last))
        spans = np.tile([0, columns], (-(-rows // BLOCK), 1))
        super().__init__(view.crop, needs, ahead, spans)

    def piece(self, piece: Region) -> np.ndarray:
        """Light of whole rows of the picture, shape (3, rows, columns), float32."""
        rows, columns = piece.shape[0], self.needed.shape[1]
        start, weights = (each[piece.top : piece.bottom] for each in self._down)
        between = np.empty((3, rows, columns), np.float32)
        kernels.resampling.resample_columns(self.light, start, weights, between)
        light = np.empty((3, *piece.shape), np.float32)
        kernels.resampling.resample_rows(between, *self._across, light)
        return light


class Turned(Rows):
    """A frame seen through a map that turns or bends it, at any size.

    Parameters
    ----------
    view : View
    width, height : int
        Of what is made.
    beyond : int
        Pixels around a piece that are asked for with it.
    ahead : int
        As of `Rows`.
    """

    def __init__(
        self, view: View, width: int, height: int, beyond: int = 0, ahead: int = 0
    ) -> None:
        self._view, self._size = view, (height, width)
        step, (columns, rows) = kernels.lines.STEP, view.size
        self._each = columns / width, rows / height
        margin = int(np.ceil(kernels.window.LOBES * max(*self._each, 1))) + 2
        needed = view.needed(margin)
        self._across, self._down = self._nodes(needed)
        scales = _pixels_for_one(self._down, 0), _pixels_for_one(self._across, 1)
        self._weights = [kernels.window.polynomials(scale) for scale in scales]
        self._across -= np.arange(self._across.shape[1]) * step
        super().__init__(needed, self._needs(beyond, needed), ahead, self._seen(needed, margin))

    def _needs(self, beyond, needed):
        """The rows that each piece needs, in those of what is needed of the frame."""
        step, (rows, columns), (height, width) = kernels.lines.STEP, needed.shape, self._size
        down, across = (weights.shape[0] + 1 for weights in self._weights)
        pieces = list(Region.whole(height, width).tiles(*PIECE))
        top, bottom, left, right = np.transpose(pieces) + [[-beyond], [beyond], [-beyond], [beyond]]
        lines = _from_to(top.clip(0) // step, (bottom.clip(max=height) - 1) // step + 1)
        left, right = left.clip(0) // step, -(-right.clip(max=width) // step)
        begin = step * left + self._across[lines, left[:, None]].min(axis=1) - across
        end = step * (right + 1) + self._across[lines, right[:, None]].max(axis=1) + across
        begin = begin.clip(0, columns - 1).astype(int) // step
        end = np.ceil(end / step).astype(int).clip(begin + 1, -(-columns // step))
        nodes = self._down[lines[:, :, None], _from_to(begin, end)[:, None]]
        first = (nodes.min(axis=(1, 2)).astype(int) - down).clip(0, rows - 1)
        last = (nodes.max(axis=(1, 2)).astype(int) + 1 + down).clip(1, rows)
        return [*map(Need, pieces, first.tolist(), last.tolist())]

    def piece(self, piece: Region) -> np.ndarray:
        """Light of a piece, or one around it, shape (3, rows, columns), float32."""
        light = np.empty((3, *piece.shape), np.float32)
        kernels.lines.sample_planes(
            self.light, self.needed.shape, (self._down, self._across), self._weights,
            (piece.top, piece.left), light,
        )  # fmt: skip
        if self._view.fill is not None:
            light[:, self._is_empty(piece)] = self._view.fill
        return light

    def _places(self, u, v):
        """Where pixels of the picture lie in the frame, in pixels from the middle of its first."""
        x, y = self._view.pixels_to_frame((u + 0.5) * self._each[0], (v + 0.5) * self._each[1])
        return x - 0.5, y - 0.5

    def _nodes(self, needed):
        """Columns and rows of what is needed, as `grading.kernels.lines.sample_planes` takes them,
        but the former not less those of the picture."""
        step, (height, width) = kernels.lines.STEP, self._size
        u = np.arange(-BEYOND * step, width + (BEYOND + 1) * step, step)
        v = np.arange(0.0, height + 2 * step, step)[:, None]
        columns = needed.left + np.arange(0.0, needed.shape[1] + 2 * step, step)
        parts = [self._nodes_of(v[k : k + LINES], u, columns) for k in range(0, v.size, LINES)]
        across, down = map(np.concatenate, zip(*parts, strict=True))
        inside = slice(BEYOND, BEYOND + -(-width // step) + 2)
        return across[:, inside] - needed.left, down - needed.top

    def _nodes_of(self, v, u, columns):
        """Where rows of the picture meet its own columns and those of the frame.

        Between nodes a row is nearly straight, so what interpolation leaves goes along the slope.
        No farther beyond the picture than a place there may matter, nor than columns rise.
        """
        x, _ = self._places(u, v)
        rising = _rising(x)
        wanted = np.clip(columns, rising[:, :1], rising[:, -1:])
        apart = np.arange(v.size)[:, None] * (2 * np.ptp(rising))
        nodes = rising + apart + EVER * u
        near = np.interp((wanted + apart).ravel(), nodes.ravel(), np.tile(u, v.size))
        there, rows = self._places(near.reshape(wanted.shape), v)
        return x, rows + (wanted - there) * np.gradient(rows, kernels.lines.STEP, axis=1)

    def _seen(self, needed, margin):
        """The columns that are wanted of each block of rows, shape (blocks, 2)."""
        (height, width), step = self._size, kernels.lines.STEP
        u, v = np.arange(-0.5, width + step, step), np.arange(-0.5, height + step, step)
        u, v = u.clip(max=width - 0.5), v.clip(max=height - 0.5)
        around = [(u, u * 0 - 0.5), (u, u * 0 + v[-1]), (v * 0 - 0.5, v), (v * 0 + u[-1], v)]
        x, y = np.concatenate([self._places(*side) for side in around], axis=1)
        beyond = 2 * margin + step * max(self._each)
        first = np.floor((y - needed.top - beyond) / BLOCK).astype(int)
        last = np.ceil((y - needed.top + beyond) / BLOCK).astype(int) - 1
        near = _from_to(first, last)
        left = np.full(-(-needed.shape[0] // BLOCK), np.inf)
        right, is_there = -left, (near >= 0) & (near < left.size)
        x = np.broadcast_to(x[:, None], near.shape)[is_there]
        np.minimum.at(left, near[is_there], x)
        np.maximum.at(right, near[is_there], x)
        spans = np.stack([left - margin, right + 1 + margin], axis=1) - needed.left
        is_seen = (left <= right)[:, None]
        return np.where(is_seen, spans.clip(0, needed.shape[1]), 0).astype(np.int64)

    def _is_empty(self, piece):
        """Which pixels of a piece lie beyond the frame."""
        v, u = np.mgrid[piece.top : piece.bottom, piece.left : piece.right]
        x, y = self._places(u, v)
        width, height = self._view.width, self._view.height
        return (x < -0.5) | (y < -0.5) | (x > width - 0.5) | (y > height - 0.5)


def around_piece(piece: Region, beyond: int, whole: Region) -> Region:
    """A piece of a picture with as much around it, from a column on at which nodes are."""
    around = piece.grown(beyond, whole)
    return around._replace(left=around.left // kernels.lines.STEP * kernels.lines.STEP)


def _from_to(first, last):
    """Numbers from the first to the last, in rows; the latter again where there are fewer."""
    return np.minimum(first[:, None] + np.arange((last - first).max() + 1), last[:, None])


def _rising(places):
    """Places along rows that rise in the middle, held where they turn back."""
    if (places[:, :-1] < places[:, 1:]).all():
        return places
    rising, middle = np.empty_like(places), places.shape[1] // 2
    np.maximum.accumulate(places[:, middle:], axis=1, out=rising[:, middle:])
    np.minimum.accumulate(places[:, middle::-1], axis=1, out=rising[:, middle::-1])
    return rising


def _pixels_for_one(places, axis):
    """How many pixels become one, in the middle of the nodes; 1 where it is next to one."""
    steps = np.diff(places, axis=axis) / kernels.lines.STEP
    middle = float(steps[steps.shape[0] // 2, steps.shape[1] // 2])
    return middle if middle > SEAMLESS else 1.0
