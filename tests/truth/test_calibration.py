"""A chart in one photograph calibrates a camera as well as spectra known beforehand would."""

import numpy as np
import pytest

from calibrate.photographs import real_chart
from grading.calibrate.chart import CENTRES, reference
from grading.calibrate.find import find_chart, pitch
from grading.calibrate.homography import project
from grading.calibrate.light import MAX_ERROR, WORST_ERROR, calibrate
from grading.colour.difference import delta_e_2000
from grading.engine.execute import render
from grading.engine.output import Output
from grading.files.originals import open_frame
from truth import calibration, spectra
from truth.pictures import recipe, xyz_of

pytestmark = pytest.mark.truth

each_camera = pytest.mark.parametrize("number", spectra.CAMERAS, ids="camera {}".format)
each_light = pytest.mark.parametrize("name", calibration.LIGHTS)


def test_surfaces_are_judged_that_are_not_on_the_chart():
    chart, judged = spectra.photographed_patches(), calibration.judged()
    assert judged.shape == (99, 81)
    distance = abs(judged[:, None] - chart).max(axis=2).min(axis=1)
    assert distance.min() > 0.02


@each_camera
@each_light
def test_it_reaches_what_a_matrix_for_the_very_light_reaches(number, name):
    found = calibration.measure_calibration(number, name)
    assert found.after < found.own + 0.3
    assert found.after < found.before + 0.1


@each_camera
@pytest.mark.parametrize("name", ["LED-B1", "LED-B4", "LED-RGB1"])
def test_leds_are_much_nearer_than_by_the_matrices_of_the_file(number, name):
    found = calibration.measure_calibration(number, name)
    assert found.after < 0.85 * found.before


@each_light
def test_cameras_agree_better_or_as_well(name):
    by_file, by_chart = calibration.disagreement(name)
    assert by_chart < by_file + 0.1


@pytest.mark.parametrize("name", ["LED-BH1", "LED-RGB1"])
def test_cameras_agree_much_better_where_their_files_err_apart(name):
    by_file, by_chart = calibration.disagreement(name)
    assert by_chart < 0.75 * by_file


@each_camera
@pytest.mark.parametrize("name", ["D50", "LED-B3"])
@pytest.mark.parametrize("seed", [1, 2])
def test_another_pose_and_other_noise_come_to_the_same(number, name, seed):
    """Upside down, smaller and tilted the other way; judged on other surfaces."""
    first = calibration.by_chart(number, name)
    again = calibration.by_chart(number, name, pose=1, seed=seed)
    assert delta_e_2000(first, again).mean() < 0.15


@each_camera
@each_light
def test_residuals_stay_far_from_what_is_refused(number, name):
    errors = calibration.calibrated(number, name, 0, 0).after.errors
    assert errors.mean() < 3.1 < MAX_ERROR
    assert errors.max() < 9.5 < WORST_ERROR


@each_camera
def test_the_whole_engine_shows_what_the_matrix_promises(number):
    """The chart itself, rendered with its own camera file and balanced as shot."""
    frame = calibration.photographed(number, "LED-B4", 0, 0)
    light = calibration.calibrated(number, "LED-B4", 0, 0)
    given = {
        "make": "Invented", "model": "Camera",
        "lights": [{
            "kelvin": light.kelvin, "duv": light.duv, "matrix": light.matrix.tolist(),
            "patches": 24, "before": {"mean": 1.0, "worst": 1.0},
            "after": {"mean": 1.0, "worst": 1.0}, "frame": {"name": "chart.dng", "sha256": ""},
        }],
    }  # fmt: skip
    chart = reference(calibration.EDITION)
    found = find_chart(frame, chart)
    x, y = project(found, CENTRES).astype(int).T
    half = int(0.2 * pitch(found))

    def errors(**balance):
        stops = -float(np.log2(light.after.photograph.gain))
        look = recipe(white_balance=balance, exposure={"stops": stops})
        picture = render(frame, look, Output("tiff", "bt2020"), workers=1).array
        spots = [np.s_[b - half : b + half, a - half : a + half] for a, b in zip(x, y, strict=True)]
        xyz = np.array([xyz_of(picture[spot], "bt2020").mean(axis=(0, 1)) for spot in spots])
        return delta_e_2000(spectra.to_lab(xyz), chart.lab)

    with_chart = errors(as_shot=True, calibrations=[given])
    assert with_chart.mean() < light.after.errors.mean() + 0.6  # flare and fall are left in
    assert with_chart.mean() < 0.7 * errors(as_shot=True).mean()


REAL = real_chart()


@pytest.mark.skipif(REAL is None, reason="the real raw file is not beside the repository")
def test_a_real_frame_comes_nearer():
    """As developed by the file's matrix, balanced on its greys, it was measured at 4.75, and at
    2.96 by a matrix of least squares in XYZ. Mixed light and blur set the floor."""
    light = calibrate(open_frame(REAL), reference())
    assert light.after.errors.mean() < 2.4
    assert light.after.errors.max() < 5
    assert light.after.errors.mean() < 0.7 * light.before.errors.mean()
