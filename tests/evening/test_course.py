"""Courses run through what is stated, and nowhere beyond it."""

from datetime import datetime

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from grading.colour.white import kelvin_to_mired
from grading.errors import RecipeError
from grading.evening.course import through


def test_inside_it_is_the_monotone_cubic_of_fritsch_and_butland():
    """scipy's PCHIP has the same inner slopes (SIAM J. Sci. Stat. Comput. 5:300, 1984)."""
    x, y = [0, 1, 3, 4, 7, 9], [0, 1, 1.5, 4, 3, 3]
    inner = np.linspace(1, 7, 61)
    expected = PchipInterpolator(x, y)(inner)
    np.testing.assert_allclose([through(x, y, at) for at in inner], expected, atol=1e-12)


def test_two_points_of_one_moment(card, shoot):
    card(2)
    with pytest.raises(RecipeError, match="two points are at one and the same time"):
        values(shoot("courses: {exposure.stops: {at: {F1: 1, '19:00': 2}}}"))


def test_it_is_level_at_the_ends_and_beyond():
    x, y = [0, 10, 30], [1, 2, 5]
    assert [through(x, y, at) for at in (-5, 0, 30, 99)] == [1, 1, 5, 5]
    assert abs(through(x, y, 0.01) - 1) < 1e-4 and abs(through(x, y, 29.99) - 5) < 1e-4
    assert through([3], [7], 1) == 7


def test_it_never_leaves_what_two_neighbours_state():
    rng = np.random.default_rng(3)
    for _ in range(50):
        x, y = np.cumsum(rng.uniform(0.1, 5, 6)), rng.normal(0, 1, 6)
        for i in range(5):
            inside = [through(x, y, at) for at in np.linspace(x[i], x[i + 1], 21)]
            ends = sorted(y[i : i + 2])
            assert ends[0] - 1e-12 <= min(inside) and max(inside) <= ends[1] + 1e-12
            assert (np.diff(inside) * np.sign(y[i + 1] - y[i]) >= -1e-12).all()


def values(evening):
    (run,) = evening.courses
    return [run.value(frame) for frame in evening.frames]


def test_frames_and_clock_times_are_anchors(card, shoot):
    card(4)
    found = values(shoot("courses: {exposure.stops: {at: {F1: 0, '19:12': 1, F4: 1}}}"))
    assert found == [0, pytest.approx(0.5), 1, 1]


def test_a_clock_time_after_midnight_is_of_the_next_day(card, shoot):
    card(3, start=datetime(2026, 4, 18, 23, 54))
    found = values(shoot("courses: {exposure.stops: {at: {'23:54': 0, '0:06': 2}}}"))
    assert found == [0, pytest.approx(1), 2]


def test_a_frame_without_a_time_has_the_value_of_the_one_before_by_name(card, shoot):
    (card(3) / "F2_broken.dng").write_bytes(b"")
    found = values(shoot("courses: {exposure.stops: {at: {F1: 0, F3: 1}}}"))
    assert found == [0, pytest.approx(0.5), pytest.approx(0.5), 1]


def test_where_no_frame_says_its_time_there_is_no_course(card, shoot):
    card(2, timed=False)
    with pytest.raises(RecipeError, match="needs the time of the frames, and none says it"):
        shoot("courses: {exposure.stops: {at: {F1: 0, F2: 1}}}")


def test_kelvin_runs_in_mired(card, shoot):
    card(3)
    found = values(shoot("courses: {white_balance.kelvin: {at: {F1: 4000, F3: 10000}}}"))
    middle = (kelvin_to_mired(4000) + kelvin_to_mired(10000)) / 2
    assert [kelvin_to_mired(k) for k in found] == pytest.approx([250, middle, 100])


def test_a_hue_runs_the_shorter_way_round(card, shoot):
    card(3)
    found = values(shoot("courses: {split_toning.shadows.hue: {at: {F1: 350, F3: 20}}}"))
    assert found == pytest.approx([350, 5, 20])


def test_it_runs_along_the_light_where_that_is_asked_for(card, shoot):
    card(4)
    evening = shoot("courses: {exposure.stops: {by: light, at: {F1: 0, F4: 1}}}")
    (run,) = evening.courses
    light = {"F1": 2.0, "F2": 0.5, "F3": 1.0, "F4": -1.0}
    found = [run.value(frame, light) for frame in evening.frames]
    assert found == [0, pytest.approx(0.5), pytest.approx(0.259259, abs=1e-6), 1]
    with pytest.raises(RecipeError, match="5:27: exposure.stops: two points are at one and the"):
        run.value(evening.frames[0], light | {"F4": 2.0})
    with pytest.raises(RecipeError, match="the light of frame F4 could not be measured"):
        run.value(evening.frames[0], {"F1": 2.0})


def test_a_local_adjustment_of_the_look_can_run(card, shoot):
    card(2)
    evening = shoot(
        "courses: {local.sky.exposure.stops: {at: {F1: -1, F2: 0}}}", looks="[harbour-dusk]"
    )
    assert evening.courses[0].path == ("local", "sky", "exposure", "stops")
