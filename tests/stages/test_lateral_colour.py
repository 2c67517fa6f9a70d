"""Lateral colour: colours meet again, lamps get no rings, and reduced sizes follow."""

from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import frame, recipe, signal
from grading.engine import plan as engine_plan
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.frame import Frame
from grading.lens.optics import MAP_SIDE, Optics, Warp
from grading.region import Region
from grading.signal import Signal
from grading.stages.lateral_colour import STAGE, reach
from grading.stages.lens import Lens

ALONE = [{"numbers": {"red": {"radial": [1.05]}}}, {"numbers": {"blue": {"radial": [0.95]}}}]

HEIGHT, WIDTH = 240, 360
RED = {"centre": [0.49, 0.52], "unit": 0.6, "radial": [1.0008, 0, 0.006, -0.002]}
BLUE = {"centre": [0.49, 0.52], "unit": 0.6, "radial": [0.999, 0.001, -0.004],
        "tangential": [0.0006, -0.0004]}  # fmt: skip
NUMBERS = {"numbers": {"red": RED, "blue": BLUE}}


def warp(numbers):
    return Warp(
        tuple(numbers["centre"]), numbers["unit"], tuple(numbers["radial"]),
        tuple(numbers.get("tangential", (0, 0))),
    )  # fmt: skip


def places(height=HEIGHT, width=WIDTH):
    y, x = np.mgrid[0:height, 0:width] + 0.5
    return x, y


def smooth(x, y):
    """A picture without end, all of whose detail is coarser than four pixels."""
    return 0.4 + 0.2 * np.sin(x / 3 + 0.4 * np.sin(y / 7)) + 0.15 * np.cos(y / 4 - x / 9)


def before(x, y, numbers):
    """Where in the scene that is which a lens recorded at (x, y)."""
    u, v = x.copy(), y.copy()
    for _ in range(20):
        there = warp(numbers).to_frame(u, v, WIDTH, HEIGHT)
        u, v = u + x - there[0], v + y - there[1]
    return u, v


def recorded():
    """The picture as such a lens records it."""
    x, y = places()
    planes = smooth(*before(x, y, RED)), smooth(x, y), smooth(*before(x, y, BLUE))
    return np.stack(planes).astype(np.float32)


def constants(values, height=HEIGHT, width=WIDTH, optics=None):
    about = signal(width, height)
    about = Signal(type(about.facts)(**vars(about.facts) | {"optics": optics}), about.state)
    return STAGE.prepare(Lens.model_validate(values), about)


def applied(light, values=NUMBERS):
    whole = Region.whole(*light.shape[1:])
    return STAGE.apply(light, constants(values), whole, whole)


def shift_left(plane, truth):
    """What is left of a shift, in pixels, across and down, by least squares on the slopes."""
    inner = np.s_[12:-12, 12:-12]
    slopes = np.stack([np.gradient(truth, axis=axis)[inner].ravel() for axis in (1, 0)], 1)
    return np.linalg.lstsq(slopes, (truth - plane)[inner].ravel(), rcond=None)[0]


def test_colours_meet_within_a_tenth_of_a_pixel_everywhere():
    out, truth = applied(recorded()), smooth(*places())
    corners = [np.s_[y : y + 80, x : x + 90] for y in (0, 160) for x in (0, 90, 270)]
    for channel in (0, 2):
        worst = max(np.abs(shift_left(out[channel][c], truth[c])).max() for c in corners)
        before = max(np.abs(shift_left(recorded()[channel][c], truth[c])).max() for c in corners)
        assert worst < 0.02 and before > 0.4
    np.testing.assert_array_equal(out[1], recorded()[1])


def test_detail_is_kept():
    """Of a wave of four pixels, none of whose peaks is in the middle of a pixel."""
    x, _ = places()
    wave = 1 + 0.3 * np.sin(np.pi / 2 * x)
    light = np.stack([wave, wave, wave]).astype(np.float32)
    out = applied(light, {"numbers": {"red": {"unit": 20, "radial": [1.0], "tangential": [0, 0]},
                                      "blue": BLUE}})  # fmt: skip
    np.testing.assert_array_equal(out[0], light[0])
    assert 0.97 * np.std(wave) < np.std(out[2]) < 1.03 * np.std(wave)


