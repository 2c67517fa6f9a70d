"""Changes to a picture in Oklab against their formulas in double precision."""

import numpy as np
import pytest

from cut_pieces import PIECES, in_pieces
from grading import kernels
from grading.colour import oklab
from kernels.guards import ODD_SHAPES, guarded

TOP = 4.0
FACTORS = np.linspace(0.8, 1.1, 4097).astype(np.float32)
POWER = 0.8
TERMS = 0.1 * np.array([[1, -2, 1.5], [0.5, 0.3, -0.9], [-0.2, 0.8, 0.1]])
_ANGLE = np.radians(kernels.diamond.diamond_degrees(1440))
TURNS = np.float32(
    [0.1 * np.cos(2 * _ANGLE), 1 + 0.3 * np.cos(_ANGLE), 0.4 * np.sin(_ANGLE)]
)


def light(shape):
    return np.random.default_rng(0).uniform(-0.02, 3, (3, *shape)).astype(np.float32)


def picture(shape):
    rng = np.random.default_rng(1)
    return np.stack([rng.uniform(-0.1, 1.3, shape), *rng.uniform(-0.3, 0.3, (2, *shape))]).astype(
        np.float32
    )


def tone(rgb, factors=FACTORS):
    matrices = oklab.WORKING_TO_LMS, oklab.LMS_TO_OKLAB
    return kernels.picture.apply_tone_curve(rgb, factors, TOP, *matrices)


def tone_twin(rgb):
    lab = np.moveaxis(oklab.working_to_oklab(np.moveaxis(rgb, 0, -1)), -1, 0)
    return lab * np.interp(lab[0], np.linspace(0, TOP, len(FACTORS)), FACTORS)


def shift_twin(lab):
    u = np.clip(lab[0], 0, 1) ** POWER
    return lab + np.tensordot(TERMS, np.stack([np.ones_like(u), u, u**2]), axes=1)


def change_twin(lab):
    hue = np.arctan2(lab[2], lab[1]) % (2 * np.pi)
    lighter, real, imaginary = (np.interp(hue, _ANGLE, row) for row in TURNS)
    turned = (lab[1] + 1j * lab[2]) * (real + 1j * imaginary)
    chroma = lab[1] ** 2 + lab[2] ** 2
    lightness = lab[0] + lighter * chroma / (chroma + 0.03**2)
    return np.stack([lightness, turned.real, turned.imag])


def shift(lab):
    return kernels.picture.shift_by_lightness(lab, POWER, TERMS)


def change(lab):
    return kernels.picture.change_by_hue(lab, TURNS, 0.03)


WORK = {
    "tone": (light, tone, tone_twin),
    "shift": (picture, shift, shift_twin),
    "change": (picture, change, change_twin),
}


@pytest.mark.parametrize("name", WORK)
def test_agrees_with_double_precision(name):
    make, work, twin = WORK[name]
    for shape in ODD_SHAPES:
        planes = make(shape)
        out, kept = guarded(work, planes)
        np.testing.assert_allclose(out, twin(planes.astype(np.float64)), atol=3e-6)
        assert out.dtype == np.float32 and out.flags.c_contiguous
        np.testing.assert_array_equal(kept, planes)


def test_nothing_beyond_a_table_is_read():
    """Also at its end, and where there is no number."""
    rgb = np.float32([[[64, 1000, np.nan, -1, 0.5]]] * 3)
    guarded(lambda factors: tone(rgb, factors), FACTORS)
    lab = np.float32([[[0.5] * 6], [[1, 1, np.nan, -1, 0, 0]], [[0, -1e-9, 0, -1e-12, 0, -1]]])
    guarded(lambda factors: kernels.picture.change_by_hue(lab, factors, 0.03), TURNS)


@pytest.mark.parametrize("pieces", PIECES)
@pytest.mark.parametrize("name", WORK)
def test_pieces_agree_bit_for_bit(name, pieces):
    make, work, _ = WORK[name]
    planes = make((33, 65))
    parts = in_pieces(lambda piece, *_: work(piece), planes, pieces)
    np.testing.assert_array_equal(parts, work(planes))


@pytest.mark.parametrize("name", WORK)
@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_bad_pixel_stays_where_it_is(name, value):
    make, work, _ = WORK[name]
    planes = make((5, 9))
    good = work(planes)
    planes[:, 2, 4] = value
    bad = work(planes)
    good[:, 2, 4] = bad[:, 2, 4]
    np.testing.assert_array_equal(bad, good)


def test_the_ends_of_the_factors_hold_beyond():
    factors = np.full(4097, 2, np.float32)
    rgb = np.float32([-0.1, 0, 64, 1000]).reshape(1, 1, 4) * np.ones((3, 1, 1), np.float32)
    lightness = tone(rgb, factors)[0, 0]
    np.testing.assert_allclose(lightness, 2 * np.cbrt([-0.1, 0, 64, 1000]), rtol=1e-6)


@pytest.mark.parametrize("power", [0.2, POWER])
def test_the_ends_of_the_shifts_hold_beyond(power):
    """Black itself is moved as black, whatever the power."""
    lab = np.zeros((3, 1, 3), np.float32)
    lab[0] = [-5, 0, 5]
    moved = kernels.picture.shift_by_lightness(lab, power, TERMS) - lab
    np.testing.assert_allclose(moved[:, 0, :2], TERMS[:, [0, 0]], atol=1e-6)
    np.testing.assert_allclose(moved[:, 0, 2], TERMS.sum(axis=1), atol=1e-6)


def test_exact_greys_have_no_hue_to_turn():
    lab = np.zeros((3, 1, 101), np.float32)
    lab[0, 0] = np.linspace(-0.1, 1.2, 101)
    np.testing.assert_array_equal(kernels.picture.change_by_hue(lab, TURNS, 0.03), lab)
