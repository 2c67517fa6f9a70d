"""Nearly level lines over the width of a frame, straight but for what a lens makes of them.

Light is averaged in narrow strips, in which steps down the rows are found; lines that most strips
share come from a Hough transform (Duda and Hart, CACM 15:11, 1972), and each is fitted while the
scale of what counts as near shrinks (graduated non-convexity: Blake and Zisserman, Visual
Reconstruction, 1987; from memory). The limits are ours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise
from grading.inspect.water import BINS, least_light

STEEPEST = np.tan(np.radians(8.0))
"""Slope of the steepest horizon that is looked for."""

STRIPS, LEAST_WIDTH = 48, 6
"""Strips across a frame, about; their least width in pixels."""

STEPS = 160
"""A step is looked for between means of so many parts of the rows above and below."""

CONTRAST = 0.03
"""Least step, in stops."""

FIRST = STRONGEST = 6
"""Steps of a strip that count: from the top, where sky has few, and by size."""

TRIED = 8
"""Lines that are fitted, those of most strips first."""

NEAR = 0.7
"""Pixels from a line within which a step is of it."""

BENDS = 0.06
"""Bow of a line by a lens, as a share of its distance from the middle."""


class Strips(NamedTuple):
    """Steps between the means of rows above and below, in stops.

    ``step`` has the shape (rows - 2 reach + 1, strips), its first row `reach` from the top.
    ``along`` is where strips are, -1..1, ``size`` rows and columns.
    ``means`` has the light of each row and bin, `BINS` of them to a strip.
    """

    step: np.ndarray
    along: np.ndarray
    means: np.ndarray
    reach: int
    width: int
    size: tuple[int, int]

    @property
    def unit(self) -> float:
        """Pixels that count as one: more in a larger picture, whose edges are softer."""
        return max(1.0, self.reach / 2.5)

    @property
    def bins(self) -> np.ndarray:
        """Where bins are, as `along`."""
        wide = self.width / (self.size[1] / 2) / BINS
        return (np.arange(self.means.shape[1]) + 0.5) * wide - 1


class Course(NamedTuple):
    """Row at the middle, rise over half the width and bow, in rows; steps and which are of it."""

    row: float
    fall: float
    bow: float
    off: np.ndarray
    step: np.ndarray
    good: np.ndarray

    def rows(self, along: np.ndarray) -> np.ndarray:
        """Where it is."""
        return self.row + self.fall * along + self.bow * along * along

    def scatter(self) -> float:
        """Deviation of its steps from it, in rows."""
        return float(np.sqrt(np.square(self.off[self.good]).mean())) if self.good.any() else np.inf


def find_courses(light: np.ndarray, noise: Noise) -> tuple[list[Course], Strips]:
    """Courses that many strips share, each once, the most seen first, and the strips.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear, 1 at white; a few hundred rows are enough.
    noise : Noise
        Of a pixel of it.
    """
    strips = _strips(light, noise)
    return _fitted(strips, _lines(strips)), strips


def _strips(light, noise):
    rows, columns = light.shape
    wide = max(columns // (BINS * STRIPS), LEAST_WIDTH // BINS)
    width = BINS * wide
    count, reach = columns // width, max(2, round(rows / STEPS))
    starts = np.arange(0, count * width, wide)
    bins = np.add.reduceat(light[:, : count * width], starts, axis=1) / np.float32(wide)
    means = np.add.reduceat(bins, np.arange(0, count * BINS, BINS), axis=1) / np.float32(BINS)
    means = np.maximum(means, least_light(noise))
    sums = np.zeros((rows + 1, count))
    np.cumsum(np.log2(means), axis=0, out=sums[1:])
    boxes = (sums[reach:] - sums[:-reach]) / reach
    along = (np.arange(count) + 0.5) * width / (columns / 2) - 1
    step = (boxes[reach:] - boxes[:-reach]).astype(np.float32)
    return Strips(step, along, bins, reach, width, (rows, columns))


def _peaks(strips):
    """Strips and rows of the steps that count."""
    size = np.abs(strips.step)
    kept = size > CONTRAST
    kept[1:-1] &= (size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:])
    kept[[0, -1]] = False
    strip, row = np.nonzero(kept.T)
    begin = np.searchsorted(strip, np.arange(size.shape[1]))[strip]
    from_top = np.arange(strip.size) - begin
    by_size = np.empty(strip.size, int)
    by_size[np.lexsort((-size[row, strip], strip))] = from_top
    counts = (from_top < FIRST) | (by_size < STRONGEST)
    return strip[counts], row[counts]


def _lines(strips):
    """Rows at the middle and falls over half the width that most strips share."""
    strip, row = _peaks(strips)
    bin_rows, half = strips.reach, strips.size[1] / 2
    most = int(STEEPEST * half / (0.75 * bin_rows)) + 1
    falls = np.arange(-most, most + 1) * 0.75  # in bins
    margin = int(falls[-1]) + 2
    width = strips.step.shape[0] // bin_rows + 2 + 2 * margin
    place = row / bin_rows - falls[:, None] * strips.along[strip] + margin
    index = place.astype(int) + np.arange(falls.size)[:, None] * width
    votes = np.bincount(index.ravel(), minlength=falls.size * width).reshape(-1, width)
    votes[:, 1:] += votes[:, :-1].copy()
    found = []
    for _ in range(TRIED):
        i, j = np.unravel_index(votes.argmax(), votes.shape)
        found.append((float(j - margin) * bin_rows, falls[i] * bin_rows))
        for k in range(max(i - 5, 0), min(i + 6, falls.size)):
            apart = int(0.75 * abs(i - k))
            votes[k, max(j - 2 - apart, 0) : j + 3 + apart] = 0
    return found


def _fitted(strips, lines):
    """Courses fitted to the steps near lines, each once, the most seen first."""
    powers = strips.along[:, None] ** np.arange(3)
    numbers = np.zeros((len(lines), 3))
    numbers[:, :2] = lines
    for reach, scales in ((3, (np.inf, 2.0, 1.0)), (2, (1.0, 0.5, 0.25)), (2, (1.0, 0.5, 0.25))):
        row, step, valid = _nearest(strips, numbers @ powers.T, int(reach * strips.reach) + 2)
        off = row - numbers @ powers.T
        for scale in scales:
            weight = valid / (1 + np.square(off / (scale * strips.unit))) ** 2
            bowed = None if scales[0] == np.inf else numbers[:, 0] + strips.reach
            numbers = _least_squares(powers, row, weight, bowed, strips.size[0])
            off = row - numbers @ powers.T
    good = valid & (np.abs(off) < NEAR * strips.unit)
    courses, known = [], set()
    for i in np.argsort(-good.sum(1), kind="stable"):
        name = tuple(np.rint(numbers[i, :2] / strips.unit).astype(int))
        if name not in known:
            known.add(name)
            courses.append(Course(*numbers[i].tolist(), off[i], step[i], good[i]))
    return courses


def _nearest(strips, rows, reach):
    """Of each strip, the largest step near a row: its row to a fraction, itself, if it is one."""
    step, count = strips.step, strips.along.size
    strip, middle = np.arange(count), np.rint(rows).astype(int)
    index = middle[..., None] + np.arange(-reach, reach + 1)
    index = np.clip(index, 1, step.shape[0] - 2)
    size = np.abs(step[index, strip[:, None]])
    place = size.argmax(2)
    row = np.take_along_axis(index, place[..., None], 2)[..., 0]
    here = step[row, strip]
    above, below = (np.sign(here) * step[row + side, strip] for side in (-1, 1))
    bow = np.maximum(2 * np.abs(here) - above - below, 1e-6)
    valid = (place > 0) & (place < 2 * reach)
    valid &= np.abs(here) > CONTRAST / 2
    return row + np.clip(0.5 * (below - above) / bow, -0.5, 0.5), here, valid


def _least_squares(powers, row, weight, bowed, rows):
    """Numbers of weighted parabolas, whose bow is what a lens may make of it; of lines at first."""
    squares = np.einsum("kn,ni,nj->kij", weight, powers, powers) + 1e-6 * np.eye(3)
    if bowed is None:
        squares[:, 2, 2] += 1e9
    else:
        squares[:, 2, 2] += np.square(0.3 / (BENDS / 2 * np.abs(bowed - rows / 2) + 0.05))
    return np.linalg.solve(squares, ((weight * row) @ powers)[..., None])[..., 0]
