"""Gain against the same in double precision, between guard bands."""

import numpy as np
import pytest

from grading.kernels.lens import multiply_by_gain
from grading.kernels.nodes import at_nodes
from grading.region import Region
from kernels.guards import ODD_SHAPES, guarded

GAIN, FALL = (0.2, 0.1, -0.05, 0.02, 0.01), (-0.3, 0.1, 0.0, 0.0, 0.0)
CIRCLE = (31.0, 22.5, 60.0)
TOP, LEFT = 5, 11


def gain_twin(rgb, maps, region, circle, gain, fall, share):
    y, x = np.mgrid[region.top : region.bottom, region.left : region.right] + 0.5
    square = ((x - circle[0]) ** 2 + (y - circle[1]) ** 2) / circle[2] ** 2
    sums = [1 + sum(c * square ** (k + 1) for k, c in enumerate(each)) for each in (gain, fall)]
    factor = sums[0] / sums[1] * maps.prod(axis=0)
    return rgb * (1 + share * (factor - 1))


def light(shape, seed=0):
    return np.random.default_rng(seed).normal(0.3, 0.2, shape).astype(np.float32)


@pytest.mark.parametrize("count", [0, 2])
def test_gain_agrees_with_double_precision(count):
    rgb, maps = light((3, 40, 70)), 1 + light((count, 40, 70), 1) ** 2
    region = Region(TOP, TOP + 40, LEFT, LEFT + 70)
    out = multiply_by_gain(rgb, maps, region, CIRCLE, GAIN, FALL, 0.7)
    expected = gain_twin(rgb, maps.astype(float), region, CIRCLE, GAIN, FALL, 0.7)
    np.testing.assert_allclose(out, expected, rtol=3e-6, atol=1e-7)


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_nothing_beyond_a_picture_is_touched(shape):
    region = Region(TOP, TOP + shape[0], LEFT, LEFT + shape[1])
    maps = light((1, *shape), 1)
    guarded(lambda rgb, maps: multiply_by_gain(rgb, maps, region, CIRCLE, GAIN, FALL, 1.0),
            light((3, *shape)), maps)  # fmt: skip


def test_nodes_are_on_the_edges():
    planes = light((2, 5, 9))
    height, width = 33, 47
    y, x = np.mgrid[0:height, 0:width] + 0.5
    y, x = y / height * 4, x / width * 8
    i, j = y.astype(int), x.astype(int)
    top = planes[:, i, j] * (1 - x + j) + planes[:, i, j + 1] * (x - j)
    below = planes[:, i + 1, j] * (1 - x + j) + planes[:, i + 1, j + 1] * (x - j)
    whole = at_nodes(planes, Region.whole(height, width), height, width)
    np.testing.assert_allclose(whole, top * (1 - y + i) + below * (y - i), atol=1e-6)
    part = Region(4, 20, 9, 46)
    cut = part.cut(whole, Region.whole(height, width))
    np.testing.assert_array_equal(at_nodes(planes, part, height, width), cut)
