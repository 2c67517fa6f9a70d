"""Leans of photographs of many kinds; `tests/benchmarks/horizon.py` says more of each kind."""

import numpy as np
import pytest

from grading.inspect.lean import find_lean
from grading.inspect.measure import measure
from lean_frames import EVERY, OTHERS, SEAS, drawn, shaken
from lean_frames.tuned_sixth import leaning_tower, railway, rain_town, superstructure, window_view

SMALL = (244, 366)


def errors(scenes, seeds, size=None):
    """Errors in degrees of the leans that are told, and the number of frames."""
    off = []
    for scene in scenes:
        for seed in seeds:
            light, noise, roll = drawn(scene, seed, size)
            if lean := find_lean(light, noise):
                off.append(lean.straighten - roll)
    return np.abs(off), len(scenes) * len(seeds)


def test_the_lean_of_many_open_seas_is_told_and_right():
    off, frames = errors(SEAS, range(2), SMALL)
    assert off.size >= frames / 3
    assert off.max() < 0.3


def test_what_is_no_open_sea_is_told_rightly_or_not_at_all():
    off, _ = errors(OTHERS, [0], SMALL)
    assert off.size >= 4
    assert off.max() < 0.5


@pytest.mark.parametrize(("scene", "seed"), [
    (rain_town, 1000), (superstructure, 1018), (window_view, 2006), (window_view, 2015),
    (railway, 3019), (leaning_tower, 3005),
])  # fmt: skip
def test_what_leans_all_alike_is_not_believed(scene, seed):
    off, _ = errors([scene], [seed])
    assert (off < 0.3).all()


@pytest.mark.slow
@pytest.mark.parametrize("scene", EVERY, ids=lambda each: each.__name__)
def test_no_kind_of_frame_is_told_wrongly(scene):
    off, frames = errors([scene], range(100, 110))
    assert (off < 1).all()
    if scene in SEAS:
        assert off.size >= 0.2 * frames


@pytest.mark.slow
def test_frames_that_were_shaken_are_told_rightly_or_not_at_all():
    for scene in EVERY:
        for seed in range(2):
            frame, roll, _ = shaken(scene, seed)
            if lean := measure(frame).lean:
                assert lean.straighten == pytest.approx(roll, abs=1)
