"""The chart is found at any size and angle, and nothing else is taken for it."""

import numpy as np
import pytest

from calibrate.photographs import Photograph, Pose, chart_in, real_chart
from frames_in_memory import frame
from grading.calibrate.chart import CENTRES, reference
from grading.calibrate.find import find_chart, from_corners, pitch
from grading.calibrate.homography import project
from grading.files.originals import open_frame

COLOURS = reference()
RAW = real_chart()
CORNERS = np.array([(-0.435, -0.435), (5.435, -0.435), (5.435, 3.435), (-0.435, 3.435)])


def astray(photograph, place):
    """Largest distance of a patch from its true place, in steps between patches."""
    true = photograph.pose.place(photograph.size[1])
    return np.abs(project(place, CENTRES) - project(true, CENTRES)).max() / pitch(true)


POSES = {
    "small": Pose((0.3, 0.4), width=0.16),
    "filling the frame": Pose(width=0.9),
    "upside down": Pose(turn=180),
    "upright": Pose(width=0.4, turn=90),
    "hanging": Pose(width=0.4, turn=270),
    "askew": Pose(width=0.45, turn=33),
    "seen from the left": Pose(tilt=(40, 0)),
    "seen from above, askew": Pose(width=0.5, turn=200, tilt=(-20, 35)),
}


@pytest.mark.parametrize("ground", ["plain", "busy"])
@pytest.mark.parametrize("pose", POSES.values(), ids=POSES)
def test_it_is_found_at_any_angle_and_size(pose, ground):
    shot = Photograph(
        pose, (800, 1200) if pose.width < 0.2 else (400, 600), fall=0.1, vignetting=0.1,
        noise=1e-4, blur=0.6, ground=ground, seed=len(ground),
    )  # fmt: skip
    place = find_chart(chart_in(shot, stray=0.1, samples=2), COLOURS)
    assert astray(shot, place) < 0.06


@pytest.mark.parametrize("seed", range(3))
def test_it_is_found_in_noise(seed):
    shot = Photograph(noise=2e-3, ground="busy", seed=seed)
    assert astray(shot, find_chart(chart_in(shot, samples=2), COLOURS)) < 0.06


@pytest.mark.parametrize("kelvin", [2700.0, 9000.0])
def test_the_light_may_have_any_colour(kelvin):
    shot = Photograph(seed=4)
    assert astray(shot, find_chart(chart_in(shot, 0.1, kelvin, samples=2), COLOURS)) < 0.06


@pytest.mark.parametrize("seed", range(4))
def test_patches_of_other_colours_are_no_chart(seed):
    rng = np.random.default_rng(seed)
    patches = rng.uniform(0.03, 0.9, (24, 3)) if seed % 2 else rng.permutation(COLOURS.xyz)
    shot = Photograph(ground="busy", seed=seed)
    assert find_chart(chart_in(shot, patches=patches, samples=1), COLOURS) is None


def test_a_mirrored_chart_is_none():
    mirrored = COLOURS.xyz.reshape(4, 6, 3)[:, ::-1].reshape(24, 3)
    assert find_chart(chart_in(Photograph(), patches=mirrored, samples=1), COLOURS) is None


@pytest.mark.parametrize("level", [0.0, 0.5])
def test_an_even_frame_holds_none(level):
    assert find_chart(frame(np.full((3, 300, 400), level)), COLOURS) is None


@pytest.mark.parametrize("first", range(4))
@pytest.mark.parametrize("backwards", [False, True])
def test_corners_may_begin_anywhere_and_go_either_way(first, backwards):
    shot = Photograph(Pose(turn=170, tilt=(15, -10)), ground="busy")
    corners = project(shot.pose.place(600), CORNERS) / (600, 400)
    corners = np.roll(corners[::-1] if backwards else corners, first, axis=0)
    place = from_corners(chart_in(shot, samples=1), [tuple(c) for c in corners], COLOURS)
    assert astray(shot, place) < 1e-6


@pytest.mark.skipif(RAW is None, reason="the real raw file is not beside the repository")
def test_a_real_chart_is_found_beside_other_patches():
    """Against places read off by eye, to some pixels of a hundred between patches."""
    place = find_chart(open_frame(RAW), COLOURS)
    by_eye = {0: (715, 626), 5: (1252, 613), 18: (703, 930), 23: (1258, 923), 8: (929, 720)}
    for number, seen in by_eye.items():
        found = project(place, CENTRES[number])
        assert np.abs(found - seen).max() < 5 < 0.06 * pitch(place)
