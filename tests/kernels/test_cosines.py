"""Planes weighed by cosine transforms of their pilots, against a plain twin."""

import numpy as np
import pytest
from scipy.fft import dctn, idctn

from grading.kernels import cosines, eight
from grading.kernels.eight import BLOCK, GAIN, REACH, SCALES, back, forward
from grading.kernels.groups import LANES, RUN
from grading.kernels.primitives import aligned, compiled, inner
from kernels.guards import guarded

LIMITS = np.float32(2.9 * (1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8))))
LIMITS[0, 0] = 0


NOISE = np.float32(1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8)))
RISES = np.float32(np.add.outer(np.arange(8), np.arange(8)) / 12)
EVEN = np.zeros((8, 8), np.float32)


@compiled
def risen(plane, pilot, noise, rises, excess, top, left):
    """Refined, with an excess for each block that begins at an even place, from 8 before on."""
    wide = widened(plane)
    out = aligned(wide.shape)
    place = top // 2 - 4, left // 2 - 4
    cosines.refine(
        wide, widened(pilot), noise, rises, excess, place, out, inside(plane), top - REACH,
        left - REACH,
    )  # fmt: skip
    return without_margins(out)


def refined(plane, pilot, noise, top=0, left=0):
    return risen(plane, pilot, noise, EVEN, excess_of(*plane.shape), top, left)


def excess_of(rows, columns):
    """Some excess, of as many blocks as there may be, and room for more columns."""
    shape = rows // 2 + 5, columns // 2 + 5 + LANES
    return np.random.default_rng(3).uniform(0, 1.5, shape).astype(np.float32)


