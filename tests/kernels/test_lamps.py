"""Small lamps in a noisy luminance, against a plain twin."""

import numpy as np
import pytest

from grading.kernels.lamps import AROUND, FADE, FROM, REACH, WITHIN, find_lamps
from grading.kernels.primitives import aligned, compiled
from kernels.guards import ODD_SHAPES, guarded


@compiled
def found(means, deviation):
    out = aligned(means.shape)
    find_lamps(means, deviation, out)
    return out


def moved(plane, down, over):
    """A plane as seen from so far away, the outermost pixels repeated."""
    rows, columns = (np.arange(n) for n in plane.shape)
    there = np.clip(rows + down, 0, rows[-1])[:, None], np.clip(columns + over, 0, columns[-1])
    return plane[there]


def twin(means, deviation):
    steps = [(y * AROUND, x * AROUND) for y in (-1, 0, 1) for x in (-1, 0, 1) if y or x]
    most = np.max([moved(means, *step) for step in steps], axis=0)
    points = np.clip(((means - most) / deviation - float(FROM)) / float(FADE), 0, 1)
    near = range(-WITHIN, WITHIN + 1)
    return np.max([moved(points, y, x) for y in near for x in near], axis=0)


def sky(rows, columns):
    """Noise of deviation 1, an edge, and a lamp in each hundred pixels or so."""
    rng = np.random.default_rng(2)
    plane = rng.normal(size=(rows, columns)) + 30 * (np.arange(columns) > columns / 2)
    plane[5::12, 4::11] += 9
    return plane.astype(np.float32)


def test_agrees_with_a_plain_twin():
    means = sky(60, 90)
    exact = twin(means.astype(float), 0.8)
    assert 0.05 < exact.mean() < 0.5
    np.testing.assert_allclose(found(means, np.float32(0.8)), exact, atol=2e-5)


@pytest.mark.parametrize("shape", [s for s in ODD_SHAPES if s[0] * s[1] < 300])
def test_nothing_beyond_odd_shapes_is_read(shape):
    means = sky(*shape)
    ours, kept = guarded(lambda m: found(m, np.float32(1)), means)
    np.testing.assert_array_equal(kept, means)
    np.testing.assert_allclose(ours, twin(means.astype(float), 1.0), atol=2e-5)


def test_a_part_within_its_reach_has_the_same_bits():
    means = sky(60, 90)
    part = found(np.ascontiguousarray(means[9:50, 13:80]), np.float32(1))
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    whole = found(means, np.float32(1))[9:50, 13:80]
    np.testing.assert_array_equal(part[inside], whole[inside])


def test_noise_edges_and_lines_are_no_lamps():
    means = np.random.default_rng(4).normal(size=(400, 1000)).astype(np.float32)
    means[:, 500:] += 40
    means[200] += 20
    assert np.count_nonzero(found(means, np.float32(1))) < 60
