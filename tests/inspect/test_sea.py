import numpy as np
import pytest

from grading.inspect.lean import Lean, find_lean, together
from grading.inspect.sea import Horizon, find_horizon
from inspect_frames import noise_at
from sea_frames import HELD_BACK, TUNED, boards, furrows, no_sea, recorded, sea

SMALL = (300, 450)
SCENES = (*TUNED, *HELD_BACK, boards, furrows)


def test_a_sea_horizon_is_within_a_third_of_a_degree_or_not_said():
    off = []
    for seed in range(24):
        stops, at = sea(seed, SMALL)
        if found := find_horizon(*recorded(stops, seed)):
            off.append(found.lean - at.roll)
    assert len(off) >= 5
    assert np.abs(off).max() < 0.3
    assert np.median(np.abs(off)) < 0.1


@pytest.mark.parametrize("scene", SCENES, ids=lambda each: each.__name__)
def test_what_is_no_sea_horizon_says_nothing(scene):
    for seed in range(2):
        assert find_horizon(*recorded(no_sea(scene, seed, SMALL), seed)) is None


@pytest.mark.parametrize("bends", [-0.04, 0.04])
def test_a_lens_that_bends_the_horizon_leaves_its_slope(bends):
    stops, at = sea(20, roll=0.6, row=-90.0, bends=bends)
    found = find_horizon(*recorded(stops, 20))
    assert found.lean == pytest.approx(at.roll, abs=0.1)


def test_the_lean_of_a_frame_is_that_of_its_sea_horizon():
    stops, at = sea(20)
    lean = find_lean(*recorded(stops, 20))
    assert lean.sea and lean.straighten == pytest.approx(at.roll, abs=0.1)


def test_upright_lines_and_the_sea_must_agree():
    upright = Lean(1.0, 0.1, 0.7, 9)
    agreed = together(upright, Horizon(1.1, 0.05, 0.9))
    assert agreed.straighten == pytest.approx(1.08) and agreed.confidence == 0.9
    assert together(upright, Horizon(1.6, 0.05, 0.9)) is None
    assert together(upright, None) is upright
    assert together(None, Horizon(1.6, 0.05, 0.9)) == Lean(1.6, 0.05, 0.9, 0, True)


def test_frames_without_any_step_say_nothing():
    assert find_horizon(np.full((300, 450), 0.2, np.float32), noise_at(100)) is None
    assert find_horizon(np.zeros((300, 450), np.float32), noise_at(100)) is None
    assert find_horizon(np.full((200, 300), 0.2, np.float32), noise_at(100)) is None
