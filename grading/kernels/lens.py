"""What undoes errors of a lens on the pixels of a tile: falloff of light, and lateral colour.

Lateral colour moves by a fraction of a pixel that changes slowly, so red and blue are resampled
first along the rows and then down the columns, in runs of pixels along a row: at both ends of a run
the shift and the weights of its six taps are found, and in between the weights run evenly. Runs
begin at multiples of their length in the frame, so tiles give the same bits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.lanes import (
    LANES,
    alike,
    fused,
    greater,
    inlined,
    lesser,
    load,
    numbered,
    store,
)
from grading.kernels.primitives import aligned, compiled, f32, fma, inner, series, u64
from grading.region import Region

RUNS = (128, 64, 32, 16)
"""Pixels of a run, the fastest first."""

ROWS = 16
"""Rows from one for which shifts are found to the next."""

EVENLY = 0.2
"""Pixels by which a shift may change in a run: a wave of four pixels loses 1.2 percent at most."""

TAPS = 6
STEPS = 256
"""Places between two pixels for which weights are held."""

MOST = 32
"""Pixels of the largest shift."""

BEYOND = f32(1 / 8)
"""Share of the least of four values by which what lies between them may be less, or more."""

TERMS = 7
"""Powers of a radius, from 0, that move a colour."""


BAND = 0.7
"""Share of the highest frequency up to which a shift is to lose as little as it can; ours."""


def _weights():
    """Weights of six taps, from two pixels before, at places from half a pixel before to one and a
    half after.

    Least squares over a band of frequencies (Laakso, Valimaki, Karjalainen and Laine, IEEE Signal
    Processing Magazine 13(1):30, 1996; from memory), among the weights that leave a slope as it is.
    """
    taps = np.arange(TAPS) - 2.0
    place = np.arange(-STEPS // 2, STEPS + STEPS // 2 + 1) / STEPS
    squares = np.zeros((TAPS + 2, TAPS + 2))
    squares[:TAPS, :TAPS] = np.sinc(BAND * (taps[:, None] - taps))
    squares[TAPS:, :TAPS] = np.stack([np.ones(TAPS), taps])
    squares[:TAPS, TAPS:] = squares[TAPS:, :TAPS].T
    wanted = np.sinc(BAND * (place[:, None] - taps))
    wanted = np.hstack([wanted, np.ones((place.size, 1)), place[:, None]])
    weights = np.linalg.solve(squares, wanted.T)[:TAPS]
    return np.ascontiguousarray(weights.T, np.float32)


WEIGHTS = _weights()


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


def multiply_by_gain(
    rgb: np.ndarray,
    maps: np.ndarray,
    region: Region,
    circle: tuple[float, float, float],
    gain: tuple[float, ...],
    fall: tuple[float, ...],
    share: float,
) -> np.ndarray:
    """Light times what undoes a falloff.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    maps : ndarray, shape (n, rows, columns), float32
        Further factors on all channels; n may be 0.
    region : Region
        Where the pixels are in the frame.
    circle : tuple of three float
        The centre across and down, and the length of the radius 1, in pixels.
    gain, fall : tuple of five float
        See `grading.lens.optics.Falloff`.
    share : float
        Of the correction: 0 leaves alone.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    x, y, unit = circle
    numbers = [tuple(f32(each) for each in (1.0, *powers)) for powers in (gain, fall)]
    middle = f32((0.5 - x) / unit), f32((0.5 - y) / unit)
    corner = region.top, region.left
    return _multiply_by_gain(rgb, maps, corner, middle, f32(1 / unit), *numbers, f32(share))


@compiled
def _multiply_by_gain(rgb, maps, corner, middle, step, gain, fall, share):
    out = aligned(rgb.shape)
    top, left = corner
    line = np.empty(rgb.shape[2], np.float32)
    for y in range(rgb.shape[1]):
        v = fma(f32(y + top), step, middle[1])
        square = v * v
        for x in range(line.size):
            u = fma(f32(x + left), step, middle[0])
            r = fma(u, u, square)
            line[x] = series(r, gain) / series(r, fall)
        for n in range(maps.shape[0]):
            factors = maps[n, y]
            for x in range(line.size):
                line[x] *= factors[x]
        for x in range(line.size):
            line[x] = fma(share, line[x] - f32(1), f32(1))
        for c in range(3):
            source, target = rgb[c, y], out[c, y]
            for x in range(line.size):
                target[x] = source[x] * line[x]
    return out


def shift_colours(
    rgb: np.ndarray, here: Region, there: Region, red: Shift | None, blue: Shift | None
) -> np.ndarray:
    """Red and blue taken from where they were recorded.

    A value stays among the four nearest ones of its row, then of its column, or goes beyond them by
    `BEYOND` of the least at most: texture keeps its peaks, and a lamp gets no dark ring.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    here, there : Region
        Where the pixels are in the frame, and which of them are wanted. As many as the largest
        shift and three must be around these, but at the borders of the frame, beyond which its last
        pixels are repeated.
    red, blue : Shift or None
        None leaves a colour where it is.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        Of what is wanted.
    """
    out = aligned((3, *there.shape))
    for source, target, shift in zip(rgb, out, (red, None, blue), strict=True):
        if shift is None:
            y, x = there.place_in(here)
            target[:] = source[y : y + target.shape[0], x : x + target.shape[1]]
        else:
            numbers = tuple(map(float, (shift.x, shift.y, shift.unit, shift.s, shift.t)))
            radial, corners = tuple(map(float, shift.radial)), (*here[::2], *there[::2])
            _shift_colour(source, corners, numbers, radial, shift.run, WEIGHTS, target)
    return out


