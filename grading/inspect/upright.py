"""How far a frame leans by what is upright in it: walls and their windows.

Where the camera looks up or down, upright lines converge, so their angle is taken to run evenly
over the columns, and its value at the middle column is the lean (as in upright adjustment: Lee et
al., CVPR 2012). Lines that lean by themselves are outvoted. What is thin does not count by itself:
masts, trunks, stems and streaks of rain often lean all alike, by wind or with a boat. Whatever is
in doubt gets no value. The limits are ours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.inspect.upright_lines import STEEPEST, Line

OWN, CONVERGENCE = 0.2, 1.2
"""Degrees that a wall is off by itself; degrees that upright lines usually lean at the sides of a
frame when those at the middle do not."""

MARGIN, DOUBT, SCATTER = 12.0, 0.15, 1.3
"""By how much the log likelihood of a lean is above that of any other; its deviation, in degrees;
and how much more the lines scatter (variance) than they should: two leans that are close, as of a
town and of a boat that carries the camera, are told by that."""

MOST = 0.6
"""Share of all nearly upright lines that must agree, and of those that are no sides of bars: where
each leans by itself, as pickets and trunks do, some of them always agree on something."""

PLACES, PLACE = 7, 30
"""Columns at which those must agree that are no sides of bars, counted in so many parts of the
width: pieces and sides of one post, and the few stanchions of a boat's rail, lean together."""

ONE_ROW = 0.2
"""Of the mean length of lines: deviation of their middles from one straight row, below which they
are one thing, as the panes of a cabin are, or a rail, and may lean as one with a boat."""


class Upright(NamedTuple):
    """What upright lines tell: degrees by which the picture is to be turned anticlockwise, the
    deviation of that, the share of all nearly upright lines that agrees, and how many these are."""

    straighten: float
    deviation: float
    share: float
    lines: int


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
    >>> walls = [Line(0.1 * x - 1.5, 0.1, x, x, top := 200 * x * x, top + 60) for x in columns]
    >>> round(agree(walls).straighten, 1)
    1.5
    """
    if len(lines) < PLACES:
        return None
    lean, deviation, column = np.array([line[:3] for line in lines]).T
    wall = np.array([not line.bar for line in lines])
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
    places = np.unique(np.floor(PLACE / 2 * (column[agreeing & wall] + 1))).size
    if doubt > DOUBT or scatter > SCATTER or places < PLACES:
        return None
    if min(agreeing.mean(), agreeing[wall].mean()) < MOST:
        return None
    if off_one_row(*np.array([line[3:6] for line in lines])[wall].T) < ONE_ROW:
        return None
    return Upright(float(-middle), doubt, float(agreeing.mean()), int(agreeing.sum()))


def off_one_row(place: np.ndarray, top: np.ndarray, bottom: np.ndarray) -> float:
    """Deviation of the middles of lines from one straight row, in mean lengths; the longer count
    for more.

    Parameters
    ----------
    place, top, bottom : ndarray, shape (n,)
        Columns as -1..1, at two places at least, and rows.

    Returns
    -------
    float

    Examples
    --------
    >>> place, top = np.array([-0.5, 0.0, 0.5]), np.array([10.0, 20.0, 30.0])
    >>> round(off_one_row(place, top, top + 40), 6)
    0.0
    """
    middle, long = (top + bottom) / 2, bottom - top
    row = np.polyval(np.polyfit(place, middle, 1, w=np.sqrt(long)), place)
    off = np.sqrt(np.average(np.square(middle - row), weights=long))
    return float(off / np.average(long, weights=long))


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
