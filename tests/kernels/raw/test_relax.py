"""Surfaces through scattered values against direct solutions and plain twins."""

import numpy as np
import pytest
from scipy.sparse import block_array, coo_array, diags_array
from scipy.sparse.linalg import spsolve

from grading.kernels.raw.plate import plate
from grading.kernels.raw.relax import (
    FADING,
    LONGEST,
    OBSERVED,
    STIFF,
    colours,
    grown,
    halved,
    passing,
    pyramid_of,
    shrunk,
)
from kernels.guards import ODD_SHAPES, guarded

SHAPES = [(1, 1), (1, 9), (7, 1), (2, 2), (13, 18), (24, 17)]


def laplacian(flow):
    """Of the links between cells, each as strong as the weaker of its two."""
    number = np.arange(flow.size).reshape(flow.shape)
    pairs = [(number[:, :-1], number[:, 1:]), (number[:-1], number[1:])]
    first, second = (np.concatenate([p[k].ravel() for p in pairs]) for k in range(2))
    link = np.minimum(flow.ravel()[first], flow.ravel()[second])
    rows, columns = np.concatenate([first, second]), np.concatenate([second, first])
    off = coo_array((np.tile(-link, 2), (rows, columns)), shape=(flow.size,) * 2).tocsr()
    degree = np.bincount(rows, np.tile(link, 2), flow.size)
    return off, degree


def exact_colours(ratios, weights, flow):
    """Both axes of colour at once, by a direct solution in float64."""
    off, degree = laplacian(flow)
    home = (FADING * max(flow.shape)) ** -2.0
    smoothness = off + diags_array(degree * (1 + home) + 1e-9)
    first, second, third = (OBSERVED * w.ravel().astype(float) for w in weights)
    told = [w * r.ravel() for w, r in zip((first, second, third), ratios, strict=True)]
    both, mixed = (first + second) / 4, diags_array((first - second) / 4)
    soft = smoothness + diags_array(third + both)
    stiff = STIFF * smoothness + diags_array(both)
    matrix = block_array([[soft, mixed], [mixed, stiff]])
    sides = [told[2] + (told[0] - told[1]) / 2, (told[0] + told[1]) / 2]
    t, m = spsolve(matrix.tocsc(), np.concatenate(sides)).reshape(2, *flow.shape)
    return np.stack([(t + m) / 2, (m - t) / 2])


def fields(rng, shape, known=0.3):
    ratios = rng.normal(size=(3, *shape)).astype(np.float32)
    ratios[2] = ratios[0] - ratios[1]
    weights = rng.uniform(0.2, 1, (3, *shape)) * (rng.random((3, *shape)) < known)
    return ratios, weights.astype(np.float32), rng.uniform(0.3, 1, shape).astype(np.float32)


@pytest.mark.parametrize("shape", SHAPES)
def test_colours_are_those_of_a_direct_solution(shape):
    """Also where one ratio is all that a cell tells, and where a cell tells nothing."""
    ratios, weights, flow = fields(np.random.default_rng(1), shape)
    weights[:, 0, 0] = 1
    made, exact = colours(ratios, weights, pyramid_of(flow)), exact_colours(ratios, weights, flow)
    assert made.dtype == np.float32
    np.testing.assert_allclose(made, exact, atol=0.1)


def test_colour_passes_a_wide_gap_and_hardly_a_dark_land():
    """Known to the left, unknown in the middle, and another light beyond what lets none pass."""
    shape = 24, 40
    ratios, weights, flow = np.zeros((3, *shape)), np.zeros((3, *shape)), np.ones(shape)
    ratios[0], ratios[1], ratios[2] = 0.4, -0.6, 1.0
    ratios[:, :, 24:] *= -1
    weights[:, :, :6], weights[:, :, 24:] = 1, 1e-3
    flow[:, 24:] = 1e-4
    made = colours(*(np.float32(part) for part in (ratios, weights)), pyramid_of(np.float32(flow)))
    np.testing.assert_allclose(made[0][:, :24], 0.4, atol=0.1)
    np.testing.assert_allclose(made[1][:, :24], -0.6, atol=0.1)


