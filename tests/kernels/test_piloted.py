"""Planes shrunk by pilots, against a plain twin."""

import numpy as np
import pytest

from grading.kernels.eight import REACH
from grading.kernels.groups import RUN
from grading.kernels.piloted import shrink_by_pilot
from grading.kernels.primitives import aligned, compiled
from kernels.guards import guarded
from kernels.test_cosines import (
    LIMITS,
    NOISE,
    PLACES,
    blocks_of,
    inside,
    joined,
    noise_of,
    plane,
    widened,
    without_margins,
)


@compiled
def piloted(plane, pilot, limits, noise, top=0, left=0):
    wide = widened(plane)
    out, place = aligned(wide.shape), inside(plane)
    shrink_by_pilot(wide, widened(pilot), limits, noise, out, place, top - REACH, left - REACH)
    return without_margins(out)


def twin(values, pilot, top=0, left=0):
    waves, places = blocks_of(values, top, left)
    known = blocks_of(pilot, top, left)[0]
    shares = np.square(known) / (np.square(known) + NOISE) * (np.abs(known) > LIMITS)
    shares[:, :, 0, 0] = 1
    return joined(shares * waves, 1 / np.square(shares).sum((2, 3)), places, values.shape)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("shape", [(40, 61), (9, RUN + 35), (8, 8), (33, 7)])
def test_agrees_with_a_plain_twin(shape, place):
    """But where rounding decides whether a frequency counts, which is in few places."""
    values, pilot = plane(*shape), plane(*shape, 1)
    ours = piloted(values, pilot, LIMITS, NOISE, *place)
    assert (np.abs(ours - twin(values, pilot, *place)) < 2e-4).mean() > 0.98


def test_a_true_pilot_leaves_little_noise_and_a_flat_one_nothing_but_means():
    values, true = plane(90, 120), plane(90, 120) - noise_of(90, 120)
    ours = piloted(values, np.float32(true), LIMITS, NOISE)
    assert (ours - true).std() < 0.7 * (values - true).std()
    flat = np.full((90, 120), 7, np.float32)
    assert piloted(noise_of(90, 120).astype(np.float32), flat, LIMITS, NOISE).std() < 0.2


@pytest.mark.parametrize("shape", [(1, 1), (1, 17), (17, 1), (3, 33), (7, 64), (8, 65)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    values = plane(*shape)
    ours, kept, *_ = guarded(piloted, values, plane(*shape, 1), LIMITS, NOISE)
    np.testing.assert_array_equal(kept, values)
    assert np.isfinite(ours).all()


@pytest.mark.parametrize("place", [(5, 11), (6, 10), (4, 13)])
def test_a_part_within_its_reach_has_the_same_bits(place):
    """Wherever it begins."""
    values, pilot = plane(60, RUN + 60), plane(60, RUN + 60, 1)
    part, middle = np.s_[place[0] : 55, place[1] : RUN + 51], np.s_[REACH:-REACH, REACH:-REACH]
    cut, known = (np.ascontiguousarray(each[part]) for each in (values, pilot))
    ours = piloted(cut, known, LIMITS, NOISE, *place)
    np.testing.assert_array_equal(
        ours[middle], piloted(values, pilot, LIMITS, NOISE)[part][middle]
    )
