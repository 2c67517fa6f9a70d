"""Readings of places whose light is known."""

import math
from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import frame, light_of_oklab, recipe, two_matrix_camera
from grading.colour import adaptation, camera, spaces
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.frame import Capture
from grading.pages.follow.reading import read_place

A = (0.44758, 0.40745)  # CIE 015: illuminant A, 2856 K
D50 = (0.34567, 0.35851)  # CIE 015: 5003 K on the daylight locus


def read(planes, point=(0.5, 0.5), camera=None, **keys):
    shot = frame(planes, camera)
    return read_place(shot, shot, make_plan(resolve(recipe(**keys), shot), shot), point)


def flat(colour, height=30, width=40):
    return np.broadcast_to(np.reshape(colour, (3, 1, 1)), (3, height, width))


def working_light(xyz):
    return spaces.xyz_to_rgb(spaces.WORKING) @ np.asarray(xyz)


@pytest.mark.parametrize("stops", [-6, -1, 0, 2.5])
def test_grey_in_stops(stops):
    """A grey of 0.18 times two to the n is n stops from middle grey, of scene and of picture."""
    reading = read(flat([0.18 * 2**stops] * 3), exposure={"stops": 0.75})
    assert reading.scene == pytest.approx(stops + 0.75, abs=1e-4)
    plain = read(flat([0.18 * 2**stops] * 3))
    assert plain.picture == pytest.approx(stops, abs=2e-3)


def test_scene_and_picture_are_the_tone_curve():
    """White of the curve at 4 stops: what enters 4 stops over middle grey leaves as white."""
    reading = read(flat([0.18 * 2**4] * 3), tone_curve={"white": 4}, hues={})
    assert reading.scene == pytest.approx(4, abs=1e-4)
    assert reading.picture == pytest.approx(math.log2(1 / 0.18), abs=2e-3)
    assert reading.lightness == pytest.approx(1, abs=1e-3)


def test_black():
    reading = read(flat([0.0] * 3))
    assert reading.scene == -math.inf
    assert reading.family is None
    assert reading.illuminant is None
    assert reading.no_illuminant == "none: a channel is black"


def test_burnt_out():
    assert read(flat([1.0] * 3)).no_illuminant == "none: a channel is burnt out"


@pytest.mark.parametrize("xy, kelvin, duv", [(A, 2856, 0.0), (D50, 5003, 0.0032)])
def test_light_of_a_rendered_original(xy, kelvin, duv):
    """Kelvin of CIE 015; Duv of D50 from memory, to the digits given."""
    reading = read(flat(working_light(0.2 * spaces.xy_to_xyz(xy))))
    assert reading.illuminant[0] == pytest.approx(kelvin, abs=2)
    assert reading.illuminant[1] == pytest.approx(duv, abs=2e-4)


@pytest.mark.parametrize("xy, kelvin", [(A, 2856), (D50, 5003)])
def test_light_of_a_raw(xy, kelvin):
    """Camera RGB of a grey under a light of CIE 015, through the camera's own matrices."""
    shot = two_matrix_camera()
    planes = flat(0.3 * camera.xyz_to_camera(shot, xy) @ spaces.xy_to_xyz(xy))
    reading = read(planes, camera=shot)
    assert reading.illuminant[0] == pytest.approx(kelvin, abs=5)
    balanced = read(planes, camera=shot, white_balance={"neutral": [0.5, 0.5]})
    assert balanced.family is None
    assert balanced.chroma < 1e-3


def test_light_of_a_raw_of_a_calibrated_camera():
    """Through the matrix that the recipe names, not through those of the file."""
    matrix = [[0.7, -0.15, -0.1], [-0.5, 1.3, 0.2], [-0.02, 0.2, 0.7]]
    errors = {"mean": 1.0, "worst": 2.0}
    light = {
        "kelvin": 5000.0, "duv": 0.0, "matrix": matrix, "patches": 24, "before": errors,
        "after": errors, "frame": {"name": "chart.dng", "sha256": "ab"},
    }  # fmt: skip
    given = {"make": "Invented", "model": "One", "lights": [light]}
    planes = flat(0.3 * np.array(matrix) @ spaces.xy_to_xyz(A))
    shot = frame(planes, two_matrix_camera())
    facts = replace(shot.facts, capture=Capture(make="Invented", model="One"))
    shot = replace(shot, facts=facts)
    for balance, kelvin in (({"calibrations": [given]}, 2856), ({}, None)):
        look = resolve(recipe(white_balance={"kelvin": 5000.0, **balance}), shot)
        reading = read_place(shot, shot, make_plan(look, shot), (0.5, 0.5))
        found = reading.illuminant and reading.illuminant[0]
        assert (found == pytest.approx(2856, abs=2)) == (kelvin is not None)


def test_colour_of_no_light():
    reading = read(flat(light_of_oklab(0.6, 0.15, [330])[0]))
    assert reading.illuminant is None
    assert reading.no_illuminant == "none: too strong a colour"


@pytest.mark.parametrize(
    "family, x, y, luminance", [("R", 0.4747, 0.3227, 19.77), ("PB", 0.1925, 0.1843, 12.00)]
)
def test_hue_family_of_published_chips(family, x, y, luminance):
    """Newhall, Nickerson and Judd (1943): 5R 5/10 and 5PB 4/10 under illuminant C."""
    c = (0.3101, 0.3162)
    to_d65 = adaptation.cat16(spaces.xy_to_xyz(c), spaces.xy_to_xyz(spaces.D65))
    xyz = to_d65 @ spaces.xy_to_xyz((x, y)) * luminance / 100
    assert read(flat(working_light(xyz))).family == family


def test_reads_the_place():
    """One patch of a checkerboard, away from its borders, is not mixed with its neighbours."""
    planes = np.empty((3, 200, 400), np.float32)
    planes[:, :, :200] = 0.18
    planes[:, :, 200:] = 0.72
    assert read(planes, (0.25, 0.5)).scene == pytest.approx(0, abs=1e-4)
    assert read(planes, (0.75, 0.5)).scene == pytest.approx(2, abs=1e-4)
    for corner, stops in (((0, 0), 0), ((1, 1), 2)):
        assert read(planes, corner).scene == pytest.approx(stops, abs=1e-4)


def test_local_adjustments_count_where_they_act():
    local = {
        "top": {
            "where": {"gradient": {"full": [0.5, 0.49], "none": [0.5, 0.51], "feather": 0}},
            "exposure": {"stops": -1},
        }
    }
    planes = flat([0.18] * 3, 200, 300)
    assert read(planes, (0.5, 0.2), local=local).scene == pytest.approx(-1, abs=1e-4)
    assert read(planes, (0.5, 0.8), local=local).scene == pytest.approx(0, abs=1e-4)
