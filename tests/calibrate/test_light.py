"""A frame of the chart, from its pixels to the matrix under its light."""

from dataclasses import replace

import numpy as np
import pytest

from calibrate.photographs import MADE_BY, Photograph, Pose, camera, chart_in
from grading.calibrate.chart import WHITE, reference
from grading.calibrate.homography import project
from grading.calibrate.light import calibrate
from grading.colour.adaptation import cat16
from grading.colour.camera import neutral_to_xy
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.spaces import xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy
from grading.errors import OriginalError
from grading.frame import Capture

COLOURS = reference()
SHOT = Photograph(size=(300, 450))


def calibrated(photograph=SHOT, **how):
    return calibrate(chart_in(photograph, samples=2, **{"stray": 0.1} | how), COLOURS)


def refusal(photograph=SHOT, **how):
    with pytest.raises(OriginalError) as caught:
        calibrated(photograph, **how)
    return str(caught.value)


def errors_by(light, kelvin):
    """CIEDE2000 of the chart by a measured matrix, seen by the camera without a photograph."""
    xy = kelvin_duv_to_xy(light.kelvin, light.duv)
    to_day = cat16(xy_to_xyz(xy), WHITE) @ np.linalg.inv(light.matrix)
    true = camera(kelvin)[1].calibrations[0].xyz_to_camera
    seen = COLOURS.xyz @ cat16(WHITE, xy_to_xyz(kelvin_duv_to_xy(kelvin))).T @ true.T
    white = true @ xy_to_xyz(kelvin_duv_to_xy(kelvin))
    scale = WHITE[1] / (to_day @ white)[1]
    return delta_e_2000(xyz_to_lab(scale * seen @ to_day.T, WHITE), COLOURS.lab)


@pytest.mark.parametrize("kelvin", [2900.0, 5000.0, 7500.0])
def test_the_matrix_makes_the_published_colours(kelvin):
    light = calibrated(replace(SHOT, noise=1e-5, fall=0.1), kelvin=kelvin)
    assert errors_by(light, kelvin).mean() < 0.15 < 2 < light.before.errors.mean()


def test_all_that_a_photograph_adds_does_no_harm():
    """Noise, tilt, vignetting of some per cent, flare and blur, upside down and small."""
    shot = Photograph(
        Pose(width=0.45, turn=190, tilt=(25, -15)), (500, 750), fall=0.15, vignetting=0.06,
        flare=0.01, blur=0.8, noise=2e-4, ground="busy", seed=3,
    )  # fmt: skip
    assert errors_by(calibrated(shot), 5000.0).mean() < 0.4


def test_white_is_kept_to_the_digits_of_the_file():
    light = calibrated(replace(SHOT, noise=1e-4))
    white = light.matrix @ xy_to_xyz(kelvin_duv_to_xy(light.kelvin, light.duv))
    assert white / white[1] == pytest.approx(light.after.neutral, rel=1e-12)


def test_the_light_is_that_which_the_file_s_matrices_see():
    light = calibrated(stray=0.0, kelvin=4000.0)
    assert light.kelvin == pytest.approx(4000, abs=15)
    assert light.duv == pytest.approx(0, abs=1e-3)
    seen = neutral_to_xy(light.frame.facts.camera, light.after.neutral)
    assert kelvin_duv_to_xy(light.kelvin, light.duv) == pytest.approx(seen, abs=1e-5)


def test_a_stated_light_names_the_same_white():
    frame = chart_in(SHOT, 0.1)
    told, stated = calibrate(frame, COLOURS), calibrate(frame, COLOURS, light=(4300.0, 0.01))
    assert (stated.kelvin, stated.duv) == (4300.0, 0.01)
    assert stated.after.errors == pytest.approx(told.after.errors)
    for light in (told, stated):
        white = light.matrix @ xy_to_xyz(kelvin_duv_to_xy(light.kelvin, light.duv))
        assert white / white[1] == pytest.approx(light.after.neutral, rel=1e-12)


def test_what_the_photograph_added_is_told():
    shot = Photograph(Pose((0.5, 0.5), width=0.9), (450, 450), fall=0.1, flare=0.02)
    added = calibrated(shot).after.photograph
    span = 0.1 * 0.9 * 5 / 5.87  # from the first patch to the last one, of the frame's width
    assert added.fall == pytest.approx((span, 0), abs=0.01)
    assert added.flare == pytest.approx(0.02, abs=0.003)


def test_corners_lead_to_the_same_as_the_search():
    frame = chart_in(SHOT, 0.1)
    place = SHOT.pose.place(450)
    corners = [(-0.435, -0.435), (5.435, -0.435), (5.435, 3.435), (-0.435, 3.435)]
    fractions = project(place, corners) / (450, 300)
    by_corners = calibrate(frame, COLOURS, [tuple(corner) for corner in fractions])
    assert by_corners.matrix == pytest.approx(calibrate(frame, COLOURS).matrix, abs=0.01)


def test_no_chart():
    assert refusal(Photograph(Pose((0.5, 5.0)))) == (
        "in-memory: no chart of 24 patches is found; photograph it larger and from the front, or "
        "state its four --corners"
    )


def test_a_rendered_frame_has_no_matrix():
    frame = chart_in(SHOT)
    facts = replace(frame.facts, camera=None)
    for known, words in (
        (facts, "a rendered picture has no camera matrix to calibrate"),
        (replace(facts, monochrome=True), "a monochrome sensor has no camera matrix to calibrate"),
    ):
        with pytest.raises(OriginalError, match=words):
            calibrate(replace(frame, facts=known), COLOURS)


@pytest.mark.parametrize("capture", [Capture(), replace(MADE_BY, make=None)])
def test_a_camera_must_have_a_name(capture):
    assert "the file does not say which camera made it" in refusal(capture=capture)


def test_uneven_light():
    words = refusal(replace(SHOT, fall=0.7))
    assert "the light on the chart is uneven: it changes by 3" in words
    assert words.endswith("turn the chart to the light, or move the lamp away")


def test_a_veil_of_light():
    assert "a veil of light lies on the chart, 20% of white" in refusal(replace(SHOT, flare=0.2))


@pytest.mark.parametrize("pair", [(2, 3), (7, 14), (4, 10)])
def test_a_chart_with_two_patches_exchanged_is_another(pair):
    patches = COLOURS.xyz.copy()
    patches[[*pair]] = patches[[*pair[::-1]]]
    words = refusal(patches=patches)
    assert "the patches do not have the colours of the chart: after the fit they still" in words


def test_a_shadow_over_some_patches_is_no_good():
    patches = COLOURS.xyz.copy()
    patches[[8, 9, 14, 15]] *= 0.4
    assert "colours of the chart" in refusal(patches=patches)


def test_corners_in_the_wrong_place_are_not_believed():
    frame = chart_in(SHOT, 0.1)
    wrong = [(0.25, 0.2), (0.65, 0.2), (0.65, 0.6), (0.25, 0.6)]
    with pytest.raises(OriginalError, match="colours of the chart|out of focus"):
        calibrate(frame, COLOURS, wrong)
