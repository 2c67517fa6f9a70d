"""Measures of green patches against their definitions written out."""

import numpy as np
import pytest
from scipy.fft import dctn

from grading.kernels.raw.patches import BENDS, FINEST, PLANES, SIDE, green_patches
from kernels.guards import ODD_SHAPES, guarded


def twin(mosaic, corner, step, black, lowest, highest):
    """One patch after another, its cosine transform by SciPy."""
    rows = range(corner[0], mosaic.shape[0] - 2 * SIDE + 2, step)
    columns = range(corner[1], mosaic.shape[1] - SIDE + 1, step)
    out = np.empty((PLANES, len(rows), len(columns)))
    i, j = np.indices((SIDE, SIDE))
    for y, row in enumerate(rows):
        for x, column in enumerate(columns):
            counts = mosaic[row + i + j, column + i - j].astype(float)
            usable = counts.min() > lowest and counts.max() < highest
            raised = counts + np.where((i + j) % 2, black[0] - black[1], 0)
            coefficients = dctn(raised, norm="ortho")
            squares = coefficients**2
            squares[0, 0] = 0
            bends = sum(squares[k] for k in BENDS)
            finest = [coefficients[k] for k in FINEST]
            rest = squares.sum() - bends - np.square(finest).sum()
            mean = coefficients[0, 0] / SIDE if usable else -1
            out[:, y, x] = mean, bends / 2, rest / 9, *finest
    return out


def mosaic(shape, seed=1):
    rng = np.random.default_rng(seed)
    return rng.integers(1000, 9000, shape).astype(np.uint16)


@pytest.mark.parametrize("shape", [(16, 16), (41, 57), (64, 63), (8, 9)])
@pytest.mark.parametrize(("corner", "step"), [((0, 5), 4), ((1, 4), 4), ((0, 5), 6)])
def test_measures_are_those_of_the_definition(shape, corner, step):
    counts = mosaic(shape)
    arguments = corner, step, (500.0, 510.5), 1010, 8990
    found, wanted = green_patches(counts, *arguments), twin(counts, *arguments)
    assert found.dtype == np.float32 and found.shape == wanted.shape
    np.testing.assert_allclose(found, wanted, rtol=2e-4, atol=2e-2)


def test_all_sites_of_a_patch_are_of_the_greens():
    """Red and blue of 5000 would show beside greens of 2000."""
    counts = np.full((40, 40), 5000, np.uint16)
    counts[0::2, 1::2] = counts[1::2, 0::2] = 2000
    found = green_patches(counts, (0, 5), 4, (0.0, 0.0), 0, 65535)
    assert (found[0] == 2000).all() and not found[1:].any()


@pytest.mark.parametrize("count", [100, 8000])
def test_a_patch_with_a_count_at_a_limit_is_marked(count):
    counts = np.full((16, 16), 3000, np.uint16)
    counts[3, 5 + 1] = count  # i = 2, j = 1
    found = green_patches(counts, (0, 5), 8, (0.0, 0.0), 100, 8000)
    assert found[0, 0, 0] == -1
    assert green_patches(counts, (0, 5), 8, (0.0, 0.0), 99, 8001)[0, 0, 0] > 0


def test_white_noise_is_alike_in_all_and_a_slope_is_no_bend():
    """A step of the lattice is 30 + 20 counts one way, 30 - 20 the other; the squares of a step of
    1 about the middle of a patch sum to 20."""
    rng = np.random.default_rng(2)
    y, x = np.indices((1200, 1200))
    noise = rng.normal(5000 + 20 * x + 30 * y, 40).astype(np.uint16)
    _, bends, rest, *finest = green_patches(noise, (0, 5), 8, (0.0, 0.0), 0, 65535)
    assert bends.mean() == pytest.approx(1600, rel=0.03)
    assert np.square(finest).mean() == pytest.approx(1600, rel=0.03)
    assert rest.mean() == pytest.approx(1600 + 20 * (50**2 + 10**2) / 9, rel=0.03)


@pytest.mark.parametrize("corner", [(0, 5), (1, 4)])
def test_nothing_beyond_a_mosaic_of_odd_shape_is_read(corner):
    arguments = corner, 4, (0.0, 0.0), 0, 65535
    for shape in (*ODD_SHAPES, (33, 35), (8, 9), (9, 8)):
        counts = mosaic(shape)
        found, _ = guarded(lambda own: green_patches(own, *arguments), counts)
        np.testing.assert_array_equal(found, green_patches(counts, *arguments))
