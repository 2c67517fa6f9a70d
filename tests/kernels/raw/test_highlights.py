"""Rebuilt highlights against lamps whose light is known past clipping."""

import numpy as np
import pytest

from grading.develop.demosaic import demosaic_tile
from grading.kernels.raw.highlights import CELL, highlight_guide, rebuild_highlights
from grading.kernels.raw.mosaic import bin_tile
from grading.kernels.raw.pullpush import pull_push
from kernels.guards import ODD_SHAPES, guarded
from kernels.raws import BALANCE, SHAPE, counts, developed, lamp, sample, sensor

PUREST = 5 / np.log(2)
"""Stops that green and red or blue may lie apart in the guide's hue: light of 1 in 148."""


@pytest.mark.parametrize("tint", [(1, 1, 1), (1.6, 0.9, 0.35), (0.5, 0.8, 1.6)])
def test_one_or_two_clipped_channels_follow_the_light(tint):
    light = lamp(tint)
    clipped, rebuilt, count = developed(light)
    for lost, most in ((1, 0.06), (2, 0.2)):
        place = count == lost
        before = np.abs(np.log2(clipped / light)[:, place]).mean()
        after = np.abs(np.log2(rebuilt / light)[:, place]).mean()
        assert place.sum() > 100
        assert after < most
        assert after < before / 2


def test_a_burnt_out_sun_is_smooth_neutral_and_never_darker_than_its_rim():
    _, rebuilt, count = developed(lamp((1, 1, 1), peak=12.0))
    burnt = count == 3
    spread = rebuilt.max(0) / rebuilt.min(0) - 1
    assert burnt.sum() > 1000
    assert spread[burnt].max() < 1e-3
    assert spread[count > 0].max() < 0.15
    profile = rebuilt.sum(0)[120, 130:]
    assert np.diff(profile).max() < 0.02 * profile.max()
    assert rebuilt[:, burnt].min() >= BALANCE.max() - 1e-3


@pytest.mark.parametrize("tint", [(1, 1, 1), (1.6, 0.9, 0.35), (0.5, 0.8, 1.6)])
@pytest.mark.parametrize(("peak", "spread", "most"), [(12, 3, 0.03), (6, 6, 0.06), (30, 8, 0.15)])
def test_a_lamp_is_next_to_nowhere_darker_than_what_is_around_it(tint, peak, spread, most):
    """By luminance (BT.2020), from the middle outwards; a core at the level of clipping alone
    would be darker by up to 0.47 of the brightest."""
    _, rebuilt, count = developed(lamp(tint, peak=peak, spread=spread))
    assert count[120, 130] >= 2
    luminance = np.tensordot((0.2627, 0.678, 0.0593), rebuilt, axes=1)[120, 130:200]
    brightest_beyond = np.maximum.accumulate(luminance[::-1])[::-1]
    assert (brightest_beyond - luminance).max() < most * luminance.max()


def test_something_small_before_a_clipped_sky_leaves_it_even():
    """The edges of a thin reddish bird are no rim of the light; above is one, below a warm land."""
    rise = 0.4 * 10 ** np.clip(np.arange(SHAPE[0]) / 150, 0, 1)
    light = np.stack([np.tile(rise[:, None], (1, SHAPE[1]))] * 3)
    light[:, 200:] = np.reshape((0.6, 0.3, 0.1), (3, 1, 1))
    light[:, 170:176, 120:130] *= np.reshape((1, 1, 0.2), (3, 1, 1))
    _, rebuilt, _ = developed(light)
    beside, away = rebuilt[:, 155:166, 105:145], rebuilt[:, 155:166, 30:70]
    np.testing.assert_allclose(beside.mean((1, 2)), away.mean((1, 2)), rtol=0.02)
    np.testing.assert_allclose(beside, away, rtol=0.05)


def test_onset_has_no_step():
    light = np.stack([np.tile(np.linspace(0.1, 1.3, SHAPE[1]), (SHAPE[0], 1))] * 3)
    _, rebuilt, count = developed(light)
    assert set(np.unique(count[100])) >= {0, 1}
    row = rebuilt[:, 100, 20:-20]
    np.testing.assert_allclose(row, light[:, 100, 20:-20], atol=0.02)
    slope = np.diff(row, axis=1)
    assert np.abs(np.diff(slope, axis=1)).max() < 2 * slope.mean()


def test_unclipped_pixels_and_frames_are_untouched():
    clipped, rebuilt, _ = developed(lamp((1, 1, 1)))
    plain = (clipped / BALANCE[:, None, None]).max(0) < 0.89
    np.testing.assert_array_equal(rebuilt[:, plain], clipped[:, plain])
    dim = counts(sample(lamp((1, 1, 1), peak=0.5)))
    assert highlight_guide(dim, sensor(SHAPE), BALANCE) is None


