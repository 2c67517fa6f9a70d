"""What a plan settles before the tiles run."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene, two_matrix_camera
from grading import kernels
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.engine.steps import common_start
from grading.frame import Noise
from grading.region import Region

TOP = {"gradient": {"full": [0.5, 0.0], "none": [0.5, 0.5]}}


def planned(planes, camera=None, **keys):
    original = frame(planes, camera)
    return make_plan(resolve(recipe(**keys), original), original)


def graded(planes, **keys):
    plan = planned(planes, **keys)
    return taken_through(plan, plan.frame)


def test_steps_that_change_nothing_are_left_out():
    plan = planned(scene(20, 30))
    assert [step.stage.name for step in plan.steps] == ["tone_curve"]


def test_a_local_step_follows_its_own_stage():
    plan = planned(
        scene(20, 30),
        exposure={"stops": 1},
        levels={"white": 3.0},
        local={
            "sky": {
                "where": TOP,
                "exposure": {"stops": -1},
                "hues": {"w": {"centre": 9, "shift": 5}},
            }
        },
    )
    steps = [(step.stage.name, step.where is not None) for step in plan.steps]
    assert steps == [
        ("exposure", False),
        ("exposure", True),
        ("levels", False),
        ("tone_curve", False),
        ("hues", True),
    ]


def test_local_adjustments_act_in_the_order_in_which_they_are_stated():
    local = {
        name: {"where": TOP, "exposure": {"stops": stops}} for name, stops in (("b", 1), ("a", 2))
    }
    plan = planned(scene(20, 30), local=local)
    np.testing.assert_array_equal([s.constants for s in plan.steps if s.where is not None], [2, 4])


def test_a_resolved_recipe_states_its_light_in_numbers():
    camera = two_matrix_camera()
    original = frame(scene(20, 30), camera)
    light = resolve(recipe(), original).stages["white_balance"]
    assert light.kelvin > 2000 and abs(light.duv) < 0.05
    assert light.as_shot is None and light.neutral is None


def test_resolving_twice_changes_nothing():
    """A sidecar's resolved recipe makes the same picture again."""
    original = frame(scene(20, 30), two_matrix_camera())
    once = resolve(recipe(white_balance={"shift": 20}, exposure={"stops": 1}), original)
    again = resolve(once, original)
    assert dict(again.stages) == dict(once.stages)


def test_a_local_adjustment_is_a_blend():
    """(1 - w) x + w f(x), in the light of the stage."""
    planes = scene(30, 40)
    plan = planned(planes, local={"sky": {"where": TOP, "exposure": {"stops": 1.5}}})
    adjustment, tone = plan.steps
    weight = adjustment.mask(plan.frame, None).astype(np.float64)
    light = planes.astype(np.float64)
    mixed = ((1 - weight) * light + weight * light * 2**1.5).astype(np.float32)
    exact = tone.stage.apply(mixed, tone.constants)
    np.testing.assert_allclose(taken_through(plan, plan.frame), exact, atol=2e-5)


@pytest.mark.parametrize(
    "stages",
    [
        {"exposure": {"stops": 1.0}},
        {"white_balance": {"shift": 40}},
        {"levels": {"black": -6.0}},
        {"split_toning": {"shadows": {"hue": 250, "chroma": 0.05}}},
        {"hues": {"w": {"centre": "all", "shift": 30}}},
        {"lift": {"shadows": 2.0}},
    ],
    ids=lambda stages: next(iter(stages)),
)
def test_everywhere_local_is_the_whole_frame(stages):
    planes = np.abs(scene(30, 40))
    everywhere = {"gradient": {"full": [0.5, -0.2], "none": [0.5, -1.0]}}
    local = graded(planes, local={"all": {"where": everywhere, **stages}})
    np.testing.assert_allclose(local, graded(planes, **stages), atol=3e-5)


def test_where_a_mask_is_nothing_the_step_is_passed_over():
    """A tile without weight gets the bits that it has without the adjustment."""
    planes = scene(40, 40)
    plan = planned(planes, local={"sky": {"where": TOP, "exposure": {"stops": 3.0}}})
    below = Region(25, 40, 0, 40)
    plain = taken_through(planned(planes), below)
    np.testing.assert_array_equal(taken_through(plan, below), plain)


