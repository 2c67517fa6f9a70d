"""The noise of a colour's luminance over a grey's, against a plain twin."""

import numpy as np
import pytest

from grading.kernels.excess import BEFORE, DIM, exceeding
from grading.kernels.groups import LANES
from grading.kernels.primitives import compiled
from kernels.guards import guarded

SITES = np.float32([0.25, 0.53, 0.22])
PHOTON, ROOT = np.float32(2e-3), np.float32(6e-3)
AXES = np.array([[1, 2, 1], [1, 0, -1], [1, -2, 1]]) / np.sqrt([[16 / 3], [2], [6]])


@compiled
def exceeds(light, colours, sites, photon, root, top, left):
    within = 0, light.shape[0], 0, light.shape[1]
    excess, place = exceeding(light, within, colours, (top, left), sites, photon, root)
    return excess[:, : excess.shape[1] - LANES], place


def ours(planes, top=0, left=0):
    return exceeds(planes[0], planes[1:], SITES, PHOTON, ROOT, top, left)


def twin(planes, sites, photon, root, top=0, left=0):
    """Of means of blocks of 8x8, those of 2x2 at the border being cut and repeated."""
    down, over = top % 2, left % 2
    rows, columns = planes.shape[1:]
    more = (0, 0), (down, (rows + down) % 2), (over, (columns + over) % 2)
    padded = np.pad(planes.astype(float), more, mode="edge")
    half = padded.reshape(3, padded.shape[1] // 2, 2, -1, 2).mean((2, 4))
    half = np.pad(half, ((0, 0), (BEFORE, BEFORE + 1), (BEFORE, BEFORE + 1)), mode="edge")
    means = np.lib.stride_tricks.sliding_window_view(half, (4, 4), (1, 2)).mean((3, 4))
    channels = np.tensordot(np.linalg.inv(AXES), means, 1)
    p, q, s = root + photon / 2 * np.maximum(channels, 0)
    red, green, blue = sites
    made = red * p**2 + green * q**2 + blue * s**2
    return (1 / p + 2 / q + 1 / s) ** 2 / 16 * made * (1 + DIM * photon / q) - 1


def coloured(rows, columns):
    """Noisy planes of two colours side by side, one of them without blue light."""
    rng = np.random.default_rng(rows + columns)
    channels = np.ones((3, rows, columns)) * np.reshape([20, 8, 3], (3, 1, 1))
    channels[2, :, columns // 2 :] = -0.5
    planes = np.tensordot(AXES, channels, 1)
    return np.float32(planes + rng.normal(size=planes.shape))


@pytest.mark.parametrize("place", [(0, 0), (3, 6), (4, 7)])
@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (8, 1), (17, 40), (30, 33)])
def test_agrees_with_a_plain_twin(shape, place):
    planes = coloured(*shape)
    (found, first), exact = ours(planes, *place), twin(planes, SITES, PHOTON, ROOT, *place)
    assert first == (place[0] // 2 - BEFORE, place[1] // 2 - BEFORE)
    np.testing.assert_allclose(found, exact, rtol=2e-5, atol=2e-5)


@pytest.mark.parametrize("shape", [(1, 1), (3, 17), (16, 5)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    planes = coloured(*shape)
    found, kept = guarded(lambda each: ours(each, 1, 1)[0], planes)
    np.testing.assert_array_equal(kept, planes)
    assert np.isfinite(found).all()


def test_a_bright_grey_exceeds_nothing_and_no_colour_falls_below_it():
    grey = np.tensordot(AXES, np.full((3, 16, 16), 1e4), 1).astype(np.float32)
    assert np.abs(ours(grey)[0]).max() < 1e-3
    for seed in range(20):
        tint = np.random.default_rng(seed).uniform(0, 100, (3, 1, 1)) * np.ones((3, 8, 8))
        assert ours(np.tensordot(AXES, tint, 1).astype(np.float32))[0].min() > -0.01
