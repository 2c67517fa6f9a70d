"""What undoes errors of a lens on the pixels of a tile: falloff of light, and lateral colour.

Lateral colour moves by a fraction of a pixel that changes slowly, so red and blue are resampled
first along the rows and then down the columns, in runs of pixels along a row: at both ends of a run
the shift and the weights of its six taps are found, and in between the weights run evenly. Runs
begin at multiples of their length in the frame, so tiles give the same bits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.primitives import aligned, clamp, compiled, f32, fma, inner, series
from grading.region import Region

RUNS = (128, 64, 32, 16)
"""Pixels of a run, the fastest first."""

EVENLY = 0.2
"""Pixels by which a shift may change in a run: a wave of four pixels loses 1.2 percent at most."""

TAPS = 6
STEPS = 256
"""Places between two pixels for which weights are held."""

MOST = 32
"""Pixels of the largest shift."""

BEYOND = 1 / 8
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
    return np.linalg.solve(squares, wanted.T).T[:, :TAPS].astype(np.float32)


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
    rgb: np.ndarray, region: Region, red: Shift | None, blue: Shift | None
) -> np.ndarray:
    """Red and blue taken from where they were recorded.

    A value stays among the four nearest ones of its row, then of its column, or goes beyond them by
    `BEYOND` of the least at most: texture keeps its peaks, and a lamp gets no dark ring.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    region : Region
        Where the pixels are in the frame.
    red, blue : Shift or None
        None leaves a colour where it is.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        The outermost pixels, as many as the largest shift and three, are right only at the borders
        of the frame, beyond which its last pixels are repeated.
    """
    out = aligned(rgb.shape)
    corner = region.top, region.left
    for source, target, shift in zip(rgb, out, (red, None, blue), strict=True):
        if shift is None:
            target[:] = source
        else:
            numbers = tuple(map(float, (shift.x, shift.y, shift.unit, shift.s, shift.t)))
            radial = tuple(map(float, shift.radial))
            _shift_colour(source, corner, numbers, radial, shift.run, WEIGHTS, target)
    return out


@compiled
def _shift_colour(plane, corner, shift, radial, run, weights, out):
    across = aligned(plane.shape)
    _shift_rows(plane, corner, shift, radial, run, weights, across)
    _shift_columns(across, corner, shift, radial, run, weights, out)


@inner
def _shift_rows(plane, corner, shift, radial, run, weights, out):
    top, left = corner
    rows, columns = plane.shape
    begin, runs, across, down = _runs(left, columns, run)
    margin = MOST + TAPS // 2
    wide = np.empty(columns + 2 * margin, np.float32)
    for y in range(rows):
        source, target = plane[y], out[y]
        for x in range(margin):
            wide[x] = source[0]
            wide[columns + margin + x] = source[columns - 1]
        for x in range(columns):
            wide[margin + x] = source[x]
        _find_shifts(begin, run, y + top, shift, radial, across, down)
        for k in range(runs):
            before, after = across[k], across[k + 1]
            whole = int(np.floor((before + after) / 2))
            here = begin + k * run
            first, last = max(here - left, 0), min(here + run - left, columns)
            start = first + margin - 2 + whole
            taps = (start, start + 1, start + 2, start + 3, start + 4, start + 5)
            ends = weights[_step(before - whole)], weights[_step(after - whole)]
            _weigh(wide, taps, ends, run, first + left - here, last - first, target, first)


@inner
def _shift_columns(plane, corner, shift, radial, run, weights, out):
    top, left = corner
    rows, columns = plane.shape
    begin, runs, across, down = _runs(left, columns, run)
    pixels = plane.ravel()
    for y in range(rows):
        target = out[y]
        _find_shifts(begin, run, y + top, shift, radial, across, down)
        for k in range(runs):
            before, after = down[k], down[k + 1]
            whole = int(np.floor((before + after) / 2))
            here = begin + k * run
            first, last = max(here - left, 0), min(here + run - left, columns)
            row = y - 2 + whole
            taps = (
                _within(row, rows) * columns + first,
                _within(row + 1, rows) * columns + first,
                _within(row + 2, rows) * columns + first,
                _within(row + 3, rows) * columns + first,
                _within(row + 4, rows) * columns + first,
                _within(row + 5, rows) * columns + first,
            )
            ends = weights[_step(before - whole)], weights[_step(after - whole)]
            _weigh(pixels, taps, ends, run, first + left - here, last - first, target, first)


@inner
def _within(row, rows):
    return min(max(row, 0), rows - 1)


@inner
def _step(place):
    """Index of the weights of a place between two pixels."""
    steps = int(np.floor(place * STEPS + 0.5)) + STEPS // 2
    return min(max(steps, 0), 2 * STEPS)


@inner
def _runs(left, columns, run):
    """Where runs begin, how many there are, and room for the shifts at their ends."""
    begin = left - left % run
    runs = -(-(left + columns - begin) // run)
    return begin, runs, np.empty(runs + 1), np.empty(runs + 1)


@inner
def _find_shifts(begin, run, row, shift, radial, across, down):
    """How far to the right and down the ends of runs are to be taken from."""
    x, y, unit, s, t = shift
    scale, v = 1 / unit, (row + 0.5 - y) / unit
    for i in range(across.size):
        u = (begin + i * run + 0.5 - x) * scale
        square = u * u + v * v
        r, factor = np.sqrt(square), 0.0
        for k in range(TERMS - 1, -1, -1):
            factor = factor * r + radial[k]
        factor += 2 * (s * u + t * v)
        right, low = (u * factor + square * s) * unit, (v * factor + square * t) * unit
        across[i] = min(max(right, -MOST), MOST)
        down[i] = min(max(low, -MOST), MOST)


@inner
def _weigh(pixels, taps, ends, run, way, length, out, start):
    """Six taps with weights on the way from those at the start of a run to those at its end.

    Numbers of pixels are unsigned, or the compiler would ask of each whether it counts from the
    end; and no parts of arrays are taken, which costs more than so few pixels.
    """
    before, after = ends
    step = f32(1) / f32(run)
    a0, b0, c0, d0, e0, f0 = before[0], before[1], before[2], before[3], before[4], before[5]
    a1, b1, c1 = after[0] - a0, after[1] - b0, after[2] - c0
    d1, e1, f1 = after[3] - d0, after[4] - e0, after[5] - f0
    a, b, c = np.uint64(taps[0]), np.uint64(taps[1]), np.uint64(taps[2])
    d, e, f = np.uint64(taps[3]), np.uint64(taps[4]), np.uint64(taps[5])
    target = np.uint64(start)
    for i in range(np.uint64(length)):
        share = f32(np.int32(i) + np.int32(way)) * step
        v, w, x, y = pixels[b + i], pixels[c + i], pixels[d + i], pixels[e + i]
        total = fma(share, a1, a0) * pixels[a + i]
        total = fma(fma(share, b1, b0), v, total)
        total = fma(fma(share, c1, c0), w, total)
        total = fma(fma(share, d1, d0), x, total)
        total = fma(fma(share, e1, e0), y, total)
        total = fma(fma(share, f1, f0), pixels[f + i], total)
        low, high = _ends(v, w, x, y)
        out[target + i] = clamp(total, low, high)


@inner
def _ends(b, c, d, e):
    low, high = (b, c) if b < c else (c, b)
    least, most = (d, e) if d < e else (e, d)
    low, high = (low if low < least else least), (high if high > most else most)
    more = f32(BEYOND) * abs(low)
    return low - more, high + more
