"""Calibrated cameras: which frames they are for, and what they do there."""

from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import frame, recipe, two_matrix_camera
from grading.colour.camera import camera_to_working
from grading.colour.spaces import xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy
from grading.engine.resolve import resolve
from grading.errors import OriginalError
from grading.frame import Calibration, Camera, Capture
from grading.signal import Signal
from grading.stages import white_balance
from grading.stages.calibrated import CalibratedCamera

WARM = [[0.9, -0.2, -0.05], [-0.4, 1.25, 0.15], [-0.05, 0.2, 0.55]]
COLD = [[0.7, -0.15, -0.1], [-0.5, 1.3, 0.2], [-0.02, 0.2, 0.7]]
ERRORS = {"mean": 1.0, "worst": 2.0}


def light(kelvin, matrix, duv=0.0):
    return {
        "kelvin": kelvin, "duv": duv, "matrix": matrix, "patches": 24, "before": ERRORS,
        "after": ERRORS, "frame": {"name": "chart.dng", "sha256": "ab"},
    }  # fmt: skip


def camera(*lights, model="One"):
    return {"make": "Invented", "model": model, "lights": list(lights)}


GREY = 0.2 * np.array(two_matrix_camera().neutral)


def shot(make="Invented", model="One", raw=True):
    planes = np.tile(GREY[:, None, None], (1, 40, 60))
    made = frame(planes, two_matrix_camera() if raw else None)
    return replace(made, facts=replace(made.facts, capture=Capture(make=make, model=model)))


def matrix_of(shot, **balance):
    resolved = resolve(recipe(white_balance=balance), shot).stages["white_balance"]
    return white_balance.prepare(resolved, Signal.of(shot)), resolved


def test_its_matrix_takes_the_place_of_those_of_the_file():
    given = camera(light(5200.0, COLD))
    found, _ = matrix_of(shot(), kelvin=5200.0, duv=0.0, calibrations=[given])
    alone = Camera((Calibration(5200.0, np.array(COLD)),), np.ones(3))
    assert found == pytest.approx(camera_to_working(alone, kelvin_duv_to_xy(5200, 0)), rel=1e-6)
    without, _ = matrix_of(shot(), kelvin=5200.0, duv=0.0)
    assert np.abs(found - without).max() > 0.05


def test_white_of_its_light_becomes_white():
    given = camera(light(3100.0, WARM, 0.004))
    found, _ = matrix_of(shot(), kelvin=3100.0, duv=0.004, calibrations=[given])
    white = np.array(WARM) @ xy_to_xyz(kelvin_duv_to_xy(3100, 0.004))
    assert found @ (white / white[1]) == pytest.approx(np.ones(3), abs=1e-6)


def test_between_two_lights_the_matrix_is_interpolated_in_reciprocal_kelvin():
    given = camera(light(6000.0, COLD), light(3000.0, WARM))
    for kelvin, share in ((3000.0, 0.0), (4000.0, 0.5), (6000.0, 1.0)):
        found, _ = matrix_of(shot(), kelvin=kelvin, duv=0.0, calibrations=[given])
        mixed = (1 - share) * np.array(WARM) + share * np.array(COLD)
        alone = Camera((Calibration(5000.0, mixed),), np.ones(3))
        expected = camera_to_working(alone, kelvin_duv_to_xy(kelvin, 0))
        assert found == pytest.approx(expected, abs=1e-5)


def test_as_shot_and_a_sampled_grey_are_seen_through_its_matrix():
    given = [camera(light(5200.0, COLD))]
    for balance in ({"as_shot": True}, {"neutral": [0.5, 0.5]}):
        found, resolved = matrix_of(shot(), calibrations=given, **balance)
        _, without = matrix_of(shot(), **balance)
        assert abs(resolved.kelvin - without.kelvin) > 50
        assert np.ptp(found @ GREY) < 1e-6


def test_each_frame_takes_that_of_its_camera_and_keeps_no_other():
    both = [camera(light(5200.0, WARM), model="One"), camera(light(5200.0, COLD), model="Two")]
    for model, matrix in (("One", WARM), ("Two", COLD), ("  TWO", COLD)):
        _, resolved = matrix_of(shot(model=model), calibrations=both)
        assert [each.lights[0].matrix for each in resolved.calibrations] == [matrix]


@pytest.mark.parametrize(
    ("make", "model", "words"),
    [("Invented", "Three", "Invented Three"), (None, None, "an unknown camera")],
)
def test_a_frame_of_another_camera_is_refused(make, model, words):
    with pytest.raises(OriginalError) as caught:
        matrix_of(shot(make, model), kelvin=5000.0, calibrations=[camera(light(5200.0, COLD))])
    assert str(caught.value) == (
        f"in-memory: made by {words}, for which the recipe names no camera file; allowed: Invented "
        "One; calibrate this camera too and add its file to white_balance.cameras, or render its "
        "frames by another recipe"
    )


def test_a_rendered_frame_needs_none():
    given = [camera(light(5200.0, COLD))]
    found, resolved = matrix_of(shot(raw=False), kelvin=5000.0, calibrations=given)
    without, _ = matrix_of(shot(raw=False), kelvin=5000.0)
    assert np.array_equal(found, without)
    assert resolved.calibrations is None


def test_lights_come_in_rising_order_of_kelvin():
    given = CalibratedCamera(**camera(light(6000.0, COLD), light(3000.0, WARM)))
    assert [each.kelvin for each in given.calibrations] == [3000.0, 6000.0]
