"""A guide at reduced size, brought to the pixels of a tile, against NumPy's own interpolation."""

import numpy as np
import pytest

from cut_pieces import PIECES, cuts
from grading import kernels
from kernels.guards import ODD_SHAPES, guarded


def test_nothing_beyond_odd_shapes_is_read():
    """By the interpolation of planes to a part of twice their size."""
    for rows, columns in ODD_SHAPES:
        planes = np.random.default_rng(0).normal(size=(2, rows, columns)).astype(np.float32)
        tile = (rows // 2, 2 * rows - 1, columns // 2, 2 * columns)
        if rows == 1:
            tile = (0, 2, *tile[2:])

        def part(planes, tile=tile):
            return kernels.base.interpolate(planes, 2, *tile)

        near, _ = guarded(part, planes)
        exact = interpolated(planes, 2, 2 * rows, 2 * columns)
        y0, y1, x0, x1 = tile
        np.testing.assert_allclose(near, exact[:, y0:y1, x0:x1], atol=2e-5)


def interpolated(planes, factor, height, width):
    """By NumPy's own interpolation, first along rows and then along columns."""
    middles = [(np.arange(n) + 0.5) * factor - 0.5 for n in planes.shape[1:]]
    down = np.stack(
        [
            [np.interp(np.arange(height), middles[0], column) for column in plane.T]
            for plane in planes.astype(np.float64)
        ]
    ).transpose(0, 2, 1)
    return np.stack([[np.interp(np.arange(width), middles[1], row) for row in p] for p in down])


@pytest.mark.parametrize(("height", "width"), [(1, 1), (1, 20), (37, 2), (37, 50)])
@pytest.mark.parametrize("factor", [1, 2, 8])
def test_interpolation(height, width, factor):
    rows, columns = -(-height // factor), -(-width // factor)
    planes = np.random.default_rng(4).normal(size=(2, rows, columns)).astype(np.float32)
    whole = kernels.base.interpolate(planes, factor, 0, height, 0, width)
    np.testing.assert_allclose(whole, interpolated(planes, factor, height, width), atol=1e-6)
    for pieces in PIECES:
        for y0, y1, x0, x1 in cuts(height, width, pieces):
            part = kernels.base.interpolate(planes, factor, y0, y1, x0, x1)
            np.testing.assert_array_equal(part, whole[:, y0:y1, x0:x1])
