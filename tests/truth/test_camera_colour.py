"""Raw files of known spectra must come out in the colours that the spectra have."""

import pytest

from truth import spectra
from truth.camera_colour import excess, measure_grey, measure_truth

pytestmark = pytest.mark.truth

each_camera = pytest.mark.parametrize("number", spectra.CAMERAS, ids="camera {}".format)
each_light = pytest.mark.parametrize("name", spectra.LIGHTS)
daylight_or_a = pytest.mark.parametrize("name", (*spectra.DAYLIGHTS, "A"))
calibrated_or_daylight = pytest.mark.parametrize("name", (*spectra.DAYLIGHTS, "A", spectra.THIRD))


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


@calibrated_or_daylight
def test_a_third_calibration_brings_its_led_near_the_best_matrix(name):
    """Camera 1, as shot and stated; the lights it did well before stay where they were."""
    truth, pair = measure_truth(1, name, spectra.THIRD), measure_truth(1, name)
    assert truth.as_shot_mean < truth.least + 0.3
    assert truth.stated_mean < truth.least + 0.3
    if name != spectra.THIRD:
        assert truth.as_shot_mean == pytest.approx(pair.as_shot_mean, abs=0.02)
        assert truth.stated_mean == pytest.approx(pair.stated_mean, abs=0.02)


@each_camera
@calibrated_or_daylight
def test_three_matrices_do_as_well_as_one_of_the_very_light(number, name):
    truth = measure_truth(number, name, spectra.THIRD)
    assert truth.as_shot_mean < truth.calibrated + 0.3


@pytest.mark.parametrize("name", spectra.ALIKE)
def test_lights_of_the_chromaticity_of_the_third(name):
    """Camera 1. Kelvin and Duv cannot tell them from the LED, so stating them leaves the cast
    the LED had without its calibration; what the camera saw tells them apart."""
    truth = measure_truth(1, name, spectra.THIRD)
    assert truth.as_shot_mean < truth.least + 0.3
    assert truth.stated_grey == pytest.approx(measure_truth(1, spectra.THIRD).stated_grey, rel=0.2)


@pytest.mark.parametrize("third", spectra.LEDS)
def test_any_led_may_be_the_third(third):
    as_shot, stated = excess(1, third)
    if third == "LED-B4":  # nearly of the chromaticity of D50
        assert as_shot < 0.4
        assert stated > 1
    else:
        assert as_shot < 0.3
        assert stated < 0.3


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


@each_camera
@each_light
def test_they_agree_with_a_third_calibration(number, name):
    grey = measure_grey(number, name, spectra.THIRD)
    assert grey.worst_step <= 65535 / 255 / 4
    assert max(grey.as_shot_16, grey.as_shot_8, grey.sampled_16, grey.sampled_8) < 0.3