def test_a_lamp_gets_no_ring():
    light = np.full((3, HEIGHT, WIDTH), 0.01, np.float32)
    light[:, 30:36, 40:47] = 40.0
    out = applied(light)
    assert out.min() > 0.0076 and out.max() < 40.1


def test_a_share_moves_by_that_share():
    x, _ = places()
    light = np.broadcast_to(x, (3, HEIGHT, WIDTH)).astype(np.float32)
    moved = applied(light) - light
    half = applied(light, NUMBERS | {"lateral_colour": 0.5}) - light
    inner = np.s_[0, 10:-10, 10:-10]
    np.testing.assert_allclose(half[inner], moved[inner] / 2, atol=0.01)
    assert constants(NUMBERS | {"lateral_colour": 0.0}) is None


def test_what_is_too_small_to_see_is_left_alone():
    assert constants(NUMBERS, 4, 6) is None
    assert constants({"numbers": {"red": {"radial": [1.00001]}}}) is None


@pytest.mark.parametrize("tile", [(1, 9), (60, 128), (100, 131)])
def test_tiles_change_no_bit(tile):
    prepared, light = constants(NUMBERS), recorded()
    whole = Region.whole(HEIGHT, WIDTH)
    expected = STAGE.apply(light, prepared, whole, whole)
    for part in whole.tiles(*tile):
        about = part.grown(reach(prepared), whole)
        out = STAGE.apply(about.cut(light, whole), prepared, about, part)
        np.testing.assert_array_equal(out, part.cut(expected, whole))


def test_what_maps_say_of_red_and_blue_alone_is_done_here():
    gains = np.ones((3, MAP_SIDE, MAP_SIDE), np.float32) * np.float32([3, 2, 1])[:, None, None]
    prepared = constants({"numbers": {"gains": True}}, optics=Optics(gains=gains))
    assert reach(prepared) == 0
    ones, whole = np.ones((3, HEIGHT, WIDTH), np.float32), Region.whole(HEIGHT, WIDTH)
    out = STAGE.apply(ones, prepared, whole, whole)
    np.testing.assert_allclose(out[:, 5, 5], [1.5, 1, 0.5])


def planned(local=None, optics=None, **keys):
    original = frame(recorded())
    original = Frame(replace(original.facts, optics=optics), original.pixels)
    return make_plan(resolve(recipe(**keys, local=local or {}), original), original)


def test_white_balance_needs_no_pass_of_its_own(monkeypatch):
    keys = {"lens": NUMBERS, "white_balance": {"kelvin": 4500.0}}
    together = planned(**keys)
    monkeypatch.setattr(engine_plan, "_with_mixing", lambda step, after: None)
    apart = planned(**keys)
    names = [[step.stage.name for step in plan.steps] for plan in (together, apart)]
    assert names[1][:2] == ["lateral_colour", "white_balance"]
    assert names[0] == names[1][:1] + names[1][2:]
    found, expected = (taken_through(plan, plan.frame) for plan in (together, apart))
    np.testing.assert_array_equal(found, expected)


def test_white_balance_keeps_its_pass_after_maps_of_gains():
    maps = np.ones((3, MAP_SIDE, MAP_SIDE))
    maps[0] = 1.2
    plan = planned(
        lens={}, white_balance={"kelvin": 4500.0}, optics=Optics(red=warp(RED), gains=maps)
    )
    assert [step.stage.name for step in plan.steps][:2] == ["lateral_colour", "white_balance"]


def test_only_one_matrix_is_carried_out_with_lateral_colour():
    matrix = np.diag([1.5, 1.0, 0.5]).astype(np.float32)
    mixing = STAGE.mixed(constants(NUMBERS), matrix)
    np.testing.assert_array_equal(mixing.matrix, matrix)
    assert STAGE.mixed(mixing, matrix) is None
