"""Planes sampled at any places: against double precision, analytic patterns and hard edges."""

import numpy as np
import pytest

from grading.kernels.lanes import LANES
from grading.kernels.lines import FEW, PEAK, STEP, sample_planes
from grading.kernels.window import lanczos, polynomials
from kernels.guards import guarded


def nodes_of(down, across, size, columns):
    """Nodes of ``down(row, column of light)`` and ``across(row, column)``, as the kernel has them.

    `size` is that of what is made, `columns` are those of light.
    """
    row = np.arange(0.0, size[0] + 2 * STEP, STEP)[:, None]
    x, u = (np.arange(0.0, n + 2 * STEP, STEP)[None] for n in (columns, size[1]))
    return down(row, x) + 0 * x, across(row, u) - u


def in_room(light, room=None):
    """Light as the kernel takes it: as wide as full lanes, the last rows in so much room."""
    _, rows, columns = light.shape
    wide = np.full((3, room or rows, -(-columns // LANES) * LANES), np.nan, np.float32)
    for y in range(rows):
        wide[:, y % wide.shape[1], :columns] = light[:, y]
    return wide


def sampled(light, down, across, size, scales=(1.0, 1.0), corner=(0, 0), room=None):
    """A piece of `size` at a corner of what the places make of planes of light."""
    out = np.empty((3, *size), np.float32)
    reached = corner[0] + size[0], corner[1] + size[1]
    nodes = nodes_of(down, across, reached, light.shape[2])
    weights = tuple(polynomials(scale) for scale in scales)
    sample_planes(in_room(light, room), light.shape[1:], nodes, weights, corner, out)
    return out


def twin(light, down, across, size, scales=(1.0, 1.0)):
    """In double precision, tap by tap, with the exact window: down, then across."""
    rows, columns = light.shape[1:]
    v = np.arange(size[0])[:, None]
    first, last = int(across(v, 0).min()) - 40, int(across(v, size[1]).max()) + 40
    x = np.arange(min(first, 0), max(last, columns)).clip(0, columns - 1)
    between = _twin_lines(light.transpose(0, 2, 1)[:, x], down(v, x[None]).T, scales[0])
    places = across(v, np.arange(size[1])[None]) - min(first, 0)
    return _twin_lines(between.transpose(0, 2, 1), places, scales[1])


def _twin_lines(lines, at, scale):
    """Lines, shape (3, n, length), at places of shape (n, m)."""
    half = int(np.ceil(3 * scale))
    index = np.floor(at).astype(int)[..., None] + np.arange(1 - half, half + 1)
    weights = lanczos((index - at[..., None]) / scale)
    weights /= weights.sum(axis=-1, keepdims=True)
    line = np.arange(lines.shape[1])[:, None, None]
    taps = lines.astype(np.float64)[:, line, index.clip(0, lines.shape[2] - 1)]
    value = (weights * taps).sum(axis=-1)
    if scale > 1:
        return value
    b, c, d, e = (taps[..., k] for k in (1, 2, 3, 4))
    over = np.maximum(np.minimum(c - b, d - e), 0)
    under = np.minimum(np.maximum(c - b, d - e), 0)
    high, low = np.maximum(c, d) + PEAK * over, np.minimum(c, d) + PEAK * under
    return np.clip(value, low, high)


def level(row, column):
    return row + 0 * column


def upright(row, column):
    return column + 0 * row


def slanting(slope, scale=1.0, shift=0.37):
    """Places down a column, and by other signs along a row."""
    return (
        lambda row, column: scale * 1.0006 * row + slope * column + shift,
        lambda row, column: scale * 0.9994 * column - slope * row + shift,
    )


def noise(rows, columns):
    return np.random.default_rng(1).random((3, rows, columns)).astype(np.float32)


def test_polynomials_are_the_window():
    way = np.linspace(0, 1, 201)
    for scale in (1.0, 1.3, 2.9, 7.0):
        half = polynomials(scale).astype(np.float64)
        exact = lanczos((np.arange(2 * len(half))[:, None] - (len(half) - 1) - way) / scale)
        exact /= exact.sum(axis=0)
        first = np.array([np.polyval(p[::-1], way - 0.5) for p in half])
        mirrored = np.array([np.polyval(p[::-1], 0.5 - way) for p in half[::-1]])
        found = np.concatenate([first, mirrored])
        np.testing.assert_allclose(found, exact, atol=1e-3)
        np.testing.assert_allclose(found.sum(axis=0), 1, atol=1e-6)


SLOPES = [0.0, 0.03, -0.03, 0.2, -0.45, 0.9]


@pytest.mark.parametrize("slope", SLOPES)
def test_agrees_with_double_precision(slope):
    """Of pixels between 0 and 1; on noise a bound of the first pass may fall beside the twin's."""
    light, places = noise(45, 200), slanting(slope)
    found, exact = sampled(light, *places, (40, 150)), twin(light, *places, (40, 150))
    np.testing.assert_allclose(found, exact, atol=4e-3)


@pytest.mark.parametrize("slope", SLOPES)
@pytest.mark.parametrize("scale", [1.3, 2.6])
def test_made_smaller_it_agrees_with_double_precision(slope, scale):
    """Places that lie more than `FEW` apart in 16 pixels, and less."""
    light, places, size = noise(120, 300), slanting(slope, scale), (40, 100)
    assert (STEP * (scale - 1) > FEW) == (scale == 2.6)
    found = sampled(light, *places, size, (scale, scale))
    np.testing.assert_allclose(found, twin(light, *places, size, (scale, scale)), atol=1e-3)


def test_whole_places_are_the_pixels_themselves():
    light = noise(20, 90)
    found = sampled(light, lambda y, x: y + 2 + 0 * x, lambda y, x: x + 3 + 0 * y, (15, 80))
    np.testing.assert_allclose(found, light[:, 2:17, 3:83], atol=3e-6)


def test_a_wave_is_itself_at_any_place():
    """To 4 % of its height up to a quarter of a cycle a pixel; the window itself brings 2 %."""
    x = np.arange(400.0)
    down, across = slanting(0.0349)
    for cycles, allowed in ((0.05, 0.006), (0.15, 0.015), (0.25, 0.04)):
        wave = np.sin(2 * np.pi * cycles * x)
        along = np.tile(wave, (3, 8, 1)).astype(np.float32)
        found = sampled(along, level, across, (8, 300))[0, :, 10:]
        at = across(np.arange(8)[:, None], np.arange(300)[None])[:, 10:]
        assert np.abs(found - np.sin(2 * np.pi * cycles * at)).max() < allowed
        upwards = np.tile(wave[:, None], (3, 1, 40)).astype(np.float32)
        found = sampled(upwards, down, upright, (300, 40))[0, 10:]
        at = down(np.arange(300)[:, None], np.arange(40)[None])[10:]
        assert np.abs(found - np.sin(2 * np.pi * cycles * at)).max() < allowed


def test_nothing_rings_beside_a_hard_edge():
    edge = np.zeros((3, 60, 200), np.float32)
    edge[:, :, 90:] = 0.6
    for light in (edge, np.ascontiguousarray(edge.transpose(0, 2, 1))):
        found = sampled(light, *slanting(0.0349), (40, 50))
        assert found.min() > -1e-6 and found.max() < 0.6 + 1e-6


def test_a_crest_between_two_pixels_is_not_cut_off():
    """At a quarter of a cycle a pixel it is 0.7071, 0.7071 about the crest of 1."""
    line = np.sin(2 * np.pi * 0.25 * (np.arange(80.0) + 0.5))
    light = np.tile(line, (3, 20, 1)).astype(np.float32)
    found = sampled(light, level, lambda y, x: x + 0.5 + 0 * y, (1, 60))
    assert 0.99 < found[0, 0, 8:].max() < 1.04


def test_beyond_its_ends_light_goes_on_as_it_ends():
    light = noise(30, 50)
    found = sampled(light, level, lambda y, x: x - 40.0 + 0 * y, (30, 150))
    np.testing.assert_allclose(found[:, :, 20], light[:, :, 0], rtol=1e-5)
    np.testing.assert_allclose(found[:, :, 120], light[:, :, -1], rtol=1e-5)
    found = sampled(light, lambda y, x: y - 40.0 + 0 * x, upright, (110, 50))
    np.testing.assert_allclose(found[:, 20], light[:, 0], rtol=1e-5)
    np.testing.assert_allclose(found[:, 100], light[:, -1], rtol=1e-5)
    for away in (-300.0, 300.0):
        found = sampled(light, level, lambda y, x, far=away: x + far + 0 * y, (30, 50))
        end = light[:, :, :1] if away < 0 else light[:, :, -1:]
        np.testing.assert_allclose(found, np.broadcast_to(end, found.shape), rtol=1e-5)


@pytest.mark.parametrize("slope", [0.03, -0.2])
@pytest.mark.parametrize("scale", [1.0, 2.3])
def test_parts_are_parts_of_the_whole(slope, scale):
    light, places, scales = noise(90, 200), slanting(slope, scale), (scale, scale)
    whole = sampled(light, *places, (40, 80), scales)
    for top, left, rows, columns in ((0, 64, 40, 16), (17, 0, 1, 80), (31, 32, 9, 7)):
        part = sampled(light, *places, (rows, columns), scales, (top, left))
        there = whole[:, top : top + rows, left : left + columns]
        np.testing.assert_array_equal(part, there)


def test_rows_whose_room_was_given_to_others_are_not_needed():
    light, places = noise(90, 100), slanting(0.05)
    whole = sampled(light, *places, (70, 80))
    late = sampled(light, *places, (10, 80), corner=(60, 0), room=32)
    np.testing.assert_array_equal(late, whole[:, 60:])


@pytest.mark.parametrize("scale", [1.0, 2.3])
@pytest.mark.parametrize("slope", [0.05, -0.3])
def test_nothing_beyond_odd_shapes_is_read(scale, slope):
    weights = polynomials(scale), polynomials(scale)
    for rows, columns in [(1, 1), (1, 7), (3, 5), (16, 33), (17, 64), (5, 1025), (2, 2100)]:
        size = max(int(rows / scale), 1), max(int(columns / scale), 1)
        places = slanting(slope, scale)
        light = noise(rows, columns)

        def work(wide, down, across, out, shape=(rows, columns)):
            sample_planes(wide, shape, (down, across), weights, (0, 0), out)

        nodes = nodes_of(*places, size, columns)
        *_, found = guarded(work, in_room(light), *nodes, np.empty((3, *size), np.float32))
        exact = twin(light, *places, size, (scale, scale))
        np.testing.assert_allclose(found, exact, atol=5e-3)
