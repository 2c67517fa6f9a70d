"""Spots in a recipe: seen by every stage, size and reader of a frame."""

import numpy as np

from frames_in_memory import frame, recipe
from grading.engine.execute import render, render_each
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.stages.spots import note_of_left

EXAMPLE = {"places": [{"at": [0.5, 0.5], "radius": 0.05}]}

SPOTS = {"places": [{"at": [0.3, 0.4], "radius": 0.03}]}
PLAIN = {"lift": {"shadows": 1.0}}


def wall(dust):
    """A grey wall, with a dark spot or without."""
    light = np.full((3, 160, 240), 0.2)
    y, x = np.mgrid[0:160, 0:240] + 0.5
    light[:, np.hypot(x - 72, y - 64) < 5] *= 1 - dust
    return frame(light)


def test_a_mended_frame_is_as_one_without_dust_guides_included():
    clean = render(wall(0), recipe(**PLAIN)).array
    mended = render(wall(0.6), recipe(**PLAIN, spots=SPOTS)).array
    assert np.ptp(render(wall(0.6), recipe(**PLAIN)).array.astype(int)) > 20
    assert np.abs(mended.astype(int) - clean).max() <= 1


def test_a_preview_is_mended_too():
    original = wall(0.6)
    look = resolve(recipe(**PLAIN, spots=SPOTS), original)
    assert np.ptp(render(preview(original, 120), look).array.astype(int)) <= 2


def test_recipes_with_other_spots_are_graded_apart():
    original = wall(0.6)
    several = [recipe(**PLAIN), recipe(**PLAIN, spots=SPOTS), recipe(**PLAIN)]
    for picture, look in zip(render_each(original, several), several, strict=True):
        np.testing.assert_array_equal(picture.array, render(original, look).array)


def test_no_spots_cost_nothing():
    from grading.engine.plan import make_plan

    original = wall(0)
    assert make_plan(resolve(recipe(), original), original).pixels is original.pixels


def test_where_spots_cannot_be_mended_is_said():
    y, x = np.mgrid[0:220, 0:320]
    spire = np.where(np.abs(x - 90) < (y - 60) / 3, 0.02, 0.5)
    spots = {"places": [{"at": [0.28, 0.37], "radius": 0.028}, {"at": [0.8, 0.3], "radius": 0.028}]}
    picture = render(frame(np.broadcast_to(spire, (3, 220, 320))), recipe(spots=spots))
    assert picture.spots_left == [[0.28, 0.37]]
    (said,) = note_of_left(picture.spots_left)
    assert "[0.28, 0.37]" in said and "state another radius" in said
    assert note_of_left(render(wall(0.6), recipe(spots=SPOTS)).spots_left) == []
