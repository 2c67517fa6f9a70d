"""Two looks of a frame, with differences that are known."""

import json

import colour
import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene
from grading.pages.comparing import as_document, as_numbers, compare_looks, explain, in_short


def greys():
    """Eight bands of grey, which the identity recipe shows as they are."""
    light = np.repeat(0.03 * 1.3 ** np.arange(8), 8)
    return np.broadcast_to(light, (3, 32, 64)).astype(np.float32)


def lab_of_grey(light):
    return colour.XYZ_to_Lab(light[:, None] * np.array([0.950456, 1, 1.089058]), (0.3127, 0.3290))


def test_a_stop_more_light_on_greys():
    compared = compare_looks(frame(greys()), recipe(), recipe(exposure={"stops": 1}))
    light = 0.03 * 1.3 ** np.arange(8)
    expected = colour.delta_E(lab_of_grey(light), lab_of_grey(2 * light), method="CIE 2000")
    measured = compared.comparison
    assert measured.mean == pytest.approx(expected.mean(), abs=0.02)
    assert measured.largest == pytest.approx(expected.max(), abs=0.05)
    # Oklab lightness is the cube root of a grey's light (B. Ottosson, 2020; CSS Color 4)
    shift = (np.cbrt(2 * light) - np.cbrt(light)).mean()
    assert measured.whole.lightness == pytest.approx(shift, abs=1e-3)
    assert measured.families == {}
    assert not compared.same


def test_the_same_look_twice():
    look = recipe(exposure={"stops": 0.3}, hues={"all": {"centre": "all", "saturation": 0.2}})
    compared = compare_looks(frame(scene(40, 60)), look, look)
    assert compared.same
    assert compared.comparison.largest == 0
    assert compared.explained == []
    assert in_short(compared).endswith("the same in every pixel")


def test_different_recipes_may_give_the_same_picture():
    reds = recipe(hues={"reds": {"centre": 20, "saturation": 0.5}})
    compared = compare_looks(frame(np.full((3, 16, 16), 0.2, np.float32)), recipe(), reds)
    assert compared.same
    assert [each.share for each in compared.explained] == [0.0]


def test_one_change_explains_all():
    shot = frame(scene(40, 60))
    (only,) = explain(shot, shot, recipe(), recipe(exposure={"stops": 0.7}))
    assert only.difference.name == "exposure.stops"
    assert only.share == pytest.approx(1, abs=1e-12)


def test_the_change_that_does_the_work_comes_first():
    goal = recipe(
        hues={"blues": {"centre": 250, "saturation": 0.5}},
        exposure={"stops": 1.0},
        tone_curve={"contrast": 1.02},
    )
    greyscale = frame(greys())
    most, *rest = explain(greyscale, greyscale, recipe(), goal)
    assert most.difference.name == "exposure.stops"
    assert most.share > 0.9
    shares = {each.difference.name: each.share for each in rest}
    assert shares["hues.blues"] == pytest.approx(0, abs=1e-9)  # greys have no hue
    assert shares["tone_curve.contrast"] < 0.1


def test_a_change_that_leads_away_is_below_zero():
    goal = recipe(exposure={"stops": 1.0}, levels={"white": 2.0})
    down = recipe(exposure={"stops": -0.2}, levels={"white": 2.0})
    greyscale = frame(greys())
    assert explain(greyscale, greyscale, recipe(), down)[-1].share < 0
    assert all(each.share > 0 for each in explain(greyscale, greyscale, recipe(), goal))


def test_pictures_keep_to_the_size_asked_for():
    compared = compare_looks(frame(scene(40, 64)), recipe(), recipe(exposure={"stops": 1}), 32)
    assert [picture.array.shape for picture in compared.pictures] == [(20, 32, 3)] * 2
    assert compared.comparison.delta_e.shape == (40, 64)


def key_paths(value, path=""):
    if not isinstance(value, dict):
        return {path}
    return {each for key, below in value.items() for each in key_paths(below, f"{path}.{key}")}


def test_the_numbers_keep_their_names():
    first, second = recipe(), recipe(exposure={"stops": 1})
    numbers = as_numbers(compare_looks(frame(greys()), first, second))
    document = json.loads(json.dumps(as_document(first, second, [numbers])))
    assert list(document) == ["diff", "first", "second", "same", "changes", "frames"]
    assert document["diff"] == 1
    assert document["same"] is False
    assert document["changes"] == [
        {"change": "exposure.stops", "values": ["exposure.stops: 0 -> 1 stops (+1)"]}
    ]
    (numbers,) = document["frames"]
    shifts = [f".{key}" for key in ("share", "lightness", "chroma", "hue")]
    ends = [f".{end}.{c}" for end in ("black", "white") for c in ("red", "green", "blue")]
    assert key_paths(numbers) == {
        *(f".{key}" for key in ("original", "same", "size", "measured_size", "explained")),
        *(f".delta_e_2000.{key}" for key in ("mean", "median", "below_for_95_percent", "largest")),
        *(f".delta_e_2000.share_over.{limit}" for limit in "125"),
        *(f".shift.whole{key}" for key in shifts),
        *(f".shift.tones.{tone}{key}" for tone in ("dark", "middle") for key in shifts),
        *(f".clipping.{look}{end}" for look in ("first", "second") for end in (*ends, ".outside")),
    }
    assert numbers["shift"]["hue_families"] == {}  # greys have none
    (explained,) = numbers["explained"]
    assert list(explained) == ["change", "values", "share"]


def test_looks_that_frame_otherwise_are_compared_as_the_first_frames():
    turned = {"framing": {"straighten": 3.0}}
    first, second = recipe(), recipe(exposure={"stops": 1}, **turned)
    compared = compare_looks(frame(scene(40, 60)), first, second)
    plain = compare_looks(frame(scene(40, 60)), first, recipe(exposure={"stops": 1}))
    assert compared.reframed and not plain.reframed
    assert compared.comparison.mean == plain.comparison.mean
    assert "; framed otherwise, and compared as the first look frames" in in_short(compared)
    only_turned = compare_looks(frame(scene(40, 60)), first, recipe(**turned))
    assert not only_turned.same and only_turned.comparison.largest == 0
