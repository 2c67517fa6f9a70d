"""Planes of what stands out of their noise, against a plain twin."""

import numpy as np
import pytest
from scipy.ndimage import convolve

from grading.kernels.eight import REACH
from grading.kernels.groups import RUN
from grading.kernels.primitives import aligned, compiled
from grading.kernels.stand_out import ENOUGH, MOST, OWN, stand_out
from kernels.guards import guarded
from kernels.test_cosines import (
    EVEN,
    PLACES,
    RISES,
    SHAPES,
    blocks_of,
    excess_of,
    inside,
    joined,
    limited,
    of_blocks,
    plane,
    widened,
    without_margins,
)

LIMITS = np.float32(3.2 * (1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8))))

ALONE, TOGETHER = np.full((8, 8), 3.05, np.float32), np.full((8, 8), 3.2, np.float32)
ALONE[0, 0] = 0
"""Limits by which as much of the noise of a flat place is kept."""


@compiled
def _stood_out(plane, limits, rises, excess, top, left):
    wide = widened(plane)
    out = aligned(wide.shape)
    place = top // 2 - 4, left // 2 - 4
    stand_out(wide, limits, rises, excess, place, out, inside(plane), top - REACH, left - REACH)
    return without_margins(out)


def stood_out(values, limits, top=0, left=0, rises=EVEN, excess=None):
    excess = 0 * excess_of(*values.shape) if excess is None else excess
    return _stood_out(values, limits, rises, excess, top, left)


def twin(values, limits, top, left, rises, excess):
    """The plane, and whether no frequency near to a pixel is within rounding of what decides."""
    waves, places = blocks_of(values, top, left)
    excess = of_blocks(excess, waves, top, left)
    energy = np.minimum(np.square(waves / limits), MOST * (1 + excess))
    energy[:, :, 0, 0] = 0
    about = np.ones((1, 1, 3, 3))
    about[0, 0, 1, 1] += OWN
    above = convolve(energy, about, mode="constant") / (ENOUGH * (1 + excess * rises)) - 1
    above[:, :, 0, 0] = 1
    unsure = (np.abs(above) < 2e-5).any((2, 3))
    waves *= above > 0
    weights = 1 / np.count_nonzero(above > 0, axis=(2, 3))
    marks = np.zeros(waves.shape)
    marks[:, :, 0, 0] = unsure * 8
    near = joined(marks, np.ones(unsure.shape), places, values.shape)
    return joined(waves, weights, places, values.shape), near < 1e-9


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("shape", SHAPES)
def test_agrees_with_a_plain_twin(shape, place):
    values, excess = plane(*shape), excess_of(*shape)
    exact, clear = twin(values, LIMITS, *place, RISES, excess)
    assert clear.mean() > 0.8
    ours = stood_out(values, LIMITS, *place, RISES, excess)
    np.testing.assert_allclose(ours[clear], exact[clear], atol=2e-4)


@pytest.mark.parametrize("shape", [(1, 1), (1, 17), (17, 1), (3, 33), (7, 64), (8, 65)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    values = plane(*shape)
    ours, kept, _ = guarded(stood_out, values, LIMITS)
    np.testing.assert_array_equal(kept, values)
    assert np.isfinite(ours).all()


@pytest.mark.parametrize("place", [(5, 11), (6, 10), (4, 13)])
def test_a_part_within_its_reach_has_the_same_bits(place):
    """Wherever it begins."""
    values = plane(60, RUN + 60)
    part, inner = np.s_[place[0] : 55, place[1] : RUN + 51], np.s_[REACH:-REACH, REACH:-REACH]
    ours = stood_out(np.ascontiguousarray(values[part]), LIMITS, *place)
    np.testing.assert_array_equal(ours[inner], stood_out(values, LIMITS)[part][inner])


def test_faint_detail_is_kept_better_than_by_single_frequencies():
    """Thin lines that bend, in noise of deviation 1; a flat place has no more of it left."""
    y, x = np.indices((240, 240))
    true = 4 * np.exp(-np.square(10 * np.sin((x + 20 * np.sin(y / 30)) / 9)))
    noise = np.random.default_rng(1).normal(size=true.shape)
    errors = [
        [made(np.float32(each + noise), limits) - each for each in (true, 0 * true)]
        for made, limits in ((limited, ALONE), (stood_out, TOGETHER))
    ]
    (ours, flat), (better, even) = ([each.std() for each in pair] for pair in errors)
    assert better < 0.9 * ours
    assert even < 1.05 * flat < 0.2


def test_strong_waves_bring_little_noise_with_them():
    y, x = np.indices((240, 240))
    true = 5 * np.sign(np.sin(x / 1.3) * np.sin(y / 1.7))
    values = np.float32(true + np.random.default_rng(1).normal(size=true.shape))
    ours = (stood_out(values, TOGETHER) - true).std()
    assert ours < 1.12 * (limited(values, ALONE) - true).std()
