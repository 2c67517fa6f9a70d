"""Errors of a lens in numbers."""

import numpy as np
import pytest

from grading.lens.optics import MAP_SIDE, Falloff, Optics, Warp, before_warp, farthest, lateral

WARP = Warp((0.4, 0.55), 0.7, (1.0, 0.01, -0.05, 0.004), (0.003, -0.002))
SIDES = 300, 200


def test_a_share_moves_by_that_share():
    x, y = np.meshgrid(np.linspace(0, 300, 13), np.linspace(0, 200, 9))
    whole = np.subtract(WARP.to_frame(x, y, *SIDES), (x, y))
    part = np.subtract(WARP.shared(0.3).to_frame(x, y, *SIDES), (x, y))
    np.testing.assert_allclose(part, 0.3 * whole, atol=1e-10)


@pytest.mark.parametrize("radial", [(1.0, 0.01, -0.05, 0.004), (0.98, 0.0, -0.05)])
@pytest.mark.parametrize("tangential", [(0.003, -0.002), (0.0, 0.0)])
def test_a_place_goes_where_the_model_says(radial, tangential):
    """Brown's model, as the docstring states it, written in complex numbers."""
    warp = Warp((0.4, 0.55), 0.7, radial, tangential)
    p, t = complex(240 - 0.4 * 300, 30 - 0.55 * 200) / 210, complex(*tangential)
    moved = p * sum(each * abs(p) ** i for i, each in enumerate(radial))
    moved += 2 * (t.conjugate() * p).real * p + abs(p) ** 2 * t
    expected = complex(0.4 * 300, 0.55 * 200) + 210 * moved
    assert complex(*warp.to_frame(240.0, 30.0, *SIDES)) == pytest.approx(expected, abs=1e-10)


def test_a_smaller_frame_is_warped_alike():
    large = np.array(WARP.to_frame(240.0, 30.0, 300, 200))
    np.testing.assert_allclose(WARP.to_frame(24.0, 3.0, 30, 20), large / 10, atol=1e-12)


def test_a_grid_of_known_coefficients_becomes_straight():
    """Lines that a lens has bent, straight again within a thousandth of a pixel of 24 Mpx."""
    wide, high = 6000, 4000
    x, y = np.meshgrid(np.linspace(100, 5900, 30), np.linspace(100, 3900, 20))
    bent = WARP.to_frame(x, y, wide, high)
    assert np.abs(np.subtract(bent, (x, y))).max() > 80
    np.testing.assert_allclose(WARP.from_frame(*bent, wide, high), (x, y), atol=1e-3)


def test_lateral_colour_is_what_sets_two_warps_apart():
    green = Warp((0.5, 0.5), 0.6, (1.0, 0.0, -0.08, 0.0, 0.01))
    red = Warp((0.5, 0.5), 0.6, (1.0006, 0.0, -0.078, 0.0, 0.009))
    x, y = np.meshgrid(np.linspace(0, 6000, 40), np.linspace(0, 4000, 30))
    there = lateral(red, green).to_frame(*green.to_frame(x, y, 6000, 4000), 6000, 4000)
    np.testing.assert_allclose(there, red.to_frame(x, y, 6000, 4000), atol=0.02)


def test_falloff_of_the_corrected_frame_is_found_in_the_recorded_one():
    warp = Warp((0.5, 0.5), 0.6, (1.0, 0.0, -0.06))
    falloff = Falloff((0.5, 0.5), 0.6, gain=(0.7, 0.3))
    r = np.linspace(0, 1, 80)
    found = before_warp(falloff, warp).correction(r * (1 - 0.06 * r * r))
    np.testing.assert_allclose(found, falloff.correction(r), rtol=1e-3)


@pytest.mark.parametrize(
    "error",
    [
        {"distortion": Warp((0.5, 0.5), 0.6, (1.0, 0.0, -0.5))},
        {"distortion": Warp((0.5, 0.5), 0.6, (np.nan,))},
        {"red": Warp((0.5, 0.5), 0.6, (2.1,))},
        {"blue": Warp((0.5, 0.5), 0.6, (1.0,), (1.0, 0.4))},
        {"falloff": Falloff((0.5, 0.5), 0.6, fall=(-1.0,))},
        {"gains": np.full((3, MAP_SIDE, MAP_SIDE), 65, np.float32)},
    ],
)
def test_what_no_lens_does_is_not_kept(error):
    sound = {"distortion": WARP} if "distortion" not in error else {}
    kept = Optics(**sound, **error).sound(*SIDES)
    assert kept == Optics(**sound) and kept.gains is None
    assert Optics(**error).sound(*SIDES).is_empty


def test_the_farthest_corner_is_the_one_on_the_other_side():
    assert farthest((0.25, 0.0), 400, 300) == pytest.approx(np.hypot(300, 300) / 400)