def test_tiles_are_bit_identical_to_the_whole():
    mosaic = counts(sample(lamp((1.6, 0.9, 0.35), peak=8.0) / BALANCE[:, None, None]))
    facts = sensor(SHAPE)
    guide = highlight_guide(mosaic, facts, BALANCE)
    whole = demosaic_tile(mosaic, 0, SHAPE[0], 0, SHAPE[1], facts, BALANCE)
    pieces = whole.copy()
    rebuild_highlights(whole, 0, 0, guide, BALANCE)
    for y in range(0, SHAPE[0], 50):
        for x in range(0, SHAPE[1], 61):
            tile = np.ascontiguousarray(pieces[:, y : y + 50, x : x + 61])
            rebuild_highlights(tile, y, x, guide, BALANCE)
            np.testing.assert_array_equal(tile, whole[:, y : y + 50, x : x + 61])


def test_a_lamp_in_the_last_rows_is_seen():
    mosaic = counts(sample(lamp((1, 1, 1), centre=(255, 260), spread=3.0, peak=4.0)))
    assert highlight_guide(mosaic, sensor(SHAPE), BALANCE) is not None


def spread(values, weight):
    return pull_push(np.concatenate((values * weight, weight[None])).astype(np.float32))


def plain_guide(mosaic, facts):
    """Every cell from its own blocks, in float64; the last ones moved inwards to be whole."""
    blocks, sizes = plain_blocks(mosaic, facts), mosaic.shape
    corners = [np.minimum(np.arange(0, size, CELL) // 2, size // 2 - CELL // 2) for size in sizes]
    rows = (corners[0][:, None] + [0, 2]).ravel()  # every second row of blocks
    columns = (corners[1][:, None] + np.arange(CELL // 2)).ravel()
    shape = (3, corners[0].size, 2, corners[1].size, CELL // 2)
    told = blocks[:, rows[:, None], columns].reshape(shape)
    brightest = told.max(0)
    weight = np.where(brightest < 0.9, brightest**2, 0)
    unclipped = (told * weight).mean((2, 4))
    weight, gains = weight.mean((1, 3)), BALANCE[:, None, None]
    logs = np.log2(np.maximum(unclipped * gains, 1e-6 * weight + 1e-20))
    red, blue = np.exp2(np.clip(spread(logs[::2] - logs[1], weight), -PUREST, PUREST))
    hue = np.stack((red, np.ones_like(red), blue)) / (red + 1 + blue)
    return np.stack((*hue, plain_reach(blocks, sizes[0] // 2 * 2 - CELL, hue)))


def plain_blocks(mosaic, facts):
    rows, columns = (size // 2 for size in mosaic.shape)
    return bin_tile(mosaic, 0, rows, 0, columns, facts).astype(float)


def plain_reach(blocks, last, hue):
    """Level where all channels clip, told by steady blocks at the rim, a cell's sums in float64."""
    cells = np.zeros((3, *hue.shape[1:]))
    rows = [min(CELL * (k // 2), last) // 2 + 2 * (k % 2) for k in range(2 * cells.shape[1])]
    for k, row in enumerate(rows):
        above, below = rows[max(k - 1, 0)], rows[min(k + 1, len(rows) - 1)]
        for x in range(2, blocks.shape[2] - 2):
            block, i, j = blocks[:, row, x], k // 2, x // (CELL // 2)
            about = [(above, x), (below, x), (row, x - 2), (row, x + 2)]
            if block.max() <= 0.9 or min(blocks[:, v, u].max() for v, u in about) <= 0.7:
                continue
            t = np.clip((block - 0.9) / (0.985 - 0.9), 0, 1)
            left = 1 - t * t * (3 - 2 * t)
            told = (left * block * BALANCE).sum() / ((left * hue[:, i, j]).sum() + 1e-6)
            told *= hue[:, i, j].max()
            trust = (1 - left.min()) * left.max()
            cells[:, i, j] += trust * told**4 * np.log2(max(told, 1e-6)), trust * told**4, trust
    weighted, total, trust = cells
    (stops,) = spread((weighted / np.maximum(total, 1e-20))[None], 0.0015 * trust)
    return np.maximum(np.exp2(stops), BALANCE.max())


@pytest.mark.parametrize("phase", [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_plain_twin_of_the_guide(phase):
    light = lamp((1.6, 0.9, 0.35), peak=8.0) / BALANCE[:, None, None]
    mosaic, facts = counts(sample(light, phase)), sensor(SHAPE, phase)
    guide = highlight_guide(mosaic, facts, BALANCE)
    assert guide.dtype == np.float32 and guide.flags.c_contiguous
    np.testing.assert_allclose(guide, plain_guide(mosaic, facts), rtol=1e-4)


def roofs(shape, phase=(0, 0)):
    """Counts of a warm lamp among hard dark edges, and of pure colours beside it."""
    y, x = np.indices(shape)
    rng = np.random.default_rng(11)
    light = 2.5 * np.exp(-np.hypot(y - 0.6 * shape[0], x - 0.7 * shape[1]) / 9)
    light = light * np.reshape((1.6, 0.9, 0.35), (3, 1, 1)) * rng.uniform(0.9, 1, (3, *shape))
    light[:, (y // 5 + x // 7) % 3 == 0] *= 0.1
    light[1:, y < 4] = light[:2, x < 4] = 0
    return counts(sample(light / BALANCE[:, None, None], phase))


GUIDED = [(8, 8), (8, 17), (9, 15), (11, 12), (13, 40), (16, 16), (18, 9), (23, 31), (31, 23)]
"""Rows and columns: a cell alone, and cells of which the last are cut off."""


@pytest.mark.parametrize("phase", [(0, 0), (1, 0)])
@pytest.mark.parametrize("shape", GUIDED)
def test_the_guide_of_odd_shapes(shape, phase):
    """Neither the counts nor the levels beyond the frame matter."""
    mosaic, plain = roofs(shape, phase), sensor(shape, phase)

    def guide_of(mosaic, rows, columns):
        facts = plain._replace(row_black=rows, column_black=columns)
        return highlight_guide(mosaic, facts, BALANCE)

    guide, *_ = guarded(guide_of, mosaic, plain.row_black, plain.column_black)
    np.testing.assert_allclose(guide, plain_guide(mosaic, plain), rtol=2e-4)


@pytest.mark.parametrize("shape", [(1, 1), (1, 60), (60, 1), (7, 40), (40, 7)])
def test_a_frame_smaller_than_a_cell_has_no_guide(shape):
    burnt = np.full(shape, 60512, np.uint16)
    assert highlight_guide(burnt, sensor(shape), BALANCE) is None


def plain_rebuilt(tile, y0, x0, guide, factor):
    """As the docstring of the module says, in float64."""
    tile, gains = tile.astype(float), BALANCE[:, None, None]
    pixels = y0 + np.arange(tile.shape[1]), x0 + np.arange(tile.shape[2])
    down, across = ((place + 0.5) * factor / CELL - 0.5 for place in pixels)
    high, wide = (np.arange(size) for size in guide.shape[1:])
    tall = np.array([[np.interp(down, high, column) for column in plane.T] for plane in guide])
    *hue, white = np.array([[np.interp(across, wide, row) for row in plane.T] for plane in tall])
    t = np.clip((tile - 0.9) / (0.985 - 0.9), 0, 1)
    clipped = t * t * (3 - 2 * t)
    left, whole = 1 - clipped, clipped.prod(0)
    level = (left * gains * tile).sum(0) / ((left * hue).sum(0) + 1e-6)
    told = ((1 - whole) * level * hue + whole * white) / gains
    return tile + clipped * np.maximum(told - tile, 0)


@pytest.mark.parametrize("factor", [1, 2, 4])
@pytest.mark.parametrize("corner", [(0, 0), (40, 24)])
def test_rebuilding_odd_shapes(corner, factor):
    """At either corner of a frame, of whose last cells a tile may have a pixel only.

    A clipped channel is never taken below where it clipped, whatever the surroundings say.
    """
    rng = np.random.default_rng(12)
    for rows, columns in ODD_SHAPES:
        y0, x0 = (place // factor for place in corner)
        cells = [-(-(place * factor) // CELL) for place in (y0 + rows, x0 + columns)]
        hue = rng.dirichlet((0.5, 0.5, 0.5), cells).transpose(2, 0, 1)
        guide = np.float32([*hue, rng.uniform(1, 4, cells)])
        tile = np.float32(rng.choice([0.5, 0.94, 1.0], (3, rows, columns)) * rng.uniform(0.9, 1))

        def rebuild(tile, guide, y0=y0, x0=x0):
            rebuild_highlights(tile, y0, x0, guide, BALANCE, factor)

        rebuilt, _ = guarded(rebuild, tile, guide)
        assert (rebuilt >= tile).all()
        exact = plain_rebuilt(tile, y0, x0, guide, factor)
        np.testing.assert_allclose(rebuilt, exact, rtol=1e-4)
