"""What is done about the levels that were found: how much stays, what the rest meets, remarks."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from grading.colour.camera import xy_to_neutral
from grading.colour.white import kelvin_duv_to_xy, kelvin_to_mired, mired_to_kelvin
from grading.evening.captured import Captured
from grading.evening.level.corrections import level_frames
from grading.evening.level.pairs import Ratio, find_pairs, read_ratios
from grading.evening.level.small import Small
from grading.evening.model import Level
from grading.frame import Calibration, Camera, Capture

CAMERA = Camera((Calibration(6504.0, np.array([[0.9, -0.2, -0.05], [-0.4, 1.25, 0.15],
                                               [-0.05, 0.2, 0.55]])),), np.ones(3))  # fmt: skip
COUNT = 15
LIGHT = -0.4 * np.arange(COUNT)
DIALS = np.round((-LIGHT + np.tile([0.5, -0.6, 0.2], 5)) * 3) / 3
MIRED = np.linspace(185, 120, COUNT)
JUMPS = np.tile([9.0, -9.0, 6.0, -6.0, 0.0], 3)


def neutral(mired):
    seen = xy_to_neutral(CAMERA, kelvin_duv_to_xy(mired_to_kelvin(mired), 0.002))
    return seen / seen[1]


def frame(number, over=0.0, under=0.0, dials=True):
    capture = Capture(time=f"2026-04-18T19:{2 * number:02}:00")
    captured = Captured(Path(f"F{number}.dng"), f"F{number}", number + 1, capture)
    light = np.full((3, 40, 60), 0.1 * 2 ** (LIGHT[number] + DIALS[number]), np.float32)
    return Small(captured, light, np.ones((40, 60), bool), neutral(MIRED[number] + JUMPS[number]),
                 CAMERA, -DIALS[number] if dials else None, over, under)  # fmt: skip


def ratios():
    level, whites = LIGHT + DIALS, np.log2([neutral(mired) for mired in MIRED])
    rows = np.column_stack([level, whites[:, 0], whites[:, 2]])
    pairs = [(i, i + step) for step in (1, 2, 4) for i in range(COUNT - step)]
    return [Ratio(i, j, rows[i] - rows[j], np.full(3, 0.02)) for i, j in pairs]


def levelled(frames=None, reference=None, **keys):
    frames = frames or [frame(n) for n in range(COUNT)]
    return level_frames([(frames, ratios())], {}, Level(**keys), reference)


def outcome(found):
    """Stops of each frame once its correction is laid on."""
    return LIGHT + DIALS + np.array([each.stops for each in found])


def mired_of(found):
    return kelvin_to_mired(np.array([each.kelvin for each in found]))


@pytest.mark.parametrize("kept", [0, 0.3, 1])
def test_so_much_of_the_fall_stays(kept):
    fall = outcome(levelled(keep_fall=kept, limit=9))
    np.testing.assert_allclose(fall - fall[0], kept * (LIGHT - LIGHT[0]), atol=0.03)


def test_half_of_the_unevenness_is_taken_away_where_that_is_asked_for():
    whole, half = (levelled(keep_fall=0, exposure=share) for share in (1, 0.5))
    expected = [each.stops / 2 for each in whole]
    np.testing.assert_allclose([each.stops for each in half], expected, atol=1e-3)


def test_the_middle_of_the_set_stays_unless_a_frame_is_named():
    assert np.median([each.stops for each in levelled(keep_fall=0.2)]) == pytest.approx(0, abs=1e-3)
    named = levelled(keep_fall=0.2, reference="F3")
    assert named[3].stops == 0
    assert mired_of(named)[3] == pytest.approx(MIRED[3] + JUMPS[3], abs=0.05)


def test_the_rest_meets_the_white_of_the_reference():
    found = mired_of(levelled(reference="F3", keep_cooling=0))
    np.testing.assert_allclose(found - found[3], MIRED - MIRED[3], atol=0.7)


@pytest.mark.parametrize("kept", [0, 0.4, 1])
def test_so_much_of_the_cooling_stays(kept):
    """A white that follows the light wholly leaves none of it to be seen."""
    found = mired_of(levelled(keep_cooling=kept))
    np.testing.assert_allclose(found - found[0], (1 - kept) * (MIRED - MIRED[0]), atol=0.7)


def test_the_cameras_own_white_stays_where_none_is_levelled():
    found = levelled(white=0)
    np.testing.assert_allclose(mired_of(found), MIRED + JUMPS, atol=0.05)
    assert [each.kelvin for each in found] == [each.as_shot for each in found]


def test_a_frame_past_the_limit_is_corrected_by_it_and_reported():
    wide = levelled(keep_fall=0)
    found = levelled(keep_fall=0, limit=0.45)
    assert max(abs(each.stops) for each in found) == 0.45
    for free, held in zip(wide, found, strict=True):
        beyond = abs(free.stops) > 0.45
        assert any("corrected by the limit" in remark for remark in held.remarks) == beyond
        assert beyond or held.stops == free.stops


def test_remarks():
    frames = [frame(n) for n in range(COUNT)]
    frames[2], frames[5] = frame(2, over=0.3), frame(5, under=0.7)
    frames[7] = frame(7, dials=False)
    found = {each.captured.name: each.remarks for each in levelled(frames) if each.remarks}
    assert found == {
        "F2": ("over-exposed beyond repair: 30 % is clipped",),
        "F5": ("under-exposed beyond repair: 70 % is lost in noise",),
        "F7": ("does not state its settings",),
    }


def test_a_white_that_is_no_light_is_left_as_it_was_shot():
    frames = [frame(n) for n in range(COUNT)]
    frames[4] = replace(frames[4], neutral=np.array([1e-4, 1, 30.0]))
    assert None not in [each.kelvin for each in levelled(frames, reference="F4")][5:]
    found = levelled(frames)
    assert found[4].kelvin is None and found[4].as_shot is None
    assert found[4].stops == pytest.approx(levelled()[4].stops, abs=0.01)
    assert None not in [each.kelvin for n, each in enumerate(found) if n != 4]
    others = [n for n in range(COUNT) if n != 4]
    np.testing.assert_allclose(mired_of([found[n] for n in others]),
                               mired_of([levelled()[n] for n in others]), atol=1)  # fmt: skip


def test_frames_without_any_detail_are_compared_with_nothing():
    """A lens cap, fog, a clear sky: nothing tells how one lies over the other."""
    frames = [frame(n) for n in range(COUNT)]
    found = find_pairs(frames, lambda work: [job() for job in work])
    assert found == [] and read_ratios(frames, found) == []
    alone = level_frames([(frames, [])], {}, Level(keep_fall=0), None)
    assert all("shares no places" in each.remarks[-1] for each in alone)
    assert np.isfinite([each.stops for each in alone]).all()