@compiled
def _shift_colour(plane, corners, shift, radial, run, weights, out):
    """Rows that are shifted along are kept as long as some row below needs them."""
    first_row, first_column, top, left = corners
    last_row, last_column = first_row + plane.shape[0], first_column + plane.shape[1]
    begin = left - left % run
    runs = -(-(left + out.shape[1] - begin) // run)
    length, after = run * runs, begin + run * runs
    node = first_row // ROWS
    nodes = (last_row - 1) // ROWS + 2 - node
    across, down = np.empty((nodes, runs + 1)), np.empty((nodes, runs + 1))
    _find_shifts(node, begin, run, shift, radial, across, down)

    least, most = _whole(across.min()) - 2, _whole(across.max()) + 4
    start = min(begin + least, first_column)
    wide = aligned((max(after + most, last_column) - start,))
    beside = u64(begin - start)
    least, most = _whole(down.min()) - 2, _whole(down.max()) + 4
    room = most - least
    kept, line, shifts = aligned((room * length,)), aligned((length,)), np.empty(runs + 1)
    each = np.empty((3, runs), np.int64)
    needed = np.arange(top + least, top + out.shape[0] + most)
    for k in range(needed.size):
        needed[k] = min(max(needed[k], first_row), last_row - 1)
    starts = (needed % room * length).astype(np.uint64)

    made = needed[0]
    for y in range(out.shape[0]):
        while made <= needed[y + room - 1]:
            _widen(plane[made - first_row], first_column - start, wide)
            _find_runs(made, node, across, shifts, each)
            _shift_row(wide, beside, each, weights, run, kept, u64(made % room * length))
            made += 1
        _find_runs(y + top, node, down, shifts, each)
        _shift_columns(kept, starts, y - least, each, weights, run, line)
        _copy(line[left - begin :], out[y])


@inner
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
def _find_runs(y, node, nodes, shifts, runs):
    """Whole pixels by which runs of a row are shifted, and weights at their starts and ends."""
    above, below = nodes[y // ROWS - node], nodes[y // ROWS - node + 1]
    share = y % ROWS / ROWS
    for k in range(shifts.size):
        shifts[k] = above[k] + share * (below[k] - above[k])
    whole, first, last = runs[0], runs[1], runs[2]
    for k in range(whole.size):
        before, after = shifts[k], shifts[k + 1]
        down = np.floor((before + after) / 2)
        whole[k] = np.int64(down)
        first[k] = _nearest(before - down)
        last[k] = _nearest(after - down)


@inner
def _whole(place):
    return int(np.floor(place))


@inner
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


@inner
def _shift_row(wide, beside, runs, weights, run, kept, to):
    for k in range(runs.shape[1]):
        at = beside + u64(runs[0, k] - 2)
        taps = at, at + u64(1), at + u64(2), at + u64(3), at + u64(4), at + u64(5)
        ends = u64(runs[1, k]), u64(runs[2, k])
        _weigh(wide, taps, weights, ends, run, kept, to)
        beside += u64(run)
        to += u64(run)


@inner
def _shift_columns(kept, starts, first, runs, weights, run, line):
    x = u64(0)
    for k in range(runs.shape[1]):
        n = u64(first + runs[0, k] - 2)
        taps = (
            starts[n] + x, starts[n + u64(1)] + x, starts[n + u64(2)] + x,
            starts[n + u64(3)] + x, starts[n + u64(4)] + x, starts[n + u64(5)] + x,
        )  # fmt: skip
        ends = u64(runs[1, k]), u64(runs[2, k])
        _weigh(kept, taps, weights, ends, run, line, x)
        x += u64(run)


@inner
def _nearest(place):
    """Index of the weights of a place between two pixels."""
    return np.int64(min(max(np.floor(place * STEPS + 0.5) + STEPS // 2, 0.0), 2.0 * STEPS))


@inlined
def _weigh(pixels, taps, weights, ends, run, out, to):
    """Six taps with weights on the way from those at the start of a run to those at its end."""
    a, b, c, d, e, f = taps
    first = _six(weights, ends[0])
    last = _six(weights, ends[1])
    step = f32(1) / f32(run)
    share, onward = numbered() * alike(step), alike(f32(LANES) * step)
    for _ in range(run // LANES):
        v, w, x, y = load(pixels, b), load(pixels, c), load(pixels, d), load(pixels, e)
        total = _between(first[0], last[0], share) * load(pixels, a)
        total = fused(_between(first[1], last[1], share), v, total)
        total = fused(_between(first[2], last[2], share), w, total)
        total = fused(_between(first[3], last[3], share), x, total)
        total = fused(_between(first[4], last[4], share), y, total)
        total = fused(_between(first[5], last[5], share), load(pixels, f), total)
        low, high = lesser(lesser(v, w), lesser(x, y)), greater(greater(v, w), greater(x, y))
        more = alike(BEYOND) * greater(low, alike(f32(0)) - low)
        store(out, to, lesser(greater(total, low - more), high + more))
        share = share + onward
        a, b, c, to = a + u64(LANES), b + u64(LANES), c + u64(LANES), to + u64(LANES)
        d, e, f = d + u64(LANES), e + u64(LANES), f + u64(LANES)


@inlined
def _six(weights, n):
    return (
        alike(weights[n, 0]), alike(weights[n, 1]), alike(weights[n, 2]),
        alike(weights[n, 3]), alike(weights[n, 4]), alike(weights[n, 5]),
    )  # fmt: skip


@inlined
def _between(before, after, share):
    return fused(share, after - before, before)