def test_a_cell_that_tells_one_ratio_and_hardly_passes_anything_is_finite():
    ratios, weights, flow = fields(np.random.default_rng(2), (16, 16))
    weights[1:] = 0
    made = colours(ratios, weights, pyramid_of(flow * np.float32(1e-12)))
    assert np.isfinite(made).all()
    known = weights[0] > 0
    np.testing.assert_allclose(made[0][known], ratios[0][known], atol=1e-3)


def test_a_plate_goes_on_with_the_slope_of_its_rim():
    slope = 0.05 * np.arange(48, dtype=np.float32)
    observed = np.tile(slope, (32, 1))
    weight = np.float32(np.arange(48) < 36) * np.ones((32, 1), np.float32)
    floor, flow = np.full(observed.shape, -20, np.float32), np.ones(observed.shape, np.float32)
    made = plate(observed, weight, floor, pyramid_of(flow))
    np.testing.assert_allclose(made[:, :36], observed[:, :36], atol=0.02)
    rise = np.diff(made[:, 35:40], axis=1)
    assert rise.min() > 0.01 and rise.max() < 0.06


def test_a_plate_lies_on_its_floor_and_no_more_than_its_height_above_it():
    rng = np.random.default_rng(4)
    floor = rng.uniform(-1, 1, (20, 33)).astype(np.float32)
    even = pyramid_of(np.ones((20, 33), np.float32))
    made = plate(*np.full((2, 20, 33), 0, np.float32), floor, even)
    assert (made >= floor).all() and (made <= floor + 2.5).all()


def test_nothing_beyond_odd_shapes_is_touched():
    rng = np.random.default_rng(5)
    for shape in ODD_SHAPES[:60]:
        ratios, weights, flow = fields(rng, shape)
        guarded(lambda *told: colours(*told[:2], pyramid_of(told[2])), ratios, weights, flow)
        told = ratios[0], weights[0], ratios[1], flow
        guarded(lambda *told: plate(*told[:3], pyramid_of(told[3])), *told)


@pytest.mark.parametrize("shape", [(32, 64), (33, 47), (6, 1), (1, 1), (5, 100)])
def test_twins_of_coarser_and_finer_cells(shape):
    rng = np.random.default_rng(3)
    values, weight = rng.normal(size=shape), rng.random(shape) + 1e-3
    half = [-(-size // 2) for size in shape]
    places = [np.minimum(np.arange(2 * n), size - 1) for n, size in zip(half, shape, strict=True)]

    def means(part):
        return part[np.ix_(*places)].reshape(half[0], 2, half[1], 2).mean((1, 3))

    single = values.astype(np.float32), weight.astype(np.float32)
    np.testing.assert_allclose(halved(single[0]), means(values), atol=1e-6)
    made, total = shrunk(*single)
    np.testing.assert_allclose(total, means(weight), rtol=1e-5)
    np.testing.assert_allclose(made, means(values * weight) / means(weight), atol=1e-5)
    finer = [np.clip((np.arange(n) - 0.5) / 2, 0, size - 1) for n, size in
             zip((2 * shape[0], 2 * shape[1] - 1), shape, strict=True)]  # fmt: skip
    wide = np.array([np.interp(finer[1], np.arange(shape[1]), row) for row in values])
    tall = np.array([np.interp(finer[0], np.arange(shape[0]), column) for column in wide.T]).T
    np.testing.assert_allclose(grown(single[0], tall.shape), tall, atol=1e-6)


def test_cells_that_pass_nothing_are_left_out(monkeypatch):
    """Those that do are to the bit what they are where all cells are gone through."""
    rng = np.random.default_rng(6)
    ratios, weights, flow = fields(rng, (40, 300))
    floor = np.full(flow.shape, -20, np.float32)
    for part in (slice(0, 90), slice(200, 300)):
        flow[:, part] = weights[:, :, part] = 0
    assert np.diff(passing(flow).astype(int)).sum() < 0.8 * flow.size
    cells = pyramid_of(flow)
    left = colours(ratios, weights, cells), plate(ratios[0], weights[0], floor, cells)
    monkeypatch.setattr("grading.kernels.raw.relax.PART", LONGEST)
    cells = pyramid_of(flow)
    gone = colours(ratios, weights, cells), plate(ratios[0], weights[0], floor, cells)
    assert np.diff(passing(flow).astype(int)).sum() > flow.size
    passes = flow > 0
    for one, other in zip(left, gone, strict=True):
        np.testing.assert_array_equal(one[..., passes], other[..., passes])
