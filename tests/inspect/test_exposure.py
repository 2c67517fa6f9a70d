from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import frame
from grading.develop.mosaic import MosaicPixels
from grading.frame import Capture
from grading.inspect.exposure import (
    breaks_handheld_rule,
    exposure,
    handheld_limit,
    luminance,
)
from inspect_frames import noise_at, shot
from kernels.raws import counts, sample, sensor


def raw(rgb, noise=None):
    """A frame of a mosaic of such light, which shows all three colours everywhere."""
    planes = np.asarray(rgb, np.float32)
    mosaic = counts(sample(planes))
    pixels = MosaicPixels(mosaic, sensor(mosaic.shape), np.ones(3, np.float32), None, 1)
    return replace(frame(planes, noise=noise), pixels=pixels)


def test_clipping_and_headroom_are_those_of_each_colour_of_the_raw():
    rgb = np.full((3, 64, 64), 0.25)
    rgb[0, :16], rgb[1, :32], rgb[2] = 2.0, 1.0, 0.125
    found = exposure(raw(rgb))
    assert found.clipped == (0.25, 0.5, 0)
    np.testing.assert_allclose(found.headroom, [0, 0, 3], atol=0.01)


def test_sites_at_black_are_counted():
    rgb = np.full((3, 64, 64), 0.2)
    rgb[:, :8] = 0
    assert exposure(raw(rgb)).black == pytest.approx(0.125)


def test_noise_at_middle_grey_and_the_floor_follow_the_model():
    noise = noise_at(800)
    found = exposure(raw(np.full((3, 64, 64), 0.2), noise))
    assert found.grey_ratio == pytest.approx(0.18 / noise.variance(0.18) ** 0.5)
    at_floor = 2.0**-found.floor
    assert at_floor == pytest.approx(noise.variance(at_floor) ** 0.5)


def test_a_metered_scene_has_the_luminance_that_the_settings_are_for():
    """ISO 2720 with K = 12.5: EV 9 is 64 cd/m²; ISO 100, f/8, 1/8 s is EV 9."""
    facts = Capture(shutter=1 / 8, aperture=8, iso=100)
    grey = raw(np.full((3, 64, 64), 0.127))
    found = exposure(replace(grey, facts=replace(grey.facts, capture=facts)))
    assert found.ev100 == 9 and luminance(9) == 64
    assert found.luminance == pytest.approx(64, rel=0.01)


def test_exposure_is_told_of_frames_that_are_no_mosaic_too():
    found = exposure(shot(np.ones((100, 100)), 1, stops=4))
    assert found.clipped[1] > 0.95


def test_without_facts_nothing_is_said_of_the_scene():
    found = exposure(raw(np.full((3, 64, 64), 0.2)))
    assert (found.ev100, found.luminance, found.floor, found.grey_ratio) == (None,) * 4


def test_the_rule_of_thumb_takes_the_focal_length_on_a_full_frame_where_it_is_known():
    assert handheld_limit(Capture(focal_length=50, focal_length_full_frame=75)) == 1 / 150
    assert handheld_limit(Capture()) is None
    assert breaks_handheld_rule(Capture(focal_length=50, shutter=1 / 60))
    assert not breaks_handheld_rule(Capture(focal_length=50, shutter=1 / 100))
    assert not breaks_handheld_rule(Capture(focal_length=50))
