"""How far a frame leans by what is upright in it: walls, windows, masts.

Edges that are nearly upright are gathered to lines by a Hough transform (Duda and Hart, CACM 15:11,
1972) and each line is fitted. Where the camera looks up or down, upright lines converge, so their
angle is taken to run evenly over the columns, and its value at the middle column is the lean (as in
upright adjustment: Lee et al., CVPR 2012). Lines that lean by themselves are outvoted. Whatever is
in doubt gets no value. The limits are ours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise

STEEPEST = 8.0
"""Degrees of lean that are looked for."""

LEAST_SIDE = 48
"""Pixels of a frame each way below which nothing is said."""

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

OWN, WITHIN, CONVERGENCE = 0.2, 0.1, 1.2
"""Degrees that a wall is off by itself; pixels that its edge is; degrees that upright lines usually
lean at the sides of a frame when those at the middle do not."""

MARGIN, DOUBT, SCATTER = 12.0, 0.15, 1.3
"""By how much the log likelihood of a lean is above that of any other; its deviation, in degrees;
and how much more the lines scatter (variance) than they should: two leans that are close, as of a
town and of a boat that carries the camera, are told by that."""

MOST = 0.6
"""Share of all nearly upright lines that must agree: where each leans by itself, as pickets and
trunks do, some of them always agree on something."""

PLACES, PLACE = 7, 30
"""Columns at which they must agree, counted in so many parts of the width: pieces and sides of one
post, and the few stanchions of a boat's rail, lean together."""


class Line(NamedTuple):
    """A line: its lean and that one's deviation in degrees, column as -1..1."""

    lean: float
    deviation: float
    column: float


class Upright(NamedTuple):
    """What upright lines tell: degrees by which the picture is to be turned anticlockwise, the
    deviation of that, the share of all nearly upright lines that agrees, and how many these are."""

    straighten: float
    deviation: float
    share: float
    lines: int


def find_upright(light: np.ndarray, noise: Noise) -> Upright | None:
    """The lean that upright lines tell.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear, 1 at white; a few hundred rows are enough.
    noise : Noise
        Of a pixel of it.

    Returns
    -------
    Upright or None
        None where too few lines agree.
    """
    rows, columns = light.shape
    if min(rows, columns) < LEAST_SIDE:
        return None
    edges = _edges(light, noise)
    if edges[0].size > CROWDED * light.size:
        return None
    return agree(find_lines(*edges, rows, columns))


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


def find_lines(
    x: np.ndarray, y: np.ndarray, sign: np.ndarray, rows: int, columns: int
) -> list[Line]:
    """Lines among edges, those that most edges may be of first.

    Parameters
    ----------
    x, y, sign : ndarray, shape (n,)
        Column, row, and whether it is lighter to the right (1) or to the left (-1).
    rows, columns : int
        Of the frame.

    Returns
    -------
    list of Line
    """
    order = np.argsort(x, kind="stable")
    x, y, sign = x[order], y[order] - rows / 2, sign[order]
    reach = rows / 2 * np.tan(np.radians(STEEPEST)) + 2
    found, free, shortest = [], np.ones(x.size, bool), max(SHORTEST * rows, 12)
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
            found.append(Line(
                float(np.degrees(np.arctan(slope))), float(np.degrees(error)),
                float(2 * at / columns - 1),
            ))  # fmt: skip
    return found


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


def agree(lines: list[Line]) -> Upright | None:
    """The lean at which most lines agree, if it is beyond doubt.

    Each line is either upright, and off by its own deviation, or leans by anything.

    Parameters
    ----------
    lines : list of Line

    Returns
    -------
    Upright or None

    Examples
    --------
    >>> columns = (-0.9, -0.6, -0.3, 0, 0.3, 0.6, 0.9)
    >>> walls = [Line(0.1 * x - 1.5, 0.1, x) for x in columns]
    >>> round(agree(walls).straighten, 1)
    1.5
    """
    if len(lines) < PLACES:
        return None
    lean, deviation, column = map(np.array, zip(*lines, strict=True))
    variance = deviation**2 + OWN**2
    best, slope, margin = _likeliest(lean, variance, column)
    if margin < MARGIN:
        return None
    groups = np.floor(2.5 * (column + 1)).astype(int)
    without = [_fit(*(each[groups != g] for each in (lean, variance, column)), best, slope)
               for g in np.unique(groups)]  # fmt: skip
    whole = _fit(lean, variance, column, best, slope)
    if whole is None or None in without:
        return None
    middle, doubt, scatter, agreeing = whole
    means = np.array([each[0] for each in without])
    jackknife = np.sqrt((len(means) - 1) / len(means) * ((means - means.mean()) ** 2).sum())
    doubt = float(max(doubt, jackknife))
    places = np.unique(np.floor(PLACE / 2 * (column[agreeing] + 1))).size
    if doubt > DOUBT or scatter > SCATTER or places < PLACES or agreeing.mean() < MOST:
        return None
    return Upright(float(-middle), doubt, float(agreeing.mean()), int(agreeing.sum()))


def _likeliest(lean, variance, column):
    """Lean at the middle and convergence of highest likelihood, and its margin over other leans."""
    leans = np.arange(-STEEPEST, STEEPEST + 0.01, 0.1)
    slopes = np.arange(-3, 3.01, 0.5)
    off = lean - leans[:, None, None] - slopes[:, None] * column
    upright = np.exp(-0.5 * off**2 / variance) / np.sqrt(2 * np.pi * variance)
    likelihood = np.log1p(2 * STEEPEST * upright).sum(2) - 0.5 * (slopes / CONVERGENCE) ** 2
    i, j = np.unravel_index(likelihood.argmax(), likelihood.shape)
    others = likelihood[np.abs(leans - leans[i]) > 0.75].max()
    return leans[i], slopes[j], float(likelihood[i, j] - others)


def _fit(lean, variance, column, middle, slope):
    """Lean at the middle column, its deviation, scatter, which lines agree; None if none do."""
    for _ in range(4):
        agreeing = np.abs(lean - middle - slope * column) < 2.5 * np.sqrt(variance)
        if not agreeing.any():
            return None
        a = np.stack([np.ones_like(column), column], 1)[agreeing]
        weight = 1 / variance[agreeing]
        square = (a * weight[:, None]).T @ a + np.diag([0, CONVERGENCE**-2])
        middle, slope = np.linalg.solve(square, a.T @ (weight * lean[agreeing]))
    rest = lean[agreeing] - a @ (middle, slope)
    deviation = float(np.sqrt(np.linalg.inv(square)[0, 0]))
    return middle, deviation, float((weight * rest**2).mean()), agreeing
