"""Two cameras of one evening come out as one: their courses set beside each other."""

from pathlib import Path

import numpy as np
import pytest

from evening.bodies import HELD_BACK, NOTHING_SHARED, TUNED, apart, two_bodies
from evening.test_corrections import CAMERA, neutral
from evening.test_level import _scene
from grading.colour.white import kelvin_to_mired
from grading.evening.captured import Captured
from grading.evening.level.across import find_across
from grading.evening.level.corrections import level_frames
from grading.evening.level.overlap import Placing
from grading.evening.level.pairs import Ratio
from grading.evening.level.small import Small
from grading.evening.model import Level
from grading.frame import Capture

FALL, COOLING = -0.15, -1.5
"""Stops and mired a minute of the one light."""


def light_at(minutes):
    return FALL * np.asarray(minutes)


def mired_at(minutes):
    return 190 + COOLING * np.asarray(minutes)


class Body:
    """A camera: what it records of the light, and the ratios between its own frames."""

    def __init__(self, model, minutes, constant=0.0, content=0.0, lean=0.0, rendered=False,
                 settings=True):  # fmt: skip
        self.minutes = np.asarray(minutes, float)
        turn = np.tile([0.3, -0.4, 0.1], 20)[: len(minutes)]
        self.dials = np.round(3 * (turn - light_at(minutes))) / 3 - 3.0
        self.recorded = light_at(minutes) + self.dials + constant
        index = self.recorded + content
        balanced = mired_at(minutes) + lean
        self.frames = [
            Small(
                Captured(Path(f"{model}{n}.dng"), f"{model}{n}", n + 1, _capture(model, when)),
                np.full((3, 12, 18), 2.0 ** index[n], np.float32), np.ones((12, 18), bool),
                np.ones(3) if rendered else neutral(balanced[n]),
                None if rendered else CAMERA, -self.dials[n] if settings else None, 0.0, 0.0,
            )
            for n, when in enumerate(minutes)
        ]  # fmt: skip
        whites = np.log2([neutral(mired) for mired in mired_at(minutes)]) * (not rendered)
        values = np.column_stack([self.recorded, whites[:, 0], whites[:, 2]])
        pairs = [(i, i + d) for d in (1, 2) for i in range(len(minutes) - d)]
        self.ratios = [
            Ratio(i, j, values[i] - values[j], np.full(3, 0.02)) for i, j in pairs
        ]

    def over(self, other, numbers, wrong=()):
        """Ratios of its frames over another's, some of them wrong."""
        error = {pair: 1.5 for pair in wrong}
        return [
            Ratio(i, j, np.array([self.recorded[i] - other.recorded[j] + error.get((i, j), 0.0),
                                  0.0, 0.0]), np.full(3, 0.02))
            for i, j in numbers
        ]  # fmt: skip


def _capture(model, minutes):
    hour, minute = divmod(float(minutes), 60)
    return Capture(model=model, time=f"2026-04-18T{19 + int(hour)}:{int(minute):02}:00")


def levelled(one, two, across=(), **keys):
    """Levels of both, and how much lighter one grey comes out of the second than of the first."""
    level = Level(**{"keep_fall": 0.0, "limit": 9, **keys})
    measured = [(body.frames, body.ratios) for body in (one, two)]
    found = level_frames(measured, {(0, 1): list(across)}, level, None)
    halves = found[: len(one.frames)], found[len(one.frames) :]
    grey = [
        np.median(body.recorded + [each.stops for each in half]
                  - level.keep_fall * light_at(body.minutes))
        for body, half in zip((one, two), halves, strict=True)
    ]  # fmt: skip
    return halves, grey[1] - grey[0]


EVENING, MIDDLE, END = range(0, 40, 2), range(9, 30, 2), range(31, 40, 2)


@pytest.mark.parametrize("kept", [0.0, 0.3])
@pytest.mark.parametrize("times", [MIDDLE, END])
def test_what_both_saw_tells_more_than_the_dials(times, kept):
    one, two = Body("One", EVENING), Body("Two", times, constant=0.3, content=-0.8)
    numbers = [(-5, 0), (-4, 1), (-4, 2), (-3, 2), (-2, 3), (-1, 4)]
    numbers = [(i % len(one.frames), j) for i, j in numbers]
    seen = one.over(two, numbers, wrong=numbers[1:2])
    assert abs(levelled(one, two, seen, keep_fall=kept)[1]) < 0.08


