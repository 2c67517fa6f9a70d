"""Colours inside of edges bounded by those of both sides: against a plain twin."""

import numpy as np
import pytest

from grading.kernels.edge_blocks import ENOUGH, LEAST, STEEP
from grading.kernels.edge_sides import DARKEST, LIGHTEST, LOWER, SMALL
from grading.kernels.fringes import RUN, bound_colours, reach
from grading.region import Region
from kernels.guards import ODD_SHAPES, guarded

NOISE = np.float32([1e-8, 1e-6, 2e-4])
FAR = 2


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
    """All places within so many of each, what lies beyond left out: (rows, columns, n)."""
    size = 2 * far + 1
    wide = np.pad(plane.astype(float), far, constant_values=np.nan)
    views = np.lib.stride_tricks.sliding_window_view(wide, (size, size))
    return views.reshape(*plane.shape, size * size)


def blocks(plane, down, over):
    """Blocks of 2x2 pixels of the frame, cut ones filled up: (rows, columns, 4)."""
    bottom, right = (plane.shape[0] + down) % 2, (plane.shape[1] + over) % 2
    whole = np.pad(plane, [(down, bottom), (over, right)], mode="edge")
    rows, columns = whole.shape[0] // 2, whole.shape[1] // 2
    return whole.reshape(rows, 2, columns, 2).swapaxes(1, 2).reshape(rows, columns, 4)


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


def twin(rgb, far, top=0, left=0):
    down, over = top % 2, left % 2
    planes = np.stack([smoothed(plane) for plane in rgb])
    level = np.square(planes)
    rise = np.stack([squared_rise(plane) for plane in planes])
    noise = NOISE[0] + NOISE[1] * planes + NOISE[2] * level
    share = np.clip((rise / (float(STEEP) ** 2 * level + noise)).max(0) - 1, 0, 1)
    cut = [blocks(plane, down, over) for plane in planes]
    lightest, darkest = cut[1].argmax(-1)[..., None], cut[1].argmin(-1)[..., None]
    light = [np.take_along_axis(each, lightest, -1)[..., 0] for each in cut]
    dark = [np.take_along_axis(each, darkest, -1)[..., 0] for each in cut]
    even = blocks(share == 0, down, over).mean(-1)
    top = most(light[1], far)
    is_light = light[1] >= LOWER * top
    highest, lowest = most(light[1], 1), least(dark[1], 1)
    thin = (dark[1] <= DARKEST * lowest) & (highest > SMALL * dark[1])
    lamp = (light[1] >= LIGHTEST * highest) & (light[1] > SMALL * lowest)
    bright = (is_light & (even > 0)) | lamp
    shade = ((even > 0) & ~is_light) | (thin & (dark[1] < LOWER * top))
    low_green, high_green = least(dark[1], far, shade), most(dark[1], far, shade)
    sure = np.clip(np.nansum(windows(even, far), axis=-1) / (2 * far + 1) ** 2 / ENOUGH - 1, 0, 1)
    sure *= np.isfinite(low_green) & np.isfinite(most(light[1], far, bright))

    def full(each):
        inside = np.s_[down : down + rgb.shape[1], over : over + rgb.shape[2]]
        return each.repeat(2, 0).repeat(2, 1)[inside]

    out, g = rgb.astype(float), rgb[1].astype(float)
    m, low_green, high_green = full(top), full(low_green), full(high_green)
    with np.errstate(invalid="ignore"):
        for c in (0, 2):
            ratio = light[c] / light[1]
            up, down_ = full(most(ratio, far, bright)), full(least(ratio, far, bright))
            above, below = full(most(dark[c], far, shade)), full(least(dark[c], far, shade))
            rise = (up * m - above) / np.maximum(m - low_green, 0.1 * m)
            fall = (down_ * m - below) / np.maximum(m - high_green, 0.1 * m)
            high = np.where(g < m, above + rise * np.maximum(g - low_green, 0), up * g)
            low = np.where(g < m, below + fall * (g - high_green), down_ * g)
            bounded = np.clip(out[c], np.minimum(low, high), high)
            part = share * full(sure)
            out[c] = np.where(part > 0, out[c] + part * (bounded - out[c]), out[c])
    return out


def bounded(rgb, far=FAR, top=0, left=0):
    here = Region(top, top + rgb.shape[1], left, left + rgb.shape[2])
    return bound_colours(rgb, here, here, far, NOISE)


@pytest.mark.parametrize(("top", "left"), [(0, 0), (3, 4), (6, 1), (5, 7)])
@pytest.mark.parametrize("far", [1, 2, 4])
def test_agrees_with_its_twin(far, top, left):
    rgb = light(45, 151)
    found = bounded(rgb, far, top, left)
    np.testing.assert_allclose(found, twin(rgb, far, top, left), atol=2e-6)
    if far >= 2:
        assert np.abs(found - rgb).max() > 0.02
    np.testing.assert_array_equal(found[1], rgb[1])


def test_long_rows_agree_with_the_twin():
    """More blocks than are worked on at a time."""
    rgb = light(30, 2 * RUN + 51)
    np.testing.assert_allclose(bounded(rgb), twin(rgb, FAR), atol=2e-6)


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_nothing_beyond_odd_shapes_is_read(shape):
    rgb = light(*shape)
    for top, left in ((0, 0), (1, 1)):
        found, kept = guarded(lambda rgb, top=top, left=left: bounded(rgb, FAR, top, left), rgb)
        np.testing.assert_allclose(found, twin(rgb, FAR, top, left), atol=2e-6)
        np.testing.assert_array_equal(kept, rgb)


@pytest.mark.parametrize("far", [1, 2, 3])
def test_pieces_have_the_same_bits_wherever_they_and_what_is_wanted_begin(far):
    rgb, frame = light(60, 300), Region.whole(60, 300)
    whole = bounded(rgb, far)
    for top, left in ((11, 7), (10, 7), (11, 8), (10, 8), (0, 0), (25, 241)):
        for height, width in ((19, 40), (20, 41), (1, 2), (35, 59)):
            there = Region(top, top + height, left, left + width)
            here = there.grown(reach(far), frame)
            found = bound_colours(here.cut(rgb, frame), here, there, far, NOISE)
            np.testing.assert_array_equal(found, there.cut(whole, frame))


def test_where_nothing_is_steep_nothing_changes():
    rgb = np.float32(0.2 + 0.001 * np.random.default_rng(1).normal(size=(3, 40, 200)))
    np.testing.assert_array_equal(bounded(rgb), rgb)
