"""Clipped channels: no magenta, no jump, nothing changed below the onset."""

import numpy as np
import pytest

from grading.develop.clipped_channels import raise_clipped_channels

NEUTRAL = np.array([0.5, 1.0, 0.625])


def sensor(scene):
    """Camera RGB of balanced scene values, shape (3, n), clipped at white as a sensor does."""
    camera = np.minimum(scene * NEUTRAL[:, None], 1)
    return camera.astype(np.float32)[:, None]


def balanced(camera):
    return raise_clipped_channels(camera, NEUTRAL)[:, 0] / NEUTRAL[:, None]


def test_below_the_onset_nothing_changes():
    camera = np.random.default_rng(0).uniform(0, 0.95, (3, 20, 20)).astype(np.float32)
    np.testing.assert_array_equal(raise_clipped_channels(camera, NEUTRAL), camera)


def test_a_neutral_ramp_stays_neutral_and_never_falls():
    ramp = np.linspace(0.5, 3, 2000) * np.ones((3, 1))
    result = balanced(sensor(ramp))
    assert np.ptp(result, axis=0).max() < 0.02
    assert np.diff(result[1]).min() > -1e-3
    # red clips last, at 1 / 0.5; up to there the brightness of the scene is known
    known = ramp[0] < 1.9
    assert np.abs(result - ramp)[:, known].max() < 0.05


def test_all_clipped_is_neutral_at_the_brightest_level():
    np.testing.assert_allclose(balanced(np.ones((3, 1, 1), np.float32)), 2, rtol=1e-6)


def test_a_clipped_channel_is_never_lowered():
    """A saturated red lamp keeps its colour: green and blue are not pulled up to it."""
    lamp = np.array([[1.0], [0.2], [0.1]], np.float32)[:, None]
    np.testing.assert_array_equal(raise_clipped_channels(lamp, NEUTRAL), lamp)


@pytest.mark.parametrize("channel", range(3))
def test_the_onset_is_smooth(channel):
    """Steps of the input of 1/2000 give no step of the output beyond a few times that."""
    camera = np.tile(np.array([0.6, 0.9, 0.7])[:, None], 2000)
    camera[channel] = np.linspace(0.9, 1, 2000)
    result = balanced(camera.astype(np.float32)[:, None])
    assert np.abs(np.diff(result)).max() < 2e-3


def test_it_works_pixel_by_pixel():
    camera = np.random.default_rng(2).uniform(0.8, 1, (3, 16, 16)).astype(np.float32)
    whole = raise_clipped_channels(camera, NEUTRAL)
    part = raise_clipped_channels(camera[:, 3:5, 7:9], NEUTRAL)
    np.testing.assert_array_equal(whole[:, 3:5, 7:9], part)
