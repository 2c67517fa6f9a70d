"""Lines of a frame that are nearly upright: walls, windows, masts, stems.

Edges that are nearly upright are gathered to lines by a Hough transform (Duda and Hart, CACM 15:11,
1972) and each line is fitted. The limits are ours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise

STEEPEST = 8.0
"""Degrees of lean that are looked for."""

LEAST_SIDE = 48
"""Pixels of a frame each way below which none are looked for."""

HOUGH_STEP = 0.25
CONTRAST, SURE = 0.06, 5.0
"""Least step across an edge, in stops, and in deviations of the noise."""

UPRIGHT = 0.3
"""Most of its step that an edge may have along the columns."""

CROWDED = 0.08
"""Share of pixels that are edges from which on these are no walls but reeds, grass or rain, which
wind slants alike."""

SHORTEST, GAP, FILLED = 0.03, 4, 0.75
"""Of a line: rows as a share of the frame's; rows that may be missing at a time; share that is
there."""

LINES = 300
"""Places of the transform that are tried, the fullest first."""

WITHIN = 0.1
"""Pixels that an edge of a wall is off by itself."""

BAR, BESIDE = 0.0125, 0.5
"""Width of a bar, as a share of the frame's rows, and share of the shorter of its two sides along
which they lie beside each other."""


class Line(NamedTuple):
    """A line: its lean and that one's deviation in degrees, its column at the middle row as -1..1;
    the column where it is, as -1..1, and the rows between which it is, in pixels; and whether it is
    a side of a bar."""

    lean: float
    deviation: float
    column: float
    place: float
    top: float
    bottom: float
    bar: bool = False


def find_lines(light: np.ndarray, noise: Noise) -> list[Line]:
    """Lines that are nearly upright, those that most edges may be of first.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear, 1 at white; a few hundred rows are enough.
    noise : Noise
        Of a pixel of it.

    Returns
    -------
    list of Line
        None of them where the frame is too small, or crowded.
    """
    rows, columns = light.shape
    if min(rows, columns) < LEAST_SIDE:
        return []
    edges = _edges(light, noise)
    if edges[0].size > CROWDED * light.size:
        return []
    runs = list(_runs(*edges, rows, columns))
    if not runs:
        return []
    slope, error, middle, place, top, bottom, side = np.array(runs).T
    bar = are_bars(place, top, bottom, side, BAR * rows)
    return [Line(*each) for each in zip(
        np.degrees(np.arctan(slope)).tolist(), np.degrees(error).tolist(),
        (2 * middle / columns - 1).tolist(), (2 * place / columns - 1).tolist(),
        top.tolist(), bottom.tolist(), bar.tolist(), strict=True,
    )]  # fmt: skip


def are_bars(
    place: np.ndarray, top: np.ndarray, bottom: np.ndarray, side: np.ndarray, wide: float
) -> np.ndarray:
    """Which lines are the sides of bars: one of the other sign is close beside them.

    Parameters
    ----------
    place, top, bottom, side : ndarray, shape (n,)
        Columns; rows; whether it is lighter to the right (1) or to the left (-1).
    wide : float
        Columns that the widest bar has.

    Returns
    -------
    ndarray, shape (n,), bool

    Examples
    --------
    >>> rows = np.zeros(3), np.full(3, 50.0)
    >>> are_bars(np.array([10.0, 13.0, 60.0]), *rows, np.array([-1, 1, 1]), 5.0).tolist()
    [True, True, False]
    """
    close = np.abs(place[:, None] - place) < wide
    shared = np.minimum(bottom[:, None], bottom) - np.maximum(top[:, None], top)
    shorter = np.minimum((bottom - top)[:, None], bottom - top)
    return (close & (side[:, None] != side) & (shared > BESIDE * shorter)).any(1)


def _edges(light, noise):
    """Columns, rows and signs of nearly upright edges, each at the middle of its step."""
    floor = 3 * np.sqrt(noise.variance(0.0)) + 1e-5
    stops = np.log2(np.maximum(light, floor)).astype(np.float32)
    down = stops[:-2] + 2 * stops[1:-1] + stops[2:]
    across = (down[:, 2:] - down[:, :-2]) / 4
    beside = stops[:, :-2] + 2 * stops[:, 1:-1] + stops[:, 2:]
    along = (beside[2:] - beside[:-2]) / 4
    middle = np.maximum(light[1:-1, 1:-1], floor)
    unsure = np.sqrt(noise.gain * middle + noise.offset) / middle * np.float32(1.44 * 0.87)
    size = np.abs(across)
    kept = size > np.maximum(CONTRAST, SURE * unsure)
    kept &= np.abs(along) < UPRIGHT * size + 0.5 * unsure
    kept[:, 1:-1] &= (size[:, 1:-1] >= size[:, :-2]) & (size[:, 1:-1] > size[:, 2:])
    kept[:, [0, -1]] = False
    y, x = np.nonzero(kept)
    left, here, right = size[y, x - 1], size[y, x], size[y, x + 1]
    bow = np.maximum(2 * here - left - right, 1e-6)
    return x + 1 + 0.5 * (right - left) / bow, y + 1.0, np.sign(across[y, x])


def _runs(x, y, sign, rows, columns):
    """Of each line among edges: slope, its deviation, column at the middle row, mean column, first
    and last row, and sign."""
    order = np.argsort(x, kind="stable")
    x, y, sign = x[order], y[order] - rows / 2, sign[order]
    reach = rows / 2 * np.tan(np.radians(STEEPEST)) + 2
    free, shortest = np.ones(x.size, bool), max(SHORTEST * rows, 12)
    for lean, offset, side in _candidates(x, y, sign, columns, shortest):
        first, last = np.searchsorted(x, (offset - reach, offset + reach))
        some = slice(first, last)
        near = (np.abs(x[some] - offset - y[some] * lean) < 1.5) & free[some] & (sign[some] == side)
        run = first + np.flatnonzero(near)
        if run.size >= shortest:
            run = _longest_run(run, y)
        if run.size < shortest:
            continue
        slope, at, error = _fitted(y[run], x[run])
        free[run] = False
        if abs(slope) < np.tan(np.radians(STEEPEST)):
            top, bottom = y[run].min() + rows / 2, y[run].max() + rows / 2
            yield slope, error, at, x[run].mean(), top, bottom, side


def _candidates(x, y, sign, columns, shortest):
    """Slope, column at the middle row and sign of bins of a Hough transform, the fullest first."""
    leans = np.tan(np.radians(np.arange(-STEEPEST, STEEPEST + 0.01, HOUGH_STEP)))
    reach = 128
    width = columns + 2 * reach
    side = np.where(sign > 0, width, 0)
    counts = np.stack([
        np.bincount(np.clip((x - y * lean + reach), 0, width - 1).astype(int) + side,
                    minlength=2 * width)
        for lean in leans
    ])  # fmt: skip
    counts[:, :-1] += counts[:, 1:]
    fullest = np.argsort(-counts, axis=None, kind="stable")[: 20 * LINES]
    fullest = fullest[counts.ravel()[fullest] >= shortest]
    seen, given = set(), 0
    for index in fullest:
        i, j = divmod(int(index), 2 * width)
        if (i // 3, j // 2) in seen:
            continue
        seen.add((i // 3, j // 2))
        given += 1
        yield leans[i], j % width + 1 - reach, 1 if j >= width else -1
        if given == LINES:
            return


def _longest_run(members, y):
    """Members whose rows follow each other, but for small gaps; none where many are missing."""
    order = members[np.argsort(y[members], kind="stable")]
    ends = np.append(np.flatnonzero(np.diff(y[order]) > GAP) + 1, order.size)
    sizes = np.diff(ends, prepend=0)
    longest = sizes.argmax()
    run = order[ends[longest] - sizes[longest] : ends[longest]]
    _, once = np.unique(y[run], return_index=True)
    run = run[once]
    return run if run.size >= FILLED * (y[run[-1]] - y[run[0]] + 1) else run[:0]


def _fitted(y, x):
    """Slope of x over y, x at y = 0, and the deviation of the slope."""
    middle = y.mean()
    squares = ((y - middle) ** 2).sum()
    slope = ((y - middle) * (x - x.mean())).sum() / squares
    rest = x - x.mean() - slope * (y - middle)
    rest = np.sqrt((rest**2).mean() + WITHIN**2)
    # rows beside each other share their error: three of them count for one
    return slope, x.mean() - slope * middle, rest * np.sqrt(3 / squares)
