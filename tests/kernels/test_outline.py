"""Weights of drawn outlines, against distances in double precision."""

import numpy as np
import pytest

from cut_pieces import PIECES, cuts
from grading.kernels.outline import outline

ROWS, COLUMNS = 60, 90
CROOKED = np.array([[5.3, 8.1], [70.2, 12.5], [80.9, 50.3], [40.1, 25.4], [12.6, 55.7], [5.3, 8.1]])
STAR = np.array([[45, 3], [63.2, 57], [12, 20], [78, 20], [27, 57], [45, 3.0]])


def twin(points, half, fade, filled):
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(np.float64)
    nearest, crossings = np.full(x.shape, np.inf), np.zeros(x.shape, int)
    for (ax, ay), (bx, by) in zip(points, points[1:], strict=False):
        way = np.array([bx - ax, by - ay])
        share = np.clip(((x - ax) * way[0] + (y - ay) * way[1]) / (way @ way), 0, 1)
        nearest = np.minimum(nearest, np.hypot(x - ax - share * way[0], y - ay - share * way[1]))
        if filled and ay != by:
            crosses = (ay <= y) != (by <= y)
            crossings += crosses & (ax + (y - ay) / (by - ay) * way[0] <= x)
    signed = np.where(crossings % 2 == 1, -nearest, nearest)
    t = np.clip((half - signed) / fade + 0.5, 0, 1)
    return t * t * (3 - 2 * t)


CASES = {
    "area": (CROOKED, 0.0, 6.0, True),
    "hard area": (CROOKED, 0.0, 1.0, True),
    "star": (STAR, 0.0, 3.0, True),
    "line": (CROOKED[:-1], 4.0, 3.0, False),
    "thin line": (STAR, 0.5, 8.0, False),
    "beyond the frame": (3 * CROOKED - 60, 2.0, 20.0, True),
}


@pytest.mark.parametrize("case", CASES)
def test_agrees_with_double_precision(case):
    weights = outline(0, ROWS, 0, COLUMNS, *CASES[case])
    assert weights.dtype == np.float32 and 0 <= weights.min() < weights.max() <= 1
    np.testing.assert_allclose(weights, twin(*CASES[case]), atol=2e-4)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("pieces", PIECES)
def test_pieces_agree_bit_for_bit(case, pieces):
    whole = outline(0, ROWS, 0, COLUMNS, *CASES[case])
    for y0, y1, x0, x1 in cuts(ROWS, COLUMNS, pieces):
        part = outline(y0, y1, x0, x1, *CASES[case])
        np.testing.assert_array_equal(part, whole[y0:y1, x0:x1])


def test_what_is_enclosed_twice_is_outside():
    weights = outline(0, ROWS, 0, COLUMNS, STAR, 0.0, 1.0, True)
    assert weights[12, 45] == 1 and weights[32, 45] == 0 and weights[2, 2] == 0
