"""The pull-push pyramid against its plain twin, and what it must do with gaps."""

import numpy as np
import pytest

from grading.kernels.raw.pullpush import pull_push
from kernels.guards import ODD_SHAPES, guarded

TRUST = 0.02
"""The weight at which a cell's own value counts for half."""


def weighted(values, weight):
    """The planes that `pull_push` takes."""
    return np.concatenate((values * weight, weight[None])).astype(np.float32)


def plain(values, weight):
    """Gortler, Grzeszczuk, Szeliski and Cohen, SIGGRAPH 1996, in float64 and cell by cell."""
    rows, columns = weight.shape
    if min(rows, columns) < 2:
        mean = (values * weight).sum((1, 2), keepdims=True) / weight.sum()
        return np.broadcast_to(mean, values.shape)
    shape = (-(-rows // 2), -(-columns // 2))
    coarse, coarse_weight = np.empty((len(values), *shape)), np.empty(shape)
    for i, j in np.ndindex(shape):
        cells = np.ix_([2 * i, min(2 * i + 1, rows - 1)], [2 * j, min(2 * j + 1, columns - 1)])
        coarse_weight[i, j] = weight[cells].mean()
        coarse[:, i, j] = (values * weight)[:, *cells].mean((1, 2)) / coarse_weight[i, j]
    coarse, filled = plain(coarse, coarse_weight), np.empty(values.shape)
    for k in range(len(values)):
        wide = [
            np.interp(np.arange(columns), 2 * np.arange(shape[1]) + 0.5, row) for row in coarse[k]
        ]
        filled[k] = np.transpose(
            [
                np.interp(np.arange(rows), 2 * np.arange(shape[0]) + 0.5, column)
                for column in np.transpose(wide)
            ]
        )
    own = weight / (weight + TRUST)
    return own * values + (1 - own) * filled


@pytest.mark.parametrize("shape", [(32, 64), (33, 47), (6, 1), (1, 1), (2, 3), (5, 100)])
def test_plain_twin(shape):
    rng = np.random.default_rng(3)
    values = rng.normal(size=(2, *shape))
    weight = rng.random(shape) ** 8 + 1e-6
    np.testing.assert_allclose(
        pull_push(weighted(values, weight)), plain(values, weight), atol=2e-6
    )


def test_nothing_beyond_odd_shapes_is_touched():
    rng = np.random.default_rng(4)
    for shape in ODD_SHAPES:
        values, weight = rng.normal(size=(2, *shape)), rng.random(shape) ** 8 + 1e-6
        filled, _ = guarded(pull_push, weighted(values, weight))
        if max(shape) < 70:
            np.testing.assert_allclose(filled, plain(values, weight), atol=2e-6)


def test_a_gap_is_filled_from_its_rim_and_what_weighs_much_stays():
    values = np.ones((1, 64, 64))
    values[:, :, 32:] = 3
    weight = np.ones((64, 64))
    weight[16:48, 8:24] = 0
    weight[16:48, 40:56] = 0
    values[:, weight == 0] = 100
    filled = pull_push(weighted(values, weight))[0]
    np.testing.assert_allclose(filled[20:44, 12:20], 1, atol=0.2)
    np.testing.assert_allclose(filled[20:44, 44:52], 3, atol=0.2)
    kept = weight > 0
    np.testing.assert_allclose(filled[kept], values[0, kept], atol=2 * TRUST)


def test_without_any_weight_all_is_zero():
    planes = np.zeros((3, 21, 34), np.float32)
    np.testing.assert_array_equal(pull_push(planes), np.zeros((2, 21, 34)))
