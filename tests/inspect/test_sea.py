import numpy as np
import pytest

from grading.inspect.lean import Lean, find_lean, together
from grading.inspect.sea import Level, find_levels, only_uppermost
from grading.inspect.upright import Upright
from grading.inspect.upright_lines import Line
from inspect_frames import noise_at
from lean_frames.camera import recorded as light_of
from lean_frames.nature import paint_water
from lean_frames.tuned import begun
from sea_frames import HELD_BACK, TUNED, awning, boards, furrows, no_sea, recorded, sea

SMALL = (300, 450)
SCENES = (*TUNED, *HELD_BACK, awning, boards, furrows)


def sea_level(light, noise):
    """The sea horizon of a frame, or None."""
    return next((level for level in find_levels(light, noise) if level.sea), None)


def test_a_sea_horizon_is_within_a_third_of_a_degree_or_not_said():
    off = []
    for seed in range(24):
        stops, at = sea(seed, SMALL)
        if found := sea_level(*recorded(stops, seed)):
            off.append(found.lean - at.roll)
    assert len(off) >= 5
    assert np.abs(off).max() < 0.3
    assert np.median(np.abs(off)) < 0.1


@pytest.mark.parametrize("scene", SCENES, ids=lambda each: each.__name__)
def test_what_is_no_sea_horizon_says_nothing(scene):
    for seed in range(2):
        assert sea_level(*recorded(no_sea(scene, seed, SMALL), seed)) is None


def plain_sea(wind=4.0, **camera):
    """A sea under a clear sky, with its noise, by a camera that is turned by 0.6 degrees or as
    stated."""
    rng = np.random.default_rng(3)
    stated = {"focal": 420.0, "height": 3.0, "roll": 0.6} | camera
    canvas, above = begun(rng, (300, 450), 0, **stated)
    paint_water(canvas, above, rng, wind)
    return light_of(canvas.taken(), 2, 400)


@pytest.mark.parametrize("bends", [-0.04, 0.0, 0.04])
def test_a_lens_that_bends_the_horizon_leaves_its_slope(bends):
    found = sea_level(*plain_sea(row=-70.0, bends=bends))
    assert found.lean == pytest.approx(0.6, abs=0.1)


def test_the_lean_of_a_frame_is_that_of_its_sea_horizon():
    lean = find_lean(*plain_sea(row=-40.0))
    assert lean.sea and lean.straighten == pytest.approx(0.6, abs=0.1)


def test_upright_lines_and_the_sea_must_agree():
    upright = Upright(1.0, 0.1, 0.7, 9)
    agreed = together(upright, [Level(1.1, 0.05, 0.9)])
    assert agreed.straighten == pytest.approx(1.08) and agreed.confidence == 0.9
    assert together(upright, [Level(1.6, 0.05, 0.9)]) is None
    assert together(upright, []) == Lean(1.0, 0.1, 0.7, 9)
    assert together(None, [Level(1.6, 0.05, 0.9)]) == Lean(1.6, 0.05, 0.9, 0, True)


def test_any_other_straight_line_only_contradicts_upright_lines():
    upright, sea = Upright(1.0, 0.1, 0.7, 9), Level(1.1, 0.05, 0.9)
    other, agreeing = sea._replace(lean=1.6, sea=False), sea._replace(sea=False)
    assert together(None, [other]) is None
    assert together(upright, [agreeing, other]) is None
    assert together(upright, [agreeing]) == Lean(1.0, 0.1, 0.7, 9)
    assert together(upright, [sea, other]).straighten == pytest.approx(1.08)


def test_what_is_straight_below_a_horizon_is_no_sea_horizon():
    horizon, deck = Level(1.0, 0.05, 0.9, sea=False), Level(3.0, 0.05, 0.9)
    assert not any(level.sea for level in only_uppermost([horizon, deck]))
    cloud = horizon._replace(horizon=False)
    assert [level.sea for level in only_uppermost([cloud, deck])] == [False, True]


def test_a_line_on_which_walls_stand_is_no_sea_horizon():
    light, noise = plain_sea(row=-40.0)
    walls = [Line(0.0, 0.1, x, x, 120, 180) for x in np.linspace(-0.9, 0.9, 30)]
    assert any(level.sea for level in find_levels(light, noise, walls[:8]))
    assert not any(level.sea for level in find_levels(light, noise, walls))


def test_frames_without_any_step_say_nothing():
    assert find_levels(np.full((300, 450), 0.2, np.float32), noise_at(100)) == []
    assert find_levels(np.zeros((300, 450), np.float32), noise_at(100)) == []
    assert find_levels(np.full((200, 300), 0.2, np.float32), noise_at(100)) == []


def test_a_rolled_horizon_that_a_lens_bends_far_from_the_middle_keeps_its_slope():
    light, noise = plain_sea(row=-120.0, bends=-0.04, roll=5.0)
    assert sea_level(light, noise).lean == pytest.approx(5.0, abs=0.1)


def test_the_horizon_of_a_sea_seen_from_high_up_is_told():
    found = sea_level(*plain_sea(7.0, row=-110.0, height=15.0))
    assert found.lean == pytest.approx(0.6, abs=0.1)
