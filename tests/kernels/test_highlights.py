"""Rebuilt highlights against lamps whose light is known past clipping."""

import numpy as np
import pytest

from grading.kernels.demosaic import demosaic_tile
from grading.kernels.highlights import highlight_guide, rebuild_highlights
from kernels.raws import BALANCE, SHAPE, counts, developed, lamp, sample, sensor


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
