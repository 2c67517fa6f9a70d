"""What undoes lateral colour on the pixels of a tile.

It moves by a fraction of a pixel that changes slowly, so red and blue are resampled first along the
rows and then down the columns (`runs`). Runs, and the rows between which shifts run evenly, are at
fixed places of the frame, so tiles give the same bits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.delays import WEIGHTS
from grading.kernels.lanes import LANES
from grading.kernels.primitives import (
    aligned,
    borrowing,
    compiled,
    entries,
    f32,
    inner,
    transform,
)
from grading.kernels.runs import ROWS, Runs, find_runs, shift_columns, shift_row
from grading.region import Region

RUNS = (128, 64, 32, 16)
"""Pixels of a run, the fastest first."""

EVENLY = 0.2
"""Pixels by which a shift may change in a run: a wave of four pixels loses 1.2 percent at most."""

MOST = 32
"""Pixels of the largest shift."""

TERMS = 7
"""Powers of a radius, from 0, that move a colour."""

UNMIXED = np.eye(3, dtype=np.float32)


class Shift(NamedTuple):
    """Where a colour is to be taken from, as `grading.lens.optics.Warp` has it, in pixels.

    ``x`` and ``y`` are the centre, ``unit`` the length of the radius 1, ``radial`` the coefficients
    of `TERMS` powers without the 1 that leaves alone, ``s`` and ``t`` the tangential ones, ``run``
    the pixels of a run.
    """

    x: float
    y: float
    unit: float
    radial: tuple[float, ...]
    s: float
    t: float
    run: int


class Colour(NamedTuple):
    """What rows of a colour are made of.

    ``plane`` from the row ``first_row`` of the frame on, its ``pixels`` in one run, and whether its
    rows are taken from nowhere beyond their ends (``is_inside``); whether it is ``moved`` at all;
    shifts ``across`` and ``down`` at the ends of runs, in rows of nodes from ``node`` on; the rows
    ``needed`` for the first one that is made, from the ``least`` below it on, and for those after
    it, each of which needs so many as ``room``; where each ``starts`` in ``kept`` once it is
    shifted along, with room for ``length`` pixels; and ``wide``, for a row that goes on as it ends,
    in which ``before`` pixels come before those of the plane and ``beside`` before those that are
    wanted.
    """

    plane: np.ndarray
    pixels: np.ndarray
    is_inside: bool
    first_row: int
    moved: bool
    across: np.ndarray
    down: np.ndarray
    node: int
    needed: np.ndarray
    room: int
    starts: np.ndarray
    least: int
    kept: np.ndarray
    length: int
    wide: np.ndarray
    before: int
    beside: int
    shifts: np.ndarray
    runs: Runs


def shift_colours(
    rgb: np.ndarray,
    here: Region,
    there: Region,
    red: Shift | None,
    blue: Shift | None,
    matrix: np.ndarray | None = None,
) -> np.ndarray:
    """Red and blue taken from where they were recorded, and a matrix on all three.

    A value stays among the four nearest ones of its row, then of its column, or goes beyond them by
    an eighth of the least at most: texture keeps its peaks, and a lamp gets no dark ring.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    here, there : Region
        Where the pixels are in the frame, and which of them are wanted. As many as the largest
        shift and three must be around these, but at the borders of the frame, beyond which its last
        pixels are repeated.
    red, blue : Shift or None
        None leaves a colour where it is.
    matrix : ndarray, shape (3, 3), float32, optional

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        Of what is wanted.
    """
    numbers = [_numbers(shift) for shift in (red, blue)]
    mixing = UNMIXED if matrix is None else matrix
    return _shift_colours(rgb, here[::2], there, *numbers, mixing, WEIGHTS)


def _numbers(shift):
    """Whether a colour is moved, and how."""
    if shift is None:
        return False, (0.0, 0.0, 1.0, 0.0, 0.0), (0.0,) * TERMS, RUNS[0]
    place = tuple(map(float, (shift.x, shift.y, shift.unit, shift.s, shift.t)))
    return True, place, tuple(map(float, shift.radial)), shift.run


@compiled
def _shift_colours(rgb, corner, there, red, blue, matrix, weights):
    """Row by row, so that what is made of a row is mixed while it is at hand."""
    top, bottom, left, right = there
    out = aligned((3, bottom - top, right - left))
    colours = (
        _colour(rgb[0], corner, there, red, weights),
        _colour(rgb[2], corner, there, blue, weights),
    )
    lines = aligned((right - left + LANES,)), aligned((right - left + LANES,))
    place = top - corner[0], left - corner[1]
    _make_rows(colours, rgb[1], place, top, lines, entries(matrix), out)
    return out


@inner
def _colour(plane, corner, there, how, weights):
    (first_row, first_column), (top, bottom, left, right) = corner, there
    last_row, last_column = first_row + plane.shape[0], first_column + plane.shape[1]
    moved, shift, radial, run = how
    begin, columns = left - left % run, right - left
    count = -(-(right - begin) // run)
    edges = np.arange(begin - left, begin - left + run * count + 1, run)
    edges[0], edges[count] = 0, columns
    node = first_row // ROWS
    nodes = (last_row - 1) // ROWS + 2 - node
    across, down = np.empty((nodes, count + 1)), np.empty((nodes, count + 1))
    _find_shifts(node, begin, run, shift, radial, across, down)

    least, most = _whole(across.min()) - 2, _whole(across.max()) + 4
    start, length = min(left + least, first_column), columns + LANES
    wide = aligned((max(right + LANES + most, last_column) - start,))
    is_inside = start == first_column and right + most <= last_column
    least, most = _whole(down.min()) - 2, _whole(down.max()) + 4
    room = most - least
    needed = np.arange(top + least, bottom + most)
    for k in range(needed.size):
        needed[k] = min(max(needed[k], first_row), last_row - 1)
    found = np.empty((3, count), np.int64)
    runs = Runs(edges, left - begin, f32(1) / f32(run), found, weights)
    return Colour(
        plane, plane.ravel(), is_inside, first_row, moved, across, down, node, needed, room,
        needed % room * length, least, aligned((room * length,)), length, wide,
        first_column - start, left - start, np.empty(count + 1), runs,
    )  # fmt: skip


@borrowing
def _make_rows(colours, green, place, top, lines, matrix, out):
    red, blue = colours
    made = red.needed[0], blue.needed[0]
    for y in range(out.shape[1]):
        made = (
            _make_row(red, y, top, made[0], lines[0]),
            _make_row(blue, y, top, made[1], lines[1]),
        )
        r, g, b = lines[0], green[place[0] + y][place[1] :], lines[1]
        p, q, s = out[0, y], out[1, y], out[2, y]
        for x in range(p.size):
            u, v, w = transform(matrix, r[x], g[x], b[x])
            p[x] = u
            q[x] = v
            s[x] = w


@borrowing
def _make_row(colour, y, top, made, line):
    """The yth row of a colour. Rows that are shifted along are kept as long as some row below needs
    them; returns which is to be shifted next."""
    c = colour
    if not c.moved:
        left = c.beside - c.before
        _copy(c.plane[top - c.first_row + y, left : left + line.size - LANES], line)
        return made
    columns = c.plane.shape[1]
    while made <= c.needed[y + c.room - 1]:
        start = (made - c.first_row) * columns
        goes_on = c.is_inside and start + c.wide.size <= c.pixels.size
        if not goes_on:
            _widen(c.plane[made - c.first_row], c.before, c.wide)
        pixels, at = (c.pixels, start + c.beside) if goes_on else (c.wide, c.beside)
        find_runs(made, c.node, c.across, c.shifts, c.runs.found)
        shift_row(pixels, at, c.runs, c.kept, made % c.room * c.length)
        made += 1
    find_runs(y + top, c.node, c.down, c.shifts, c.runs.found)
    shift_columns(c.kept, c.starts, y - c.least, c.runs, line)
    return made


@borrowing
def _find_shifts(node, begin, run, shift, radial, across, down):
    """How far to the right and down the ends of runs are to be taken from, in rows of nodes."""
    x, y, unit, s, t = shift
    for i in range(across.shape[0]):
        v = ((node + i) * ROWS + 0.5 - y) / unit
        for j in range(across.shape[1]):
            u = (begin + j * run + 0.5 - x) / unit
            square = u * u + v * v
            r, factor = np.sqrt(square), 0.0
            for k in range(TERMS - 1, -1, -1):
                factor = factor * r + radial[k]
            factor += 2 * (s * u + t * v)
            right, low = (u * factor + square * s) * unit, (v * factor + square * t) * unit
            across[i, j] = min(max(right, -MOST), MOST)
            down[i, j] = min(max(low, -MOST), MOST)


@inner
def _whole(place):
    return int(np.floor(place))


@borrowing
def _widen(row, first, wide):
    """A row that goes on as it ends."""
    _fill(wide[:first], row[0])
    _copy(row, wide[first : first + row.size])
    _fill(wide[first + row.size :], row[row.size - 1])


@inner
def _fill(out, value):
    for x in range(out.size):
        out[x] = value


@inner
def _copy(source, out):
    for x in range(out.size):
        out[x] = source[x]
