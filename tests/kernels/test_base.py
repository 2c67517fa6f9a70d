"""The guided filter, its interpolation and the lift, against their formulas in double precision."""

import numpy as np
import pytest

from cut_pieces import PIECES, cuts
from grading import kernels
from grading.kernels.base import box_mean
from kernels.guards import ODD_SHAPES, guarded

LUMINANCE = np.array([0.2627, 0.6780, 0.0593])
"""Recommendation ITU-R BT.2020-2, table 4."""

MIDDLE_GREY = 0.18
FLOOR = 2.0**-16
"""Light from which down all is as dark: 13.5 stops below middle grey, more than a sensor shows."""

NUMBERS = 2.0, -1.5, 5.0, 4.0
"""Of a lift: stops for shadows and highlights, and where they are whole."""


def light(shape, seed=0):
    rng = np.random.default_rng(seed)
    return (0.18 * np.exp2(rng.uniform(-8, 5, (3, *shape)))).astype(np.float32)


def stops(rgb):
    luminance = np.einsum("c,cyx->yx", LUMINANCE, rgb.astype(np.float64))
    return np.log2(np.maximum(np.nan_to_num(luminance, nan=0.0), FLOOR) / MIDDLE_GREY)


def windows_mean(plane, reach):
    out = np.empty(plane.shape)
    for y, x in np.ndindex(*plane.shape):
        window = plane[max(0, y - reach) : y + reach + 1, max(0, x - reach) : x + reach + 1]
        out[y, x] = window.mean()
    return out


@pytest.mark.parametrize("shape", [(1, 1), (1, 6), (9, 2), (17, 23)])
@pytest.mark.parametrize("reach", [1, 3, 30])
def test_box_mean(shape, reach):
    plane = np.random.default_rng(1).normal(size=shape)
    np.testing.assert_allclose(box_mean(plane, reach), windows_mean(plane, reach), atol=1e-12)


@pytest.mark.parametrize("shape", [(1, 1), (3, 1), (23, 31)])
def test_guided_filter_with_itself_as_guide(shape):
    """He, Sun and Tang, IEEE PAMI 35:1397 (2013), equations 11, 12 and 15, with p = I and the
    steeper slope that the docstring states."""
    rgb, radius, edge = light(shape), 0.1, 0.5
    rgb[:, 0, 0] = 0
    reach = max(1, round(radius * max(shape)))
    guide = stops(rgb)
    mean = windows_mean(guide, reach)
    variance = windows_mean(guide**2, reach) - mean**2
    a = variance**2 / (variance**2 + edge**4)
    b = mean - a * mean
    planes = kernels.base.edge_aware_base(rgb, radius, edge)
    exact = np.stack([windows_mean(a, reach), windows_mean(b, reach)])
    np.testing.assert_allclose(planes, exact, atol=3e-5)


def test_nothing_beyond_odd_shapes_is_read():
    """By the filter, by its interpolation to twice its size or by the lift."""
    for rows, columns in ODD_SHAPES:
        small = light((rows, columns))
        planes, _ = guarded(lambda rgb: kernels.base.edge_aware_base(rgb, 0.02, 0.5), small)
        tile = (rows // 2, 2 * rows - 1, columns // 2, 2 * columns)
        if rows == 1:
            tile = (0, 2, *tile[2:])

        def part(planes, tile=tile):
            return kernels.base.interpolate(planes, 2, *tile)

        near, _ = guarded(part, planes)
        exact = interpolated(planes, 2, 2 * rows, 2 * columns)
        y0, y1, x0, x1 = tile
        np.testing.assert_allclose(near, exact[:, y0:y1, x0:x1], atol=2e-5)
        out, kept, _ = guarded(lambda rgb, p: kernels.base.lift(rgb, p, *NUMBERS), small, planes)
        np.testing.assert_allclose(out, lift_twin(small, planes, *NUMBERS), rtol=5e-6)
        np.testing.assert_array_equal(kept, small)


def test_flat_light_is_its_own_base():
    planes = kernels.base.edge_aware_base(np.full((3, 20, 30), 0.045, np.float32), 0.1, 0.5)
    base = planes[0] * -2 + planes[1]
    np.testing.assert_allclose(base, -2, atol=1e-5)


@pytest.mark.parametrize("value", [np.nan, np.inf, -1.0])
def test_base_stays_finite_about_a_bad_pixel(value):
    rgb = light((20, 20))
    rgb[:, 10, 10] = value
    assert np.isfinite(kernels.base.edge_aware_base(rgb, 0.05, 0.5)).all()


def interpolated(planes, factor, height, width):
    """By NumPy's own interpolation, first along rows and then along columns."""
    middles = [(np.arange(n) + 0.5) * factor - 0.5 for n in planes.shape[1:]]
    down = np.stack(
        [
            [np.interp(np.arange(height), middles[0], column) for column in plane.T]
            for plane in planes.astype(np.float64)
        ]
    ).transpose(0, 2, 1)
    return np.stack([[np.interp(np.arange(width), middles[1], row) for row in p] for p in down])


@pytest.mark.parametrize(("height", "width"), [(1, 1), (1, 20), (37, 2), (37, 50)])
@pytest.mark.parametrize("factor", [1, 2, 8])
def test_interpolation(height, width, factor):
    rows, columns = -(-height // factor), -(-width // factor)
    planes = np.random.default_rng(4).normal(size=(2, rows, columns)).astype(np.float32)
    whole = kernels.base.interpolate(planes, factor, 0, height, 0, width)
    np.testing.assert_allclose(whole, interpolated(planes, factor, height, width), atol=1e-6)
    for pieces in PIECES:
        for y0, y1, x0, x1 in cuts(height, width, pieces):
            part = kernels.base.interpolate(planes, factor, y0, y1, x0, x1)
            np.testing.assert_array_equal(part, whole[:, y0:y1, x0:x1])


def lift_twin(rgb, planes, shadows, highlights, shadow_reach, light_reach):
    def rise(t):
        t = np.clip(t, 0, 1)
        return t * t * (3 - 2 * t)

    base = planes[0].astype(np.float64) * stops(rgb) + planes[1]
    stops_given = shadows * rise(-base / shadow_reach) + highlights * rise(base / light_reach)
    return rgb * np.exp2(stops_given)


@pytest.mark.parametrize("shape", [(1, 1), (5, 3), (33, 65)])
def test_lift(shape):
    rgb = light(shape, 2)
    planes = np.stack([np.full(shape, 0.7), np.linspace(-3, 3, shape[0] * shape[1]).reshape(shape)])
    planes = planes.astype(np.float32)
    kept = rgb.copy()
    out = kernels.base.lift(rgb, planes, *NUMBERS)
    np.testing.assert_allclose(out, lift_twin(rgb, planes, *NUMBERS), rtol=3e-6)
    np.testing.assert_array_equal(rgb, kept)


@pytest.mark.parametrize("value", [np.nan, np.inf, -0.5, 0.0])
def test_lift_keeps_a_bad_channel_to_itself(value):
    rgb, planes = light((4, 9)), np.ones((2, 4, 9), np.float32)
    good = kernels.base.lift(rgb, planes, *NUMBERS)
    rgb[1, 2, 5] = value
    bad = kernels.base.lift(rgb, planes, *NUMBERS)
    assert np.isfinite(bad[[0, 2], 2, 5]).all()
    good[:, 2, 5] = bad[:, 2, 5]
    np.testing.assert_array_equal(bad, good)
