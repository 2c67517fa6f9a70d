"""Colours inside of edges bounded by those of both sides: against a plain twin."""

import numpy as np
import pytest

from grading.kernels.fringes import (
    DARKEST,
    ENOUGH,
    EVEN,
    LEAST,
    LIGHTEST,
    LOWER,
    STEEP,
    THIN,
    bound_colours,
    reach,
)
from kernels.guards import ODD_SHAPES, guarded

NOISE = np.float32([1e-8, 1e-6, 2e-4])
FAR = 4


def light(rows, columns, seed=0):
    """Lamps of several sizes and colours over a bluish dark, the blue of all spread and moved."""
    rng = np.random.default_rng(seed)
    y, x = np.indices((rows, columns))
    planes = np.ones((3, rows, columns)) * np.reshape([0.02, 0.03, 0.06], (3, 1, 1))
    tints = [(1, 1, 1), (1, 0.6, 0.3), (0.5, 0.25, 1)]
    for n, tint in enumerate(tints):
        away = np.hypot((y + 5 * n) % 23 - 11, (x + 7 * n) % 31 - 6 * n - 6) - (1 + 2 * n)
        for c, (spread, shift) in enumerate([(0.5, 0.4), (0.4, 0.0), (1.0, -0.3)]):
            planes[c] += tint[c] / (1 + np.exp(np.clip((away + shift) / spread, -50, 50)))
    return np.float32(planes * (1 + 0.01 * rng.normal(size=planes.shape)))


def windows(plane, far):
    """All pixels within so many of each, what lies beyond left out: (rows, columns, n)."""
    size = 2 * far + 1
    wide = np.pad(plane.astype(float), far, constant_values=np.nan)
    views = np.lib.stride_tricks.sliding_window_view(wide, (size, size))
    return views.reshape(*plane.shape, size * size)


def least(plane, far, where=True):
    return np.nanmin(windows(np.where(where, plane, np.inf), far), axis=-1)


def most(plane, far, where=True):
    return np.nanmax(windows(np.where(where, plane, -np.inf), far), axis=-1)


def smoothed(plane):
    wide = np.pad(plane.astype(float), 1, mode="edge")
    wide = (wide[:-2] + 2 * wide[1:-1] + wide[2:]) / 4
    return np.maximum((wide[:, :-2] + 2 * wide[:, 1:-1] + wide[:, 2:]) / 4, LEAST)


def squared_rise(plane):
    wide = np.pad(plane, 1, mode="edge")
    down, over = wide[2:, 1:-1] - wide[:-2, 1:-1], wide[1:-1, 2:] - wide[1:-1, :-2]
    return (down**2 + over**2) / 4


def twin(rgb, far):
    planes = np.stack([smoothed(plane) for plane in rgb])
    green, level = planes[1], np.square(planes)
    rise = np.stack([squared_rise(plane) for plane in planes])
    noise = NOISE[0] + NOISE[1] * planes + NOISE[2] * level
    share = np.clip((rise / (float(STEEP) ** 2 * level + noise)).max(0) - 1, 0, 1)
    even = (rise < float(EVEN) ** 2 * level + noise).all(0)
    count = np.nansum(windows(even, far), axis=-1) / (2 * far + 1) ** 2
    share *= np.clip(count / ENOUGH - 1, 0, 1)
    top = most(green, far)
    is_light = green >= LOWER * top
    thin = (green <= DARKEST * least(green, 2)) & (most(green, 2) > THIN * green)
    bright = is_light & (even | (green >= LIGHTEST * top))
    dark = ~is_light & (even | thin)
    out, g = rgb.astype(float), rgb[1].astype(float)
    low_green, high_green = least(green, far, dark), most(green, far, dark)
    found = np.isfinite(low_green) & np.isfinite(most(green, far, bright))
    with np.errstate(invalid="ignore"):
        for c in (0, 2):
            ratio = planes[c] / green
            up, down = most(ratio, far, bright), least(ratio, far, bright)
            above, below = most(planes[c], far, dark), least(planes[c], far, dark)
            rise = (up * top - above) / np.maximum(top - low_green, 0.1 * top)
            fall = (down * top - below) / np.maximum(top - high_green, 0.1 * top)
            high = np.where(g < top, above + rise * np.maximum(g - low_green, 0), up * g)
            low = np.where(g < top, below + fall * (g - high_green), down * g)
            bounded = np.clip(out[c], np.minimum(low, high), high)
            out[c] = np.where(found, out[c] + share * (bounded - out[c]), out[c])
    return out


def bounded(rgb, far=FAR):
    return bound_colours(rgb, far, NOISE)


@pytest.mark.parametrize("far", [1, 2, 5, 8])
def test_agrees_with_its_twin(far):
    rgb = light(45, 150)
    found = bounded(rgb, far)
    np.testing.assert_allclose(found, twin(rgb, far), atol=2e-6)
    if far >= 5:
        assert np.abs(found - rgb).max() > 0.02
    np.testing.assert_array_equal(found[1], rgb[1])


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_nothing_beyond_odd_shapes_is_read(shape):
    rgb = light(*shape)
    found, kept = guarded(bounded, rgb)
    np.testing.assert_allclose(found, twin(rgb, FAR), atol=2e-6)
    np.testing.assert_array_equal(kept, rgb)


@pytest.mark.parametrize("far", [1, 2, 5])
def test_a_part_within_its_reach_has_the_same_bits(far):
    rgb, r = light(60, 300), reach(far)
    part = np.s_[:, 11:55, 7:291]
    found = bounded(np.ascontiguousarray(rgb[part]), far)
    inside = np.s_[:, r:-r, r:-r]
    np.testing.assert_array_equal(found[inside], bounded(rgb, far)[part][inside])


def test_where_nothing_is_steep_nothing_changes():
    rgb = np.float32(0.2 + 0.001 * np.random.default_rng(1).normal(size=(3, 40, 200)))
    np.testing.assert_array_equal(bounded(rgb), rgb)
