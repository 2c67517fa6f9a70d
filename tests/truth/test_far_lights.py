"""Lights far from A and D65: what the camera saw as neutral comes out neutral in the file."""

import pytest

from truth import camera_colour, spectra

pytestmark = pytest.mark.truth

each_camera = pytest.mark.parametrize("number", spectra.CAMERAS, ids="camera {}".format)

LIGHTS = ("candle", "HPS", "Super HPS", "LPS", "Mercury", "20000 K", "evening sky")
"""A flame; sodium lamps of high and low pressure and a mercury lamp, as colour-science has them
measured; daylight of CIE 015; and a sky beyond it."""


@each_camera
@pytest.mark.parametrize("name", LIGHTS)
def test_grey_is_neutral_as_shot(number, name):
    picture = camera_colour.developed(number, name, as_shot=True)
    assert camera_colour.cast(picture.array, "bt2020") < 0.3


@each_camera
@pytest.mark.parametrize("name", ["candle", "HPS", "Super HPS", "20000 K"])
def test_three_ways_to_state_it_agree(number, name):
    """To half of an 8-bit code: the ground of the file is rounded, and gains are large here."""
    grey = camera_colour.measure_grey(number, name)
    assert grey.worst_step <= 65535 / 255 / 2
    assert max(grey.as_shot_16, grey.as_shot_8, grey.sampled_16, grey.sampled_8) < 0.3


@each_camera
def test_a_candle_is_warned_of(number):
    frame, _ = camera_colour.chart_frame(number, "candle")
    (warning,) = frame.facts.warnings
    assert "the as-shot white, 1" in warning


@each_camera
def test_daylight_of_20000_kelvin_is_not(number):
    frame, _ = camera_colour.chart_frame(number, "20000 K")
    assert not frame.facts.warnings
