"""Rebuilt highlights against lamps whose light is known past clipping."""

import itertools
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import binary_dilation

import make_demo
from grading.develop.demosaic import HALO, demosaic_tile
from grading.files.originals import open_frame
from grading.kernels.raw.highlights import SURROUNDINGS, highlight_guide
from kernels.guards import guarded
from kernels.raws import BALANCE, SHAPE, counts, developed, lamp, sample, sensor

DEMO = Path(make_demo.__file__).parent


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
    assert spread[count > 0].max() < 0.15
    profile = rebuilt.sum(0)[120, 130:]
    assert np.diff(profile).max() < 0.02 * profile.max()
    assert (rebuilt.max(0)[burnt] >= BALANCE.max() - 1e-3).all()


@pytest.mark.parametrize("tint", [(1.5, 0.9, 0.6), (0.6, 0.8, 1.4), (1.3, 0.8, 1.0)])
def test_colour_and_slope_go_on_into_what_is_clipped_whole(tint):
    """A sky that brightens evenly downwards, also where its last channel clips."""
    rise = 0.35 * np.exp2(np.arange(SHAPE[0]) / 64)
    light = np.reshape(tint, (3, 1, 1)) * np.tile(rise[:, None], (1, SHAPE[1]))
    clipped, rebuilt, count = developed(light)
    last = np.flatnonzero((count == 3).all(1))[0]
    core = slice(last, min(last + 32, SHAPE[0] - 16))
    error = np.log2(rebuilt / light)[:, core, 20:-20]
    before = np.log2(clipped / light)[:, core, 20:-20]
    assert np.abs(error).max() < 0.5 * np.abs(before).max()
    assert np.ptp(error, axis=0).max() < 0.2  # stops between channels: colour
    slope = np.diff(np.log2(rebuilt[:, :, 130]), axis=1)[:, last - 30 : last + 16]
    assert slope.min() > -0.02 and slope.max() < 4 / 64


@pytest.mark.parametrize("tint", [(1, 1, 1), (1.6, 0.9, 0.35), (0.5, 0.8, 1.6)])
@pytest.mark.parametrize(("peak", "spread", "most"), [(12, 3, 0.1), (6, 6, 0.06), (30, 8, 0.15)])
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
    _, without, _ = developed(light)
    light[:, 170:176, 120:130] *= np.reshape((1, 1, 0.2), (3, 1, 1))
    _, rebuilt, _ = developed(light)
    beside, as_without = rebuilt[:, 155:166, 105:145], without[:, 155:166, 105:145]
    np.testing.assert_allclose(beside, as_without, rtol=0.03)


def test_small_lamps_keep_to_their_colour_where_the_dusk_about_them_drowns_a_channel():
    """Of an amber lamp hardly any blue stands out from a blue dusk and its noise."""
    random = np.random.default_rng(9)
    y, x = np.indices(SHAPE)
    rows, columns = (random.uniform(20, size - 20, (60, 1, 1)) for size in SHAPE)
    glow = np.exp(-(np.square(y - rows) + np.square(x - columns)) / (2 * 1.4**2)).sum(axis=0)
    dusk, tint = np.reshape((0.05, 0.07, 0.12), (3, 1, 1)), np.reshape((4.0, 1.8, 0.08), (3, 1, 1))
    light = dusk + tint * glow
    signal = sample(light / BALANCE[:, None, None])
    mosaic = counts(np.minimum(signal + random.normal(0, 0.01, SHAPE), 1))
    facts = sensor(SHAPE, noise=(0.0, 1e-4))
    guide = highlight_guide(mosaic, facts, BALANCE)
    rebuilt = demosaic_tile(mosaic, 0, SHAPE[0], 0, SHAPE[1], facts, np.float32(BALANCE), guide)
    rebuilt = rebuilt * BALANCE[:, None, None]
    lit = (light[0] > BALANCE[0]) & (np.minimum(y, x) > 8)
    assert lit.sum() > 200
    assert -0.1 < rebuilt.min() and rebuilt.max() < 3 * light.max()
    red, green, blue = rebuilt[:, lit]
    assert (red > green).mean() > 0.97 and (green > blue).mean() > 0.97


