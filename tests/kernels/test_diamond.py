"""The diamond angle against the arc tangent."""

import numpy as np

from grading.kernels.diamond import diamond_degrees


def diamond(degrees):
    """Diamond angle of a direction, by its definition."""
    a, b = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    share = a / (np.abs(a) + np.abs(b))
    return np.where(b >= 0, 1 - share, 3 + share)


def test_quarters_stand_at_whole_numbers():
    np.testing.assert_allclose(diamond_degrees(4), [0, 90, 180, 270, 360], atol=1e-12)


def test_middles_of_quarters():
    np.testing.assert_allclose(diamond_degrees(8)[1::2], [45, 135, 225, 315], atol=1e-12)


def test_inverse_of_the_diamond_angle():
    degrees = diamond_degrees(1440)
    np.testing.assert_allclose(diamond(degrees[1:-1]), np.arange(1, 1440) / 360, atol=1e-12)


def test_rises_once_around():
    degrees = diamond_degrees(720)
    assert degrees[0] == 0 and degrees[-1] == 360
    assert (np.diff(degrees) > 0).all()
