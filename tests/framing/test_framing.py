"""Framing settled in numbers: lines, keystone, and what is shown without an empty corner."""

import math

import numpy as np
import pytest

from frames_in_memory import frame, recipe
from grading.engine.resolve import resolve
from grading.errors import OriginalError, RecipeError
from grading.framing.framing import Framing, settled, view_of
from grading.framing.lines import leaning
from lens.warps import rectilinear

SIZES = [(600, 400), (400, 600), (500, 500)]
SOME = [
    {"straighten": 2.0},
    {"straighten": -17.0, "aspect": "16:9"},
    {"straighten": 45.0, "size": 0.7, "centre": [0.2, 0.9]},
    {"keystone": {"vertical": 0.2, "horizontal": -0.1}, "straighten": 1.0},
    {"crop": {"left": -0.3, "top": 0.1, "right": 0.6, "bottom": 0.9}, "straighten": 6.0},
    {"crop": {"left": -0.5, "right": 1.5}, "straighten": 6.0},
]


def framed(width, height, warp=None, **keys):
    settled_keys = settled(Framing.model_validate(keys), width, height, warp)
    return settled_keys, view_of(settled_keys, width, height, warp)


def border(view):
    """Places of the frame about the border of a picture, in fractions."""
    way = np.linspace(0, 1, 41)
    places = [(t, e) for t in way for e in (0, 1)] + [(e, t) for t in way for e in (0, 1)]
    return np.array([view.to_frame(*place) for place in places])


WARPS = [None, rectilinear((1.0, -0.06, 0.0, 0.0)), rectilinear((1.0, 0.05, 0.0, 0.0))]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("keys", SOME)
@pytest.mark.parametrize("warp", WARPS)
def test_no_corner_is_empty(size, keys, warp):
    _, view = framed(*size, warp, **keys)
    places = border(view)
    assert places.min() > -1e-6 and places.max() < 1 + 1e-6


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("keys", SOME)
def test_what_is_settled_stays_as_it_is(size, keys):
    once, _ = framed(*size, **keys)
    assert settled(once, *size) == once
    assert once.level is once.parallel is once.aspect is once.centre is once.size is None


def test_the_largest_part_is_shown():
    """For a turn by t, height / (cos t + aspect sin t) where the frame is at least as wide as high
    (plain trigonometry: the corners of the part lie on the long sides)."""
    for degrees in (1.0, 7.0, 30.0):
        _, view = framed(3000, 2000, straighten=degrees)
        t = math.radians(degrees)
        width, height = view.size
        assert height == pytest.approx(2000 / (math.cos(t) + 1.5 * math.sin(t)), abs=2)
        assert width / height == pytest.approx(1.5, rel=2e-3)


def test_nothing_stated_and_nothing_turned_changes_nothing():
    assert framed(600, 400)[0] == Framing()
    assert framed(600, 400, straighten=0.0)[0] == Framing()
    assert framed(600, 400, crop={})[0] == Framing()
    assert framed(600, 400, aspect="3:2")[0] == Framing()


@pytest.mark.parametrize("line", [[[0.1, 0.5], [0.9, 0.53]], [[0.5, 0.1], [0.48, 0.95]]])
def test_a_line_becomes_level_or_upright(line):
    _, view = framed(600, 400, level=line)
    (x1, y1), (x2, y2) = (np.array(view.to_picture(*place)) * view.size for place in line)
    assert min(abs(x1 - x2), abs(y1 - y2)) < 1e-6


LEANING = [[[0.2, 0.9], [0.25, 0.1]], [[0.8, 0.9], [0.76, 0.1]]]
LYING = [[[0.1, 0.2], [0.9, 0.22]], [[0.1, 0.8], [0.9, 0.7]]]


@pytest.mark.parametrize(("lines", "axis"), [(LEANING, 0), (LYING, 1)])
def test_two_lines_become_parallel_and_upright_or_level(lines, axis):
    found, view = framed(600, 400, parallel=lines)
    for line in lines:
        one, two = (view.to_picture(*place) for place in line)
        assert one[axis] == pytest.approx(two[axis], abs=1e-9)
    assert found.keystone is not None


def test_a_stated_turn_stays_beside_parallel_lines():
    found, view = framed(600, 400, parallel=LEANING, straighten=3.0)
    assert found.straighten == 3.0
    slopes = []
    for line in LEANING:
        one, two = (np.array(view.to_picture(*place)) * view.size for place in line)
        slopes.append(leaning(np.array([one, two])))
    assert slopes[0] == pytest.approx(slopes[1], abs=1e-6) and abs(slopes[0]) > 1