def test_else_the_dials_tell_and_not_what_was_photographed():
    one = Body("One", EVENING)
    for content in (-0.6, 0.5):
        assert abs(levelled(one, Body("Two", MIDDLE, content=content))[1]) < 0.2
    late = Body("Two", range(43, 52, 2), content=0.5)
    assert abs(levelled(one, late)[1]) < 0.3


def test_cameras_in_different_light_stay_each_about_its_own_middle():
    """Indoors and out of doors: by the dials alone the one would come out seven stops darker."""
    one, two = Body("One", EVENING), Body("Two", MIDDLE, content=-7)
    frames, _ = levelled(one, two)
    shown = [np.median([each.recorded + each.stops for each in half]) for half in frames]
    assert abs(shown[1] - shown[0]) < 0.1


def test_without_settings_they_meet_by_what_both_saw():
    one, two = Body("One", EVENING), Body("Two", MIDDLE, content=0.4, settings=False)
    seen = one.over(two, [(5, 0), (6, 2), (8, 4), (9, 5)])
    assert abs(levelled(one, two, seen)[1]) < 0.12


@pytest.mark.parametrize("kept", [0, 0.4])
def test_one_cooling_is_kept_for_both(kept):
    one, two = Body("One", EVENING, lean=6), Body("Two", END, lean=-10)
    frames, _ = levelled(one, two, keep_cooling=kept)
    for body, half in zip((one, two), frames, strict=True):
        cast = mired_at(body.minutes) - [kelvin_to_mired(each.kelvin) for each in half]
        body.left = cast - kept * mired_at(body.minutes)
    assert np.ptp(np.concatenate([one.left, two.left])) < 6


def test_a_picture_keeps_so_much_of_the_cooling_as_raws_of_its_time():
    one, phone = Body("One", EVENING), Body("Pocket", range(21, 34, 2), rendered=True)
    frames, _ = levelled(one, phone, keep_cooling=0.5)
    used = kelvin_to_mired(np.array([each.kelvin for each in frames[1]]))
    np.testing.assert_allclose(np.diff(used), -0.5 * 2 * COOLING, atol=0.3)


def test_frames_of_two_cameras_are_laid_over_each_other():
    """The second has another size, focal length and matrix, and is 0.4 stop lighter."""
    def seen(model, minute, placing, rows, columns, gain, capture):
        light = gain * _scene(rows, columns, placing, noise=0.03)
        light = light * np.reshape(neutral(160), (3, 1, 1))
        captured = Captured(Path(model), model, 1, Capture(model=model, time=minute, **capture))
        trusted = np.ones((rows, columns), bool)
        return Small(captured, light.astype(np.float32), trusted, neutral(160), CAMERA, 0.0, 0, 0)

    def both(first, second, apart="19:04:00"):
        one = seen("One", "2026-04-18T19:00:00", Placing(1, 0, 0, 0), 200, 300, 1.0, first)
        two = seen("Two", f"2026-04-18T{apart}", Placing(0.67, 0.02, 5, 3), 180, 270, 2**0.4,
                   second)  # fmt: skip
        return find_across([one], [two], lambda work: [job() for job in work])

    unstated = {"focal_length": 50.0}
    stated = ({"focal_length": 50.0, "focal_length_full_frame": 50.0},
              {"focal_length": 56.0, "focal_length_full_frame": 83.0})  # fmt: skip
    for captures in (stated, (unstated, unstated)):
        (found,) = both(*captures)
        np.testing.assert_allclose(found.ratio, [-0.4, 0, 0], atol=0.03)
    assert both(*stated, apart="19:30:00") == []


@pytest.mark.slow
@pytest.mark.parametrize("name", [*TUNED, *HELD_BACK])
def test_simulated_evenings_of_two_cameras(tmp_path, name):
    second, frames = (TUNED | HELD_BACK)[name]
    found = two_bodies(tmp_path, name, second, frames, seed=5)
    known = 0.5 if name in NOTHING_SHARED else 0.2  # by the dials alone, an honesty of 0.3 more
    assert abs(apart(found).stops) < known and abs(apart(found).mired) < 7
