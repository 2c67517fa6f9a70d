"""Factors, offsets and matrices on light, against NumPy in double precision."""

import numpy as np
import pytest

from cut_pieces import PIECES, in_pieces
from grading import kernels
from kernels.guards import ODD_SHAPES, guarded

MATRIX = np.array([[1.7, -0.5, -0.2], [-0.1, 1.3, -0.2], [0.02, -0.4, 1.4]])


def light(shape, seed=0):
    return np.random.default_rng(seed).normal(0.2, 0.4, (3, *shape)).astype(np.float32)


WORK = {
    "scale": lambda x: kernels.light.scale(x, 1.37),
    "affine": lambda x: kernels.light.affine(x, 1.37, -0.02),
    "mix": lambda x: kernels.light.mix(x, MATRIX),
}
TWIN = {
    "scale": lambda x: x * 1.37,
    "affine": lambda x: x * 1.37 - 0.02,
    "mix": lambda x: np.einsum("ij,jyx->iyx", MATRIX, x),
}


@pytest.mark.parametrize("name", WORK)
def test_agrees_with_double_precision(name):
    for shape in ODD_SHAPES:
        rgb = light(shape)
        out, kept = guarded(WORK[name], rgb)
        np.testing.assert_allclose(out, TWIN[name](rgb.astype(np.float64)), atol=1e-6)
        assert out.dtype == np.float32 and out.flags.c_contiguous
        np.testing.assert_array_equal(kept, rgb)


@pytest.mark.parametrize("pieces", PIECES)
@pytest.mark.parametrize("name", WORK)
def test_pieces_agree_bit_for_bit(name, pieces):
    rgb = light((33, 65))
    parts = in_pieces(lambda piece, *_: WORK[name](piece), rgb, pieces)
    np.testing.assert_array_equal(parts, WORK[name](rgb))


def test_blend():
    for shape in ODD_SHAPES:
        before, after = light(shape, 1), light(shape, 2)
        weight = np.random.default_rng(3).random(shape, np.float32)
        kept, out, _ = guarded(kernels.light.blend, before, after, weight)
        share = weight.astype(np.float64)
        np.testing.assert_allclose(out, (1 - share) * before + share * after, atol=1e-6)
        np.testing.assert_array_equal(kept, before)


def test_blend_with_nothing_leaves_alone():
    before, after = light((5, 9), 1), light((5, 9), 2)
    kernels.light.blend(before, after, np.zeros((5, 9), np.float32))
    np.testing.assert_array_equal(after, before)


@pytest.mark.parametrize("name", WORK)
@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_bad_pixel_stays_where_it_is(name, value):
    rgb = light((5, 9))
    good = WORK[name](rgb)
    rgb[0, 2, 4] = value
    bad = WORK[name](rgb)
    assert not np.isfinite(bad[0, 2, 4])
    good[:, 2, 4] = bad[:, 2, 4]
    np.testing.assert_array_equal(bad, good)
