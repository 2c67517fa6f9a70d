"""Planes shrunk by limited cosine transforms, against a plain twin."""

import numpy as np
import pytest
from scipy.fft import dctn, idctn

from grading.kernels import cosines
from grading.kernels.cosines import REACH, RUN
from grading.kernels.primitives import aligned, compiled
from kernels.guards import guarded

LIMITS = np.float32(2.9 * (1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8))))
LIMITS[0, 0] = 0


@compiled
def shrunk(plane, limits, step=1, first=0):
    rows, columns = plane.shape
    wide, out = aligned((rows + 2 * REACH, columns + 2 * REACH)), aligned((rows, columns))
    for y in range(rows):
        for x in range(columns):
            wide[y + REACH, x + REACH] = plane[y, x]
    cosines.mirror(wide)
    cosines.shrink(wide, limits, out, step, first)
    return out


def plane(rows, columns, seed=0):
    """A ramp with an edge and stripes, with noise of deviation 1."""
    rng = np.random.default_rng(seed)
    x, y = np.arange(columns), np.arange(rows)[:, None]
    level = 20 * x / max(columns, 9) + 10 * (y > rows / 2) + 5 * (x % 6 < 3) * (y % 20 < 9)
    return np.float32(level + rng.normal(size=(rows, columns)))


def twin(values, step=1, first=0):
    """The plane, and whether no frequency near to a pixel is within rounding of its limit."""
    padded = np.pad(values.astype(float), REACH, mode="symmetric")
    total, weights = np.zeros(padded.shape), np.zeros(padded.shape)
    clear = np.ones(padded.shape, bool)
    for y in range(padded.shape[0] - REACH):
        if (first - REACH + y) % step:
            continue
        blocks = np.lib.stride_tricks.sliding_window_view(padded[y : y + 8], 8, axis=1)
        waves = dctn(blocks.transpose(1, 0, 2), axes=(1, 2), norm="ortho")
        near = (np.abs(np.abs(waves) - LIMITS) < 1e-4).any((1, 2))
        waves *= np.abs(waves) > LIMITS
        weight = 1 / np.maximum(np.count_nonzero(waves, axis=(1, 2)), 1)
        made = idctn(waves, axes=(1, 2), norm="ortho") * weight[:, None, None]
        for x in range(made.shape[0]):
            total[y : y + 8, x : x + 8] += made[x]
            weights[y : y + 8, x : x + 8] += weight[x]
            clear[y : y + 8, x : x + 8] &= not near[x]
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    return (total / weights)[inside], clear[inside]


@pytest.mark.parametrize("rows", [(1, 0), (2, 0), (2, 1)])
@pytest.mark.parametrize("shape", [(40, 61), (9, RUN + 35), (8, 8), (33, 7)])
def test_agrees_with_a_plain_twin(shape, rows):
    values = plane(*shape)
    exact, clear = twin(values, *rows)
    assert clear.mean() > 0.8
    np.testing.assert_allclose(shrunk(values, LIMITS, *rows)[clear], exact[clear], atol=2e-4)


@pytest.mark.parametrize("shape", [(1, 1), (1, 17), (17, 1), (3, 33), (7, 64), (8, 65)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    """Planes smaller than a block, too, which are mirrored no farther than they go."""
    values = plane(*shape)
    ours, kept, _ = guarded(shrunk, values, LIMITS)
    np.testing.assert_array_equal(kept, values)
    assert np.isfinite(ours).all()


def test_a_part_within_its_reach_has_the_same_bits():
    values = plane(30, RUN + 60)
    part = np.s_[5:25, 11 : RUN + 51]
    ours = shrunk(np.ascontiguousarray(values[part]), LIMITS)
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    np.testing.assert_array_equal(ours[inside], shrunk(values, LIMITS)[part][inside])


def test_noise_of_a_flat_place_goes_and_its_mean_stays():
    values = np.random.default_rng(7).normal(30, 1, (300, 300)).astype(np.float32)
    limits = np.full((8, 8), 2.9, np.float32)
    limits[0, 0] = 0
    ours = shrunk(values, limits)
    assert ours.std() < 0.2
    assert ours.mean(dtype=float) == pytest.approx(values.mean(dtype=float), abs=0.01)