def test_a_keystone_alone_is_what_lines_that_lean_ask_for():
    """Uprights whose top edge is 1 - k as wide as they are in the middle ask for k."""
    k = 0.15
    lines = [
        [[0.5 + side * 0.3 * (1 + k), 1.0], [0.5 + side * 0.3 * (1 - k), 0.0]] for side in (-1, 1)
    ]
    found, _ = framed(600, 400, parallel=lines)
    assert found.keystone.vertical == pytest.approx(k)
    assert found.keystone.horizontal == pytest.approx(0, abs=1e-12)
    assert (found.straighten or 0) == pytest.approx(0, abs=1e-9)


def test_a_centre_moves_what_is_shown_as_far_as_it_goes():
    _, view = framed(600, 400, aspect=1.0, centre=[0.05, 0.5])
    assert view.crop == (0, 400, 0, 400)
    _, view = framed(600, 400, size=0.5, centre=[0.4, 0.4])
    assert view.crop == (60, 260, 90, 390)


def test_a_box_is_moved_inwards_before_it_is_made_smaller():
    _, view = framed(600, 400, straighten=5.0, crop={"right": 0.5, "bottom": 0.5})
    assert view.size == pytest.approx((300, 200), abs=1)
    _, view = framed(600, 400, straighten=5.0, crop={"right": 1.0, "bottom": 0.5})
    assert view.size[0] < 600 and view.size[0] / view.size[1] == pytest.approx(3, rel=0.02)


def test_corners_that_are_asked_for_stay():
    found, view = framed(600, 400, straighten=5.0, corners="white")
    assert found.crop is None and view.size == (600, 400) and view.fill == 1.0
    found, view = framed(600, 400, straighten=5.0, corners="black", crop={"left": -0.1})
    assert view.size == (660, 400)


def test_a_smaller_version_of_a_frame_shows_the_same():
    found, view = framed(3000, 2000, straighten=4.0, aspect="5:4", centre=[0.3, 0.6])
    small = view_of(found, 750, 500)
    for corner, other in zip(view.corners, small.corners, strict=True):
        assert corner == pytest.approx(other, abs=2 / 500)


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ({"straighten": 60.0}, "framing.straighten = 60: more than 45; allowed: -45 to 45 degrees"),
        ({"straighten": 1.0, "level": [[0, 0], [1, 0]]}, "state only one of straighten, level"),
        ({"crop": {"left": 0.5, "right": 0.4}}, "right must be greater than left by 0.01 or more"),
        ({"crop": {}, "aspect": 1.0}, "state only one of crop, aspect"),
        ({"aspect": "wide"}, "allowed: 0.01 to 100, or a ratio such as 3:2"),
        ({"level": [[0.5, 0.5], [0.5, 0.5]]}, "the two places of a line must lie apart"),
        ({"level": [[0.5, 0.5]]}, "two lists, each of two numbers [a, b], each 0 to 1"),
    ],
)
def test_what_makes_no_sense_is_refused(keys, message):
    with pytest.raises(RecipeError) as caught:
        recipe(framing=keys)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ([LEANING[0], LYING[0]], "is upright, the other level"),
        ([LEANING[0], LEANING[0]], "one and the same"),
        ([[[0.1, 0.1], [0.9, 0.9]], [[0.1, 0.9], [0.9, 0.1]]], "cross in the middle"),
        ([[[0.1, 0.9], [0.4, 0.1]], [[0.9, 0.9], [0.6, 0.1]]], "a vertical keystone of 0.75"),
    ],
)
def test_lines_that_ask_too_much_are_refused_with_the_frame(lines, message):
    original = frame(np.full((3, 40, 60), 0.3, np.float32))
    with pytest.raises(OriginalError) as caught:
        resolve(recipe(framing={"parallel": lines}), original)
    assert message in str(caught.value) and "in-memory" in str(caught.value)
    assert "state straighten and keystone in numbers" in str(caught.value)


def test_the_sidecar_holds_numbers_that_frame_alike():
    original = frame(np.full((3, 40, 60), 0.3, np.float32))
    look = resolve(recipe(framing={"level": [[0.1, 0.5], [0.9, 0.54]], "aspect": "1:1"}), original)
    again = resolve(recipe(framing=look.as_mapping()["framing"]), original)
    assert set(look.as_mapping()["framing"]) == {"straighten", "crop"}
    assert again.parts["framing"] == look.parts["framing"]