@pytest.mark.parametrize("number", range(1, 9))
def test_demo_frames_have_light_that_can_be(number):
    """Nothing far below black, and nothing beyond four stops above white."""
    frame = open_frame(DEMO / f"harbour_{number:02}.dng")
    light = frame.pixels.read(frame.region)
    assert -0.05 < light.min() and light.max() < 16


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
    near = (clipped / BALANCE[:, None, None]).max(0) > 0.85
    plain = ~binary_dilation(near, iterations=2 * HALO)
    assert plain.sum() > 1000
    np.testing.assert_array_equal(rebuilt[:, plain], clipped[:, plain])
    dim = counts(sample(lamp((1, 1, 1), peak=0.5)))
    assert highlight_guide(dim, sensor(SHAPE), BALANCE) is None


def test_what_is_far_from_all_that_clips_does_not_matter(monkeypatch):
    """A lamp in a wide frame of two other lights; before the guide, it must be the clipped alone
    whose surroundings are looked at."""
    shape = 400, 1600
    y, x = np.indices(shape)
    light = 0.02 + 3 * np.exp(-(np.hypot(y - 200, x - 260) / 40))
    light = light * np.reshape((1.3, 0.9, 0.5), (3, 1, 1))
    light += 0.3 * (x > 800) * np.reshape((0.4, 0.8, 1.2), (3, 1, 1))
    mosaic, facts, made = counts(sample(light)), sensor(shape), []
    for surroundings in (SURROUNDINGS, 1000):
        monkeypatch.setattr("grading.kernels.raw.highlights.SURROUNDINGS", surroundings)
        guide = highlight_guide(mosaic, facts, BALANCE)
        made.append((guide, demosaic_tile(mosaic, 0, 400, 0, 800, facts, BALANCE, guide)))
    (part, few), (whole, all_of_it) = made
    assert part[0, 25, 180] < 1e-3 * whole[0, 25, 180]
    assert (few[:, 200, 260] > 1).any()
    np.testing.assert_allclose(few, all_of_it, rtol=1e-4, atol=1e-6)


def test_tiles_are_bit_identical_to_the_whole():
    mosaic = counts(sample(lamp((1.6, 0.9, 0.35), peak=8.0) / BALANCE[:, None, None], (1, 0)))
    for noise in (0.0, 0.0), (3e-3, 1e-6):
        facts = sensor(SHAPE, (1, 0), noise=noise)
        guide = highlight_guide(mosaic, facts, BALANCE)
        whole = demosaic_tile(mosaic, 0, SHAPE[0], 0, SHAPE[1], facts, BALANCE, guide)
        for y, x in itertools.product(range(0, SHAPE[0], 50), range(0, SHAPE[1], 61)):
            part = y, min(y + 50, SHAPE[0]), x, min(x + 61, SHAPE[1])
            tile = demosaic_tile(mosaic, *part, facts, BALANCE, guide)
            np.testing.assert_array_equal(tile, whole[:, part[0] : part[1], part[2] : part[3]])


def test_a_lamp_in_the_last_rows_is_seen():
    mosaic = counts(sample(lamp((1, 1, 1), centre=(255, 260), spread=3.0, peak=4.0)))
    assert highlight_guide(mosaic, sensor(SHAPE), BALANCE) is not None


@pytest.mark.parametrize("shape", [(1, 1), (1, 60), (60, 1), (7, 40), (9, 15), (23, 31)])
@pytest.mark.parametrize("phase", [(0, 0), (1, 0), (1, 1)])
def test_small_frames_that_are_clipped_whole(shape, phase):
    """Neither the counts nor the levels beyond the frame matter, and nothing is made of nothing."""
    mosaic, plain = np.full(shape, 60512, np.uint16), sensor(shape, phase)

    def guide_of(mosaic, rows, columns):
        facts = plain._replace(row_black=rows, column_black=columns)
        return highlight_guide(mosaic, facts, BALANCE)

    guide, *_ = guarded(guide_of, mosaic, plain.row_black, plain.column_black)
    assert guide.dtype == np.float32 and np.isfinite(guide).all()
    whole = demosaic_tile(mosaic, 0, shape[0], 0, shape[1], plain, BALANCE, guide)
    balanced = whole * BALANCE[:, None, None]
    np.testing.assert_allclose(balanced, BALANCE.max(), rtol=0.01)
