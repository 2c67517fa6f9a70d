"""Rebuilding by a guide against plain twins of the rule."""

import numpy as np
import pytest
from scipy.ndimage import convolve

from grading.kernels.raw.rebuild import rebuild_highlights, rebuild_sites
from kernels.guards import ODD_SHAPES, guarded
from kernels.raws import BALANCE, sensor

CELL, MOST = 8, 4
GAINS = np.float32(BALANCE)


def known(signal):
    """1 below 0.9 of saturation, 0 from 0.985 on."""
    t = np.clip((signal - 0.9) / (0.985 - 0.9), 0, 1)
    return 1 - t * t * (3 - 2 * t)


def looked_up(guide, rows, columns):
    """Colour of unit sum, light, and light where all clip, at places from the first cell on."""
    high, wide = (np.arange(size) for size in guide.shape[1:])
    down, across = rows / CELL - 0.5, columns / CELL - 0.5
    tall = np.array([[np.interp(down, high, column) for column in plane.T] for plane in guide])
    *hue, light = np.array([[np.interp(across, wide, row) for row in plane.T] for plane in tall])
    share = np.sum(hue, axis=0)
    hue, light = np.array(hue) / share, light / share
    clipping = (BALANCE[:, None, None] / hue).max(0)
    return hue, light, np.maximum(light, np.minimum(clipping, MOST * BALANCE.max() / hue.max(0)))


def rebuilt(values, own, left, signal, hue, burnt):
    """What clips of `values`, of what is known (3, ...) and its signal of each channel."""
    level = np.minimum((left * signal).sum(0) / ((left * hue).sum(0) + 1e-6), burnt)
    level = level + (1 - left).prod(0) * np.maximum(burnt - level, 0)
    return values + (1 - own) * np.maximum(level - values, 0)


def some_guide(rng, shape):
    hue = rng.dirichlet((0.5, 0.5, 0.5), shape).transpose(2, 0, 1) + 0.01
    return np.float32([*hue, rng.uniform(1, 8, shape)] * rng.uniform(0.1, 1, shape))


@pytest.mark.parametrize("factor", [2, 4])
@pytest.mark.parametrize("corner", [(0, 0), (40, 24)])
def test_pixels_of_odd_shapes(corner, factor):
    """At either corner of a frame, of whose last cells a tile may have a pixel only.

    A clipped channel is never taken below where it clipped, whatever the surroundings say.
    """
    rng, facts = np.random.default_rng(12), sensor((90, 90), (1, 0))
    for rows, columns in ODD_SHAPES:
        y0, x0 = (place // factor for place in corner)
        cells = [-(-(place * factor + 1) // CELL) for place in (y0 + rows, x0 + columns)]
        guide = some_guide(rng, cells)
        tile = np.float32(rng.choice([0.5, 0.94, 1.0], (3, rows, columns)) * rng.uniform(0.9, 1))

        def rebuild(tile, guide, y0=y0, x0=x0):
            rebuild_highlights(tile, y0, x0, guide, facts, BALANCE, factor)

        made, _ = guarded(rebuild, tile, guide)
        assert (made >= tile).all()
        places = (y0 + np.arange(rows) + 0.5) * factor + 1, (x0 + np.arange(columns) + 0.5) * factor
        hue, _, burnt = looked_up(guide.astype(float), *places)
        light, left = tile * BALANCE[:, None, None], known(tile.astype(float))
        exact = np.stack([plain_pixel(light, left, hue, burnt, k) for k in range(3)])
        np.testing.assert_allclose(made, exact / BALANCE[:, None, None], rtol=2e-4)


def plain_pixel(light, left, hue, burnt, k):
    """Channel k: in units of its light, which is the whole light times its share."""
    return hue[k] * rebuilt(light[k] / hue[k], left[k], left, light, hue, burnt)


@pytest.mark.parametrize("phase", [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_sites_beside_a_mosaic_convolved(phase):
    """The nine sites about each weigh 1, 2, 1 both ways, each colour by itself."""
    rng = np.random.default_rng(5)
    for rows, columns in ((8, 16), (9, 33), (20, 7)):
        planes = np.float32(rng.choice([0.3, 0.94, 1.0], (4, rows, columns)))
        planes *= np.float32(rng.uniform(0.8, 1, planes.shape)) * GAINS[[0, 1, 1, 2], None, None]
        guide = some_guide(rng, (6, 10))
        top, left = 6 + phase[0], 4 + phase[1]
        facts = sensor((60, 90), phase)

        def rebuild(planes, guide, top=top, left=left, facts=facts):
            rebuild_sites(planes, top, left, facts, guide, GAINS)

        made, _ = guarded(rebuild, planes, guide)
        exact = plain_sites(planes.astype(float), top + phase[0], left + phase[1], guide)
        inside = np.s_[:, 1:-1, 1:-1]
        np.testing.assert_allclose(made[inside], exact[inside], rtol=2e-4)
        edge = np.ones(planes.shape, bool)
        edge[inside] = False
        np.testing.assert_array_equal(made[edge], planes[edge])


def plain_sites(planes, top, left, guide):
    """The rule on the whole mosaic, woven; `top` and `left` from the first cell on."""
    _, rows, columns = planes.shape
    woven = planes.reshape(2, 2, rows, columns).transpose(2, 0, 3, 1)
    mosaic = woven.reshape(2 * rows, 2 * columns)
    y, x = np.indices(mosaic.shape)
    colour = y % 2 + x % 2
    gain, own = BALANCE[colour], known(mosaic / BALANCE[colour])
    middles = [first + np.arange(2 * n) // 2 * 2 + 1 for first, n in ((top, rows), (left, columns))]
    hue, light, burnt = looked_up(guide.astype(float), *middles)
    share = np.take_along_axis(hue, colour[None], 0)[0]
    told = np.maximum(light * share, np.maximum(mosaic, gain))
    filled = told + own * (mosaic - told)
    weights = np.outer((1, 2, 1), (1, 2, 1)) / 4
    means = [
        [convolve(np.where(colour == k, part, 0), weights, mode="constant") / (1, 2, 1)[k]
         for k in range(3)]
        for part in (own, filled)
    ]  # fmt: skip
    left, signal = np.array(means)
    made = share * rebuilt(mosaic / share, own, left, signal, hue, burnt)
    return made.reshape(rows, 2, columns, 2).transpose(1, 3, 0, 2).reshape(planes.shape)


def test_what_does_not_clip_keeps_its_bits():
    rng = np.random.default_rng(6)
    planes = np.float32(rng.uniform(0, 0.89, (4, 12, 20))) * GAINS[[0, 1, 1, 2], None, None]
    planes[1, 5, 7] = 1.0
    made = planes.copy()
    rebuild_sites(made, 0, 0, sensor((40, 40)), some_guide(rng, (5, 6)), GAINS)
    changed = made != planes
    assert changed.sum() == 1 and changed[1, 5, 7]


def test_what_clips_elsewhere_in_a_tile_changes_no_bits():
    """The same place in a tile of another width, where something else clips in the same rows."""
    rng = np.random.default_rng(7)
    planes = np.float32(rng.uniform(0.3, 0.89, (4, 40, 160))) * GAINS[[0, 1, 1, 2], None, None]
    planes[:, 5::7, 20:60:9] = planes[..., 150] = 2.0
    guide, parts = some_guide(rng, (11, 41)), []
    for width in (100, 160):
        part = planes[..., :width].copy()
        rebuild_sites(part, 0, 0, sensor((80, 320)), guide, GAINS)
        parts.append(part[..., :99])
    assert (parts[0] != planes[..., :99]).any()
    np.testing.assert_array_equal(*parts)