def of_blocks(excess, waves, top, left):
    """The same for each frequency of `blocks_of`."""
    rows, columns = ((k - REACH + 1) // 2 - (k // 2 - 4) for k in (top, left))
    part = excess[rows : rows + waves.shape[0], columns : columns + waves.shape[1]]
    return part[:, :, None, None]


@compiled
def there_and_back(rows):
    """Of each row's eight values."""
    waves, again = np.empty_like(rows), np.empty_like(rows)
    for y in range(rows.shape[0]):
        a, b, c, d = rows[y, 0], rows[y, 1], rows[y, 2], rows[y, 3]
        e, g, h, i = rows[y, 4], rows[y, 5], rows[y, 6], rows[y, 7]
        there = forward(a, b, c, d, e, g, h, i)
        home = back(*there)
        for k in range(BLOCK):
            waves[y, k], again[y, k] = there[k], home[k]
    return waves, again


@inner
def widened(plane):
    rows, columns = plane.shape
    wide = aligned((rows + 2 * REACH, columns + 2 * REACH))
    for y in range(rows):
        for x in range(columns):
            wide[y + REACH, x + REACH] = plane[y, x]
    eight.mirror(wide, inside(plane))
    return wide


@inner
def inside(plane):
    rows, columns = plane.shape
    return REACH, rows + REACH, REACH, columns + REACH


@inner
def without_margins(wide):
    out = aligned((wide.shape[0] - 2 * REACH, wide.shape[1] - 2 * REACH))
    for y in range(out.shape[0]):
        for x in range(out.shape[1]):
            out[y, x] = wide[y + REACH, x + REACH]
    return out


def plane(rows, columns, seed=0):
    """A ramp with an edge and stripes, with noise of deviation 1."""
    rng = np.random.default_rng(seed)
    x, y = np.arange(columns), np.arange(rows)[:, None]
    level = 20 * x / max(columns, 9) + 10 * (y > rows / 2) + 5 * (x % 6 < 3) * (y % 20 < 9)
    return np.float32(level + rng.normal(size=(rows, columns)))


def blocks_of(values, top, left):
    """Transforms of the blocks that begin at even places, and where these are."""
    padded = np.pad(values.astype(float), REACH, mode="symmetric")
    blocks = np.lib.stride_tricks.sliding_window_view(padded, (8, 8))
    places = np.s_[(top + REACH) % 2 :: 2, (left + REACH) % 2 :: 2]
    return dctn(blocks[places], axes=(2, 3), norm="ortho"), places


def joined(waves, weights, places, shape):
    """Means of blocks by their weights."""
    total = np.zeros(np.add(shape, 2 * REACH))
    counted = np.zeros(total.shape)
    made = idctn(waves, axes=(2, 3), norm="ortho") * weights[:, :, None, None]
    sizes = zip(np.subtract(total.shape, 7), places, strict=True)
    rows, columns = (np.arange(n)[part] for n, part in sizes)
    for i, y in enumerate(rows):
        for j, x in enumerate(columns):
            total[y : y + 8, x : x + 8] += made[i, j]
            counted[y : y + 8, x : x + 8] += weights[i, j]
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    return total[inside] / counted[inside]


def limited(values, limits):
    """The plane by those frequencies alone that exceed their limits, the plainest first pass."""
    waves, places = blocks_of(values, 0, 0)
    waves *= np.abs(waves) > limits
    weights = 1 / np.maximum(np.count_nonzero(waves, axis=(2, 3)), 1)
    return joined(waves, weights, places, values.shape)


def refined_twin(values, pilot, noise, top=0, left=0, rises=EVEN, excess=None):
    waves, places = blocks_of(values, top, left)
    energy = np.square(blocks_of(pilot, top, left)[0])
    excess = 0 if excess is None else of_blocks(excess, waves, top, left)
    shares = energy / (energy + noise * (1 + excess * rises))
    shares[:, :, 0, 0] = 1
    weights = 1 / np.square(shares).sum((2, 3))
    return joined(shares * waves, weights, places, values.shape)


PLACES = [(0, 0), (1, 0), (0, 1), (7, 5)]
SHAPES = [(40, 61), (9, RUN + 35), (8, 8), (33, 7)]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("shape", SHAPES)
def test_weighed_blocks_agree_with_a_plain_twin(shape, place):
    values, pilot, excess = plane(*shape), plane(*shape, 1), excess_of(*shape)
    ours = risen(values, pilot, NOISE, RISES, excess, *place)
    exact = refined_twin(values, pilot, NOISE, *place, RISES, excess)
    np.testing.assert_allclose(ours, exact, atol=2e-4)


def test_transforms_are_orthonormal_but_for_their_scales():
    values = np.random.default_rng(5).normal(size=(20, BLOCK)).astype(np.float32)
    waves, again = there_and_back(values)
    exact = dctn(values.astype(float), axes=(1,), norm="ortho")
    np.testing.assert_allclose(SCALES * waves, exact, atol=2e-6)
    np.testing.assert_allclose(again, GAIN * values, atol=2e-5)


def test_the_brightest_light_comes_through():
    """Squares of its frequencies, four of which are multiplied, would exceed any float32."""
    values = plane(20, 40)
    values[9, 20] = 1e9
    ours = refined(values, values, NOISE)
    np.testing.assert_allclose(ours, values, atol=600)


def test_a_true_pilot_leaves_less_noise_than_limits_do():
    values, true = plane(90, 120), plane(90, 120) - noise_of(90, 120)
    errors = [
        (each - true).std()
        for each in (limited(values, LIMITS), refined(values, np.float32(true), NOISE))
    ]
    assert errors[1] < 0.8 * errors[0] < 0.8 * (values - true).std()


def noise_of(rows, columns, seed=0):
    return np.random.default_rng(seed).normal(size=(rows, columns))


@pytest.mark.parametrize("shape", [(1, 1), (1, 17), (17, 1), (3, 33), (7, 64), (8, 65)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    """Planes smaller than a block, too, which are mirrored no farther than they go."""
    values = plane(*shape)
    ours, kept, *_ = guarded(refined, values, plane(*shape, 1), NOISE)
    np.testing.assert_array_equal(kept, values)
    assert np.isfinite(ours).all()


@pytest.mark.parametrize("place", [(5, 11), (6, 10), (4, 13)])
def test_a_part_within_its_reach_has_the_same_bits(place):
    """Wherever it begins."""
    values, pilot = plane(60, RUN + 60), plane(60, RUN + 60, 1)
    part = np.s_[place[0] : 55, place[1] : RUN + 51]
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    cut, known = (np.ascontiguousarray(each[part]) for each in (values, pilot))
    ours, whole = refined(cut, known, NOISE, *place), refined(values, pilot, NOISE)
    np.testing.assert_array_equal(ours[inside], whole[part][inside])
