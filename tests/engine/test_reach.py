"""Stages that look about themselves: the same bits under any tiling, also beside others."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene
from grading.engine import execute
from grading.engine import plan as engine_plan
from grading.engine.execute import render, render_each
from grading.engine.output import Output
from grading.engine.resolve import resolve
from grading.stages.registry import STAGES
from grading.stages.stage import Model, Stage, parameter


class Soften(Model):
    radius: int = parameter(0, "Pixels.", minimum=0, maximum=8)


def softened(light, radius):
    """Mean over a square, of what there is at the borders."""
    padded = np.pad(light.astype(np.float64), ((0, 0), (radius, radius), (radius, radius)),
                    constant_values=np.nan)  # fmt: skip
    square = (2 * radius + 1,) * 2
    windows = np.lib.stride_tricks.sliding_window_view(padded, square, axis=(1, 2))
    return np.ascontiguousarray(np.nanmean(windows, axis=(3, 4)), np.float32)


def soften(name):
    return Stage(
        name, ("scene",), "scene", Soften,
        prepare=lambda parameters, signal: parameters.radius // signal.scale or None,
        apply=lambda light, radius, here, there: there.cut(softened(light, radius), here),
        reach=lambda radius: radius, local=True,
    )  # fmt: skip


@pytest.fixture
def soft(monkeypatch):
    """The pipeline with a softening after the exposure and another after the lift."""
    first, second = soften("first"), soften("second")
    order = {stage.name: stage for stage in STAGES}
    stages = [order["white_balance"], order["exposure"], first, order["lift"], second]
    stages += [stage for stage in STAGES if stage not in stages]
    monkeypatch.setattr(engine_plan, "PIPELINE", tuple(stages))

    def make(radius, more, **keys):
        look = recipe(**keys)
        own = {"first": Soften(radius=radius), "second": Soften(radius=more)}
        local = {
            name: type(each)(each.where, {**each.stages, "first": Soften(), "second": own["first"]})
            for name, each in look.local.items()
        }
        return type(look)(**{**vars(look), "parts": {**look.parts, **own}, "local": local})

    return make


KEYS = {
    "exposure": {"stops": 0.5},
    "lift": {"shadows": 1.5},
    "local": {
        "sky": {
            "where": {"gradient": {"full": [0.6, 0.0], "none": [0.4, 0.7]}},
            "exposure": {"stops": -0.7},
        }
    },
}


@pytest.mark.parametrize("shape", [(7, 13), (64, 64), (1, 90), (20, 50)])
@pytest.mark.parametrize("output", [Output(), Output("tiff", long_edge=37)], ids=["full", "small"])
def test_tiles_do_not_show(soft, shape, output, monkeypatch):
    original, look = frame(scene(70, 90)), soft(3, 2, **KEYS)
    whole = render(original, look, output, workers=1)
    monkeypatch.setattr(execute, "TILE", shape)
    tiled = render(original, look, output, workers=2)
    np.testing.assert_array_equal(tiled.array, whole.array)
    assert tiled.clipping == whole.clipping


def test_reaches_add_up_and_borders_are_those_of_the_frame(soft):
    light = scene(30, 40)
    found = render(frame(light), soft(2, 3), Output("tiff", "bt2020")).array
    twice = frame(softened(softened(light, 2), 3))
    exact = render(twice, soft(0, 0), Output("tiff", "bt2020")).array
    np.testing.assert_array_equal(found, exact)


def test_looks_of_other_reach_share_what_they_begin_with(soft, monkeypatch):
    original = frame(scene(70, 90))
    looks = [soft(3, 2, **KEYS), soft(3, 0, **KEYS), soft(0, 4, **KEYS), soft(3, 5, **KEYS)]
    monkeypatch.setattr(execute, "TILE", (16, 32))
    for chosen in (looks, looks[:2], looks[::3]):
        for picture, look in zip(render_each(original, chosen), chosen, strict=True):
            np.testing.assert_array_equal(picture.array, render(original, look).array)


def test_a_guide_sees_a_stage_at_its_own_scale(soft):
    """The lift's guide of a wide frame is made at half size, where the softening reaches less."""
    light = np.abs(scene(64, 2048)) + 0.001
    original = frame(light)
    resolved = resolve(soft(4, 0, lift={"shadows": 1.0}), original)
    plan = engine_plan.make_plan(resolved, original)
    step = next(step for step in plan.steps if step.guide is not None)
    half = light.reshape(3, 32, 2, 1024, 2).mean(axis=(2, 4), dtype=np.float64).astype(np.float32)
    exact = step.stage.guide(softened(half, 2), step.constants)
    np.testing.assert_allclose(step.guide.cells, exact.cells, atol=1e-3)

