"""Grain, against a plain twin."""

import numpy as np
import pytest

from grading.kernels.grain import add_grain
from kernels.guards import ODD_SHAPES, guarded

WEIGHTS = np.float32([0.1, 0.4, 0.8, 0.4, 0.1])
WEIGHTS /= np.sqrt(np.square(WEIGHTS).sum())
DEVIATION = np.float32(0.02)


def picture(rows, columns):
    lab = np.random.default_rng(3).uniform(-0.1, 0.1, (3, rows, columns))
    lab[0] = np.linspace(-0.1, 1.1, columns)
    return lab.astype(np.float32)


def scramble(x):
    for shift, factor in ((16, 0x7FEB352D), (15, 0x846CA68B)):
        x = (x ^ (x >> shift)) * factor & 0xFFFFFFFF
    return x ^ (x >> 16)


def number(y, x):
    h = scramble(scramble(y * 0x9E3779B1 & 0xFFFFFFFF) + x * 0xC2B2AE3D & 0xFFFFFFFF)
    return ((h & 0xFFFF) + (h >> 16)) / 65536 - 1


def twin(lab, top, left):
    rows, columns = lab.shape[1:]
    places = [(top + y, left + x) for y in range(-2, rows + 2) for x in range(-2, columns + 2)]
    white = np.sqrt(6) * np.array([number(y % 2**32, x % 2**32) for y, x in places])
    grain = white.reshape(rows + 4, columns + 4)
    for axis in (0, 1):
        grain = np.apply_along_axis(np.convolve, axis, grain, WEIGHTS.astype(float), "valid")
    room = np.minimum(lab[0], 1 - lab[0]) / (3 * DEVIATION)
    out = lab.astype(float)
    out[0] += DEVIATION * np.clip(room, 0, 1) * grain
    return out


def grained(lab, top=0, left=0):
    return add_grain(lab, top, left, WEIGHTS, DEVIATION)


@pytest.mark.parametrize("place", [(0, 0), (5, 1000)])
def test_agrees_with_a_plain_twin(place):
    lab = picture(9, 70)
    np.testing.assert_allclose(grained(lab, *place), twin(lab, *place), atol=2e-6)


@pytest.mark.parametrize("shape", [s for s in ODD_SHAPES if s[0] * s[1] < 300])
def test_nothing_beyond_odd_shapes_is_read(shape):
    lab = picture(*shape)
    ours, kept = guarded(grained, lab)
    np.testing.assert_array_equal(kept, lab)
    np.testing.assert_allclose(ours, twin(lab, 0, 0), atol=2e-6)


def test_a_part_has_the_bits_of_its_place():
    lab = picture(30, 90)
    part = np.s_[:, 7:20, 11:64]
    ours = grained(np.ascontiguousarray(lab[part]), 7, 11)
    np.testing.assert_array_equal(ours, grained(lab)[part])


def test_black_and_white_have_none():
    lab = picture(20, 100)
    ends = (lab[0] <= 0) | (lab[0] >= 1)
    np.testing.assert_array_equal(grained(lab)[:, ends], lab[:, ends])
