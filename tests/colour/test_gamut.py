"""What a destination can show, in Oklab."""

import numpy as np
import pytest

from grading.colour import oklab
from grading.colour.gamut import STEPS, darkest_channel_limit, gamut
from grading.colour.spaces import SPACES, rgb_to_xyz
from grading.kernels.diamond import diamond_degrees

HUE = diamond_degrees(STEPS)


@pytest.mark.parametrize("space", SPACES)
def test_primaries_come_out_as_themselves(space):
    lms = oklab.XYZ_TO_LMS @ rgb_to_xyz(SPACES[space])
    np.testing.assert_allclose(gamut(space).to_rgb @ lms, np.eye(3), atol=2e-6)


@pytest.mark.parametrize("space", SPACES)
def test_primaries_and_their_mixtures_lie_on_the_limit(space):
    """Where a channel is 0 and nothing else is: red to yellow to green and so on."""
    t = np.linspace(0, 1, 12)[:, None]
    corners = np.array([[1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 1, 1], [0, 0, 1], [1, 0, 1.0]])
    edges = np.concatenate(
        [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    )
    lab = oklab.xyz_to_oklab(edges @ rgb_to_xyz(SPACES[space]).T)
    ratio = np.hypot(lab[:, 1], lab[:, 2]) / lab[:, 0]
    limit = np.interp(oklab.hue(lab), HUE, gamut(space).limit)
    np.testing.assert_allclose(limit, ratio, rtol=0.01)


@pytest.mark.parametrize("space", SPACES)
def test_the_limit_never_jumps(space):
    """By more than 12 a radian, 0.2 a degree."""
    change = np.abs(np.diff(gamut(space).limit)) / np.radians(np.diff(HUE))
    assert change.max() < 12 * 1.02
    assert gamut(space).limit[0] == gamut(space).limit[-1]


@pytest.mark.parametrize("space", SPACES)
def test_on_the_limit_a_channel_is_next_to_0(space):
    """Also beside blue, where the limit is evened out: within 0.003 of the brightest."""
    to_rgb = gamut(space).to_rgb.astype(float)
    limit = darkest_channel_limit(to_rgb, np.radians(HUE))
    angle = np.radians(HUE)
    lab = np.stack([np.ones_like(angle), limit * np.cos(angle), limit * np.sin(angle)], axis=1)
    darkest = ((lab @ oklab.OKLAB_TO_LMS.T) ** 3 @ to_rgb.T).min(axis=1)
    brightest = ((lab @ oklab.OKLAB_TO_LMS.T) ** 3 @ to_rgb.T).max(axis=1)
    assert (np.abs(darkest) / brightest).max() < 3e-3