def test_a_step_with_a_zero_weight_pixel_beside_others_leaves_its_bits():
    planes = scene(40, 40)
    plan = planned(planes, local={"sky": {"where": TOP, "exposure": {"stops": 3.0}}})
    plain = taken_through(planned(planes), plan.frame)
    np.testing.assert_array_equal(taken_through(plan, plan.frame)[:, 25:], plain[:, 25:])


@pytest.mark.parametrize(("size", "factor"), [(1024, 1), (1025, 2), (2048, 2), (4097, 8)])
def test_guides_are_made_at_a_size_that_is_bounded(size, factor, monkeypatch):
    seen, make = [], kernels.grid.bilateral_grid
    monkeypatch.setattr(kernels.grid, "bilateral_grid", lambda *a: seen.append(a[0]) or make(*a))
    for shape in ((8, size), (size, 8)):
        plan = planned(np.full((3, *shape), 0.01), lift={"shadows": 1.0})
        assert plan.factor == factor
        reduced = seen.pop()
        assert reduced.shape == (3, *(-(-edge // factor) for edge in shape))
        assert max(reduced.shape) <= 1024


def test_the_faint_end_of_a_fade_has_its_effect():
    """Where no weight of a tile reaches a half."""
    planes = np.full((3, 20, 30), 0.2)
    plan = planned(planes, local={"sky": {"where": TOP, "exposure": {"stops": 3.0}}})
    plain, tile = planned(planes), Region(7, 10, 0, 30)
    assert 0 < plan.steps[0].mask(tile, None).max() < 0.3
    assert (taken_through(plan, tile)[0] > taken_through(plain, tile)[0] + 0.005).all()


def test_a_guide_sees_what_the_steps_before_it_have_done():
    """Lift after an exposure of minus three stops lifts as if the scene had been darker."""
    planes = np.abs(scene(30, 40)) + 0.001
    exposed = graded(planes, exposure={"stops": -3}, lift={"shadows": 2.0})
    np.testing.assert_allclose(exposed, graded(planes / 8, lift={"shadows": 2.0}), atol=1e-5)


def test_a_guide_after_a_local_step_sees_its_mask():
    planes = np.full((3, 40, 60), 0.18, np.float32)
    dark_above = {"sky": {"where": TOP, "exposure": {"stops": -6.0}}}
    plain = graded(planes, local=dark_above)[0]
    lifted = graded(planes, local=dark_above, lift={"shadows": 2.0})[0]
    assert lifted[0, 30] > 1.3 * plain[0, 30]
    np.testing.assert_allclose(lifted[35], plain[35], rtol=1e-4)


def test_the_guide_of_a_large_frame_is_that_of_its_block_means():
    planes = np.abs(scene(64, 2048)) + 0.001
    plan = planned(planes, lift={"shadows": 2.0})
    step = next(step for step in plan.steps if step.guide is not None)
    means = planes.reshape(3, 32, 2, 1024, 2).mean(axis=(2, 4), dtype=np.float64)
    exact = step.stage.guide(means.astype(np.float32), step.constants)
    assert plan.factor == 2 and step.guide.low == exact.low
    np.testing.assert_allclose(step.guide.cells, exact.cells, atol=1e-4)


@pytest.mark.parametrize(("luminance", "shared"), [(0.0, 1), (0.5, 0), (1.0, 1)])
def test_a_step_that_looks_ahead_is_shared_where_all_that_follows_is(luminance, shared):
    """Noise is reduced before the exposure; by a share of what is seen, it depends on it."""
    original = frame(np.full((3, 40, 60), 0.1), None, Noise(1e-3, 1e-5))
    denoise = {"luminance": luminance, "colour": 0.5}

    def plan(stops):
        keys = {"denoise": denoise, "exposure": {"stops": stops}, "lift": {"shadows": 1.0}}
        return make_plan(resolve(recipe(**keys), original), original)

    assert len(common_start([plan(1.0), plan(2.0)])[0].steps) == shared
    assert len(common_start([plan(1.0), plan(1.0)])[0].steps) == 4
