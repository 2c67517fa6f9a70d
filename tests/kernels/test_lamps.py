"""Small lamps in a noisy luminance, against a plain twin."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, uniform_filter

from grading.kernels.lamps import AROUND, FADE, FROM, REACH, WITHIN, find_lamps
from grading.kernels.primitives import aligned, compiled
from kernels.guards import ODD_SHAPES, guarded


@compiled
def found(plane, deviation):
    tile = 0, plane.shape[0], 0, plane.shape[1]
    out = aligned(plane.shape)
    find_lamps(plane, tile, tile, deviation, out)
    return out


@compiled
def found_in(plane, region, deviation):
    tile = 0, plane.shape[0], 0, plane.shape[1]
    out = aligned((region[1] - region[0], region[3] - region[2]))
    find_lamps(plane, tile, region, deviation, out)
    return out


def moved(plane, down, over):
    """A plane as seen from so far away, the outermost pixels repeated."""
    rows, columns = (np.arange(n) for n in plane.shape)
    there = np.clip(rows + down, 0, rows[-1])[:, None], np.clip(columns + over, 0, columns[-1])
    return plane[there]


def twin(plane, deviation):
    means = uniform_filter(plane, 3, mode="nearest")
    steps = [(y * AROUND, x * AROUND) for y in (-1, 0, 1) for x in (-1, 0, 1) if y or x]
    around = [moved(means, *step) for step in steps]
    most, least = np.max(around, axis=0), np.min(around, axis=0)
    above = (means - most) - (most - least)
    points = np.clip((above / deviation - float(FROM)) / float(FADE), 0, 1)
    near = range(-WITHIN, WITHIN + 1)
    return np.max([moved(points, y, x) for y in near for x in near], axis=0)


def sky(rows, columns):
    """Noise, an edge, and a lamp in each hundred pixels or so; means of 3x3 have deviation 1."""
    rng = np.random.default_rng(2)
    plane = rng.normal(0, 3, size=(rows, columns)) + 30 * (np.arange(columns) > columns / 2)
    plane[5::12, 4::11] += 81
    return plane.astype(np.float32)


def test_agrees_with_a_plain_twin():
    plane = sky(60, 90)
    exact = twin(plane.astype(float), 0.8)
    assert 0.05 < exact.mean() < 0.5
    np.testing.assert_allclose(found(plane, np.float32(0.8)), exact, atol=2e-5)


@pytest.mark.parametrize("shape", [s for s in ODD_SHAPES if s[0] * s[1] < 300])
def test_nothing_beyond_odd_shapes_is_read(shape):
    plane = sky(*shape)
    ours, kept = guarded(lambda m: found(m, np.float32(1)), plane)
    np.testing.assert_array_equal(kept, plane)
    np.testing.assert_allclose(ours, twin(plane.astype(float), 1.0), atol=2e-5)


def test_a_part_within_its_reach_has_the_same_bits():
    plane, one = sky(60, 90), np.float32(1)
    whole = found(plane, one)
    part = found(np.ascontiguousarray(plane[9:50, 13:80]), one)
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    np.testing.assert_array_equal(part[inside], whole[9:50, 13:80][inside])


REGIONS = [(0, 60, 0, 90), (3, 58, 1, 86), (20, 21, 30, 50), (9, 60, 40, 41)]


@pytest.mark.parametrize("region", REGIONS)
def test_what_is_wanted_alone_has_the_same_bits(region):
    plane, one = sky(60, 90), np.float32(1)
    top, bottom, left, right = region
    expected = found(plane, one)[top:bottom, left:right]
    np.testing.assert_array_equal(found_in(plane, region, one), expected)


def test_noise_edges_and_lines_are_no_lamps():
    plane = np.random.default_rng(4).normal(0, 3, size=(400, 1000)).astype(np.float32)
    plane[:, 500:] += 40
    plane[200] += 60
    assert np.count_nonzero(found(plane, np.float32(1))) < 60


def test_texture_has_few_lamps():
    """Of blobs that rise far above the noise, by chance some stand out."""
    blobs = gaussian_filter(np.random.default_rng(5).normal(size=(400, 1000)), 1.5)
    plane = np.float32(15 / blobs.std() * blobs)
    assert np.count_nonzero(found(plane, np.float32(1))) < 0.03 * plane.size
