"""Raw files of known spectra must come out in the colours that the spectra have."""

import pytest

from truth import spectra
from truth.camera_colour import measure_grey, measure_truth

pytestmark = pytest.mark.truth

each_camera = pytest.mark.parametrize("number", spectra.CAMERAS, ids="camera {}".format)
each_light = pytest.mark.parametrize("name", spectra.LIGHTS)
daylight_or_a = pytest.mark.parametrize("name", (*spectra.DAYLIGHTS, "A"))


def test_matrices_are_not_fitted_on_what_they_are_judged_by():
    judged, others = spectra.judged_patches(), spectra.calibration_patches()
    distance = abs(judged[:, None] - others).max(axis=2).min(axis=1)
    assert distance.min() > 0.005


@daylight_or_a
def test_colours_are_nearly_those_of_the_best_matrix(name):
    """Camera 1, with the as-shot white and with the light's true kelvin and Duv."""
    truth = measure_truth(1, name)
    assert truth.as_shot_mean < truth.least + 0.3
    assert truth.stated_mean < truth.least + 0.3


@each_camera
@daylight_or_a
def test_two_matrices_do_as_well_as_one_of_the_very_light(number, name):
    truth = measure_truth(number, name)
    assert truth.least <= truth.calibrated
    assert truth.as_shot_mean < truth.calibrated + 0.3


@each_camera
@pytest.mark.parametrize("name", spectra.LEDS)
def test_leds_are_balanced_by_what_the_camera_saw(number, name):
    """Matrices for A and D65 say little about an LED: its true kelvin and Duv leave a cast,
    since the camera sees its white in another place. The as-shot white does not."""
    truth = measure_truth(number, name)
    assert truth.as_shot_mean < truth.stated_mean
    assert truth.as_shot_mean < truth.calibrated + 1.5


@each_camera
@each_light
def test_grey_is_neutral(number, name):
    grey = measure_grey(number, name)
    assert max(grey.as_shot_16, grey.as_shot_8, grey.sampled_16, grey.sampled_8) < 0.3


@each_camera
@each_light
def test_three_ways_to_state_a_light_agree(number, name):
    """As shot, sampled, and the kelvin and Duv found: to a quarter of an 8-bit code."""
    assert measure_grey(number, name).worst_step <= 65535 / 255 / 4
