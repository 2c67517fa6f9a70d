"""Rebuilt highlights against lamps whose light is known past clipping."""

import itertools

import numpy as np
import pytest

from grading.develop.demosaic import demosaic_tile
from grading.kernels.raw.highlights import highlight_guide
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


