import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from grading.inspect.likeness import likeness, small_picture
from grading.inspect.measure import measure
from grading.inspect.series import find_series
from inspect_frames import moved, shot, town
from truth.textures import TUNED


def taken(light, seed, seconds, **settings):
    return measure(shot(light, seed, seconds=seconds, **settings))


def series_of(frames, rejected=None):
    return find_series(frames, rejected or [False] * len(frames))


def test_frames_of_a_moment_are_a_burst_and_the_sharpest_is_told():
    light = town(1)
    frames = [
        taken(gaussian_filter(moved(light, 2 * n, 3 * n), blur), n, n, iso=1600)
        for n, blur in enumerate((1.2, 0.5, 0.9))
    ]
    assert [(s.kind, s.frames, s.best) for s in series_of(frames)] == [("burst", (0, 1, 2), 1)]


def test_a_reject_is_not_the_best():
    frames = [taken(gaussian_filter(town(1), b), n, n) for n, b in enumerate((0.1, 1.0))]
    assert series_of(frames, [True, False])[0].best == 1


def test_other_scenes_and_other_moments_are_no_burst():
    scenes = [town(1), TUNED["foliage 1.5-8 px"](480, np.random.default_rng(1)), town(1)]
    assert series_of([taken(light, n, n) for n, light in enumerate(scenes)]) == []
    far = [taken(town(1), n, 300.0 * n) for n in range(2)]
    assert series_of(far) == []


def test_what_looks_alike_later_is_near_duplicates():
    frames = [taken(town(1), n, 30.0 * n) for n in range(3)]
    assert [s.kind for s in series_of(frames)] == ["near-duplicates"]


def test_even_steps_of_exposure_are_a_bracket_which_is_kept_whole():
    frames = [taken(town(1), n, n, stops=s) for n, s in enumerate((0, -1, 1))]
    assert [(s.kind, s.best) for s in series_of(frames)] == [("exposure bracket", None)]


def test_settings_that_wander_are_no_bracket():
    frames = [taken(town(1), n, n, stops=s) for n, s in enumerate((0, 0.1, 0.5))]
    assert [s.kind for s in series_of(frames)] == ["burst"]


def test_focus_that_wanders_over_the_frame_is_a_bracket_of_focus():
    light = town(1)
    soft = gaussian_filter(light, 2.5)
    near, far = light.copy(), light.copy()
    near[:230], far[230:] = soft[:230], soft[230:]
    frames = [taken(near, 1, 0), taken(far, 2, 1)]
    assert [(s.kind, s.best) for s in series_of(frames)] == [("focus bracket", None)]


def test_frames_without_a_time_are_in_no_series():
    frames = [taken(town(1), n, n, time=None) for n in range(2)]
    assert series_of(frames) == []


@pytest.mark.parametrize("seed", range(5))
def test_likeness_tells_the_same_scene_moved_and_darker_from_another(seed):
    light = town(seed)
    own = small_picture(light)
    assert likeness(own, small_picture(0.2 * moved(light, 9, -14))) > 0.85
    assert likeness(own, small_picture(town(seed + 50))) < 0.75
    assert likeness(own, own) == pytest.approx(1, abs=1e-5)


def test_frames_without_detail_are_like_nothing():
    flat = small_picture(np.full((100, 100), 0.2))
    assert likeness(flat, flat) == 0
