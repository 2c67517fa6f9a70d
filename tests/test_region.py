"""Regions grow, clip, cut and cover."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.region import Region

FRAME = Region.whole(17, 33)


@given(st.integers(0, 16), st.integers(1, 17), st.integers(0, 32), st.integers(1, 33),
       st.integers(0, 40))  # fmt: skip
def test_growing_keeps_to_the_frame(top, rows, left, columns, reach):
    region = Region(top, min(top + rows, 17), left, min(left + columns, 33))
    grown = region.grown(reach, FRAME)
    inside = np.zeros(FRAME.shape, bool)
    for y in range(17):
        for x in range(33):
            far = max(region.top - y, y - region.bottom + 1, region.left - x, x - region.right + 1)
            inside[y, x] = far <= reach
    rows, columns = np.flatnonzero(inside.any(1)), np.flatnonzero(inside.any(0))
    assert grown == (rows[0], rows[-1] + 1, columns[0], columns[-1] + 1)
    assert grown.shape == (len(rows), len(columns))


def test_cutting_takes_what_both_have():
    planes = np.arange(2 * 17 * 33).reshape(2, 17, 33)
    large, small = Region(2, 12, 3, 30), Region(5, 7, 3, 20)
    held = large.cut(planes, FRAME)
    cut = small.cut(held, large)
    np.testing.assert_array_equal(cut, planes[:, 5:7, 3:20])
    assert cut.flags.c_contiguous
    assert small.cut(cut, small) is cut


@pytest.mark.parametrize("shape", [(1, 1), (5, 7), (17, 33), (100, 100), (16, 33)])
def test_tiles_cover_every_pixel_once(shape):
    region = Region(2, 15, 4, 33)
    count = np.zeros(FRAME.shape, int)
    for tile in region.tiles(*shape):
        assert tile.shape <= shape
        count[tile.top : tile.bottom, tile.left : tile.right] += 1
    assert (region.cut(count, FRAME) == 1).all() and count.sum() == 13 * 29
