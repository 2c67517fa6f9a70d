"""Regions of a strip one below the other: the bits of each by itself, and no row made twice."""

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotYet
from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene
from grading.engine import execute
from grading.engine import plan as engine_plan
from grading.engine.descent import Descent, taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.engine.strip import Strip
from grading.frame import Noise
from grading.region import Region
from grading.stages.registry import PIPELINE

HEIGHT, WIDTH = 150, 60
EVERYTHING = {
    "fringes": {"width": 6},
    "denoise": {"luminance": 0.7, "colour": 0.5},
    "deblur": {"amount": 0.5},
    "local_contrast": {"amount": 0.3},
    "lift": {"shadows": 1.0},
    "vignette": {"stops": -0.3},
    "grain": {"deviation": 1.0},
}
LIT = {
    "local": {
        "lights": {
            "where": {"lightness": {"above": 0.6}},
            "exposure": {"stops": -0.5},
            "deblur": {"amount": 0.5},
        }
    }
}
KEYS = {"plain": {}, "everything": EVERYTHING, "lit": LIT, "all of it": EVERYTHING | LIT}


@pytest.fixture(scope="module")
def original():
    return frame(scene(HEIGHT, WIDTH), noise=Noise(1e-3, 1e-5))


def planned(original, **keys):
    return make_plan(resolve(recipe(**keys), original), original)


def down(heights, left=10, right=50):
    """Regions of a strip, from row 12 on."""
    top = 12
    for height in heights:
        yield Region(top, top + height, left, right)
        top += height


@pytest.mark.parametrize("heights", [[20, 20, 20], [1, 2, 3, 5, 8], [100, 38], [3, 90, 1, 44]])
@pytest.mark.parametrize("keys", KEYS.values(), ids=KEYS)
def test_the_bits_are_those_of_each_region_by_itself(keys, heights, original):
    plan = planned(original, **keys)
    descent = Descent(plan)
    for region in down(heights):
        source = descent.source(region)
        found = descent.apply(plan.pixels.read(source), source, region)
        np.testing.assert_array_equal(found, taken_through(plan, region))


@pytest.mark.parametrize("height", [1, 7, 40])
def test_no_row_is_made_twice(height, original, monkeypatch):
    """Whatever the steps after it look at."""
    rows = Counter()

    def counted(stage):
        def apply(pixels, constants, *more):
            out = stage.apply(pixels, constants, *more)
            rows[stage.name] += out.shape[1]
            return out

        return replace(stage, apply=apply)

    monkeypatch.setattr(engine_plan, "PIPELINE", tuple(map(counted, PIPELINE)))
    plan = planned(original, **EVERYTHING)
    rows.clear()  # of what was made for guides
    descent = Descent(plan)
    for region in Region(0, HEIGHT, 10, 50).tiles(height, 40):
        source = descent.source(region)
        rows["read"] += source.shape[0]
        descent.apply(plan.pixels.read(source), source, region)
    assert {"read", *EVERYTHING} <= set(rows)
    assert set(rows.values()) == {HEIGHT}


def test_plans_of_other_reach_take_their_part_of_what_they_share(original):
    shared = {"exposure": {"stops": 0.5}}
    looks = [shared, shared | {"deblur": {"amount": 0.5}}, shared | EVERYTHING, shared | LIT]
    plans = [planned(original, **keys) for keys in looks]
    strip = Strip(plans, Region(20, 140, 10, 50))
    for tile in Region(0, HEIGHT, 10, 50).tiles(16, 40):
        graded, wanted = strip.grade(tile, tile)
        assert wanted.shape[0] == len(set(range(*tile[:2])) & set(range(20, 140)))
        for plan, found in zip(plans, graded, strict=True):
            np.testing.assert_array_equal(found, taken_through(plan, wanted))


@pytest.mark.parametrize("keys", [{}, EVERYTHING])
def test_of_a_tile_only_what_is_wanted_is_graded_unless_rows_are_kept(original, keys):
    plan = planned(original, **keys)
    strip, tile = Strip([plan], Region(0, 90, 0, 48)), Region(0, 16, 0, 48)
    (found,), region = strip.grade(tile, Region(2, 16, 16, 30))
    assert region == (tile if keys else Region(2, 16, 16, 30))
    np.testing.assert_array_equal(found, taken_through(plan, region))
    below, nothing = Region(16, 32, 0, 48), Region(16, 16, 0, 48)
    (found,), region = strip.grade(below, nothing)
    assert region == (below if keys else nothing) and found.shape == (3, *region.shape)
    (found,), _ = strip.grade(Region(32, 48, 0, 48), Region(32, 48, 0, 48))
    assert found.shape == (3, 16, 48)  # it was not waited for in vain


def test_a_tile_waits_for_the_one_above_it(original):
    strip = Strip([planned(original)], Region(0, 90, 0, 40))
    above, below = Region(0, 16, 0, 40), Region(16, 32, 0, 40)
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(strip.grade, below, below)
        with pytest.raises(NotYet):
            waiting.result(timeout=0.1)
        strip.grade(above, above)
        (found,), region = waiting.result(timeout=60)
        assert found.shape == (3, 16, 40) and region == below
        waiting = pool.submit(strip.grade, *[Region(48, 64, 0, 40)] * 2)
        strip.give_up(OSError("the card is gone"))
        with pytest.raises(OSError, match="the card is gone"):
            waiting.result(timeout=60)


@pytest.mark.parametrize(
    ("width", "workers", "strips"),
    [(6000, 2, 6), (6000, 4, 8), (6000, 16, 16), (1600, 2, 2), (1024, 1, 1), (9, 4, 1)],
)
def test_threads_have_as_many_strips_one_as_the_other(width, workers, strips):
    columns = execute._columns_of_a_tile(Region.whole(100, width), workers)
    assert -(-width // columns) == strips
    assert columns % 16 == 0 and columns <= execute.TILE[1]
