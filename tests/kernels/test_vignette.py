"""The fall of light to the corners: pieces, and the least and greatest that it can be."""

import numpy as np
import pytest

from cut_pieces import PIECES, cuts
from grading.kernels.vignette import fall_off

AXES = np.array([[1 / 50, 1 / 200], [-1 / 300, 1 / 41]])
SHAPE = ((30.3, 18.2), AXES, 3.0, 0.1, -2.0)


def falloff(y0, y1, x0, x1, *shape):
    """The factor itself."""
    red, green, blue = fall_off(np.ones((3, y1 - y0, x1 - x0), np.float32), y0, y1, x0, x1, *shape)
    np.testing.assert_array_equal(red, green)
    np.testing.assert_array_equal(red, blue)
    return red


@pytest.mark.parametrize("power", [2.0, 3.0])
def test_agrees_with_double_precision(power):
    y, x = np.mgrid[0:41, 0:67].astype(np.float64)
    u, v = np.tensordot(AXES, np.stack([x - 30.3, y - 18.2]), 1)
    far = (np.abs(u) ** power + np.abs(v) ** power) ** (1 / power)
    t = np.clip((far - 0.1) / 0.9, 0, 1)
    exact = 2 ** (-2 / 3 * t * t * (3 - 2 * t))
    found = falloff(0, 41, 0, 67, *SHAPE[:2], power, *SHAPE[3:])
    np.testing.assert_allclose(found, exact, rtol=3e-6)


@pytest.mark.parametrize("pieces", PIECES)
def test_pieces_agree_bit_for_bit(pieces):
    whole = falloff(0, 41, 0, 67, *SHAPE)
    for y0, y1, x0, x1 in cuts(41, 67, pieces):
        np.testing.assert_array_equal(falloff(y0, y1, x0, x1, *SHAPE), whole[y0:y1, x0:x1])


def test_the_middle_itself_is_no_trouble():
    assert falloff(5, 6, 5, 6, (5, 5), 0.1 * np.eye(2), 8.0, 0.0, -4.0)[0, 0] > 0.99999
