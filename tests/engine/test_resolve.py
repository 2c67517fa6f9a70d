"""A resolved recipe is a type of its own, made from the whole frame only."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene, two_matrix_camera
from grading.engine.execute import render
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import Resolved, resolve
from grading.errors import OriginalError


def test_only_the_original_resolves():
    original = frame(scene(64, 96), two_matrix_camera())
    small = preview(original, 48)
    with pytest.raises(ValueError, match="not on a smaller version"):
        resolve(recipe(), small)
    with pytest.raises(ValueError, match="not on a smaller version"):
        render(small, recipe())
    resolved = resolve(recipe(), original)
    assert isinstance(resolved, Resolved) and resolve(resolved, small) is resolved
    assert render(small, resolved).array.shape == (32, 48, 3)


def test_what_a_render_refuses_a_preview_cannot_accept():
    """A sampled neutral beside a burnt-out pixel, which the averages of a preview hide."""
    light = np.full((3, 64, 96), 0.4, np.float32)
    light[:, 30, 47] = 1.0
    original = frame(light, two_matrix_camera())
    look = recipe(white_balance={"neutral": [0.5, 0.5]})
    with pytest.raises(OriginalError, match=r"1\.00 at its brightest"):
        resolve(look, original)


def test_a_stage_that_is_given_another_light_than_it_takes_is_refused(monkeypatch):
    from grading.engine import plan
    from grading.stages.registry import STAGES

    original = frame(scene(8, 8))
    resolved = resolve(recipe(exposure={"stops": 1.0}, hues={"w": {"centre": 9, "shift": 5}}),
                       original)  # fmt: skip
    monkeypatch.setattr(plan, "PIPELINE", STAGES[::-1])
    with pytest.raises(ValueError, match="nothing to do, takes picture pixels, not scene pixels"):
        make_plan(resolved, original)
    by_name = {stage.name: stage for stage in STAGES}
    monkeypatch.setattr(plan, "PIPELINE", (by_name["tone_curve"], by_name["exposure"]))
    with pytest.raises(ValueError, match="exposure takes scene pixels, not picture pixels"):
        make_plan(resolved, original)
    monkeypatch.setattr(plan, "PIPELINE", (by_name["exposure"],))
    with pytest.raises(ValueError, match="end of a plan takes picture pixels, not scene pixels"):
        make_plan(resolved, original)


def test_a_frame_computes_each_reduced_version_once():
    original, made = frame(scene(64, 96)), []
    reduced = original.pixels.reduced
    original.pixels.reduced = lambda factor: made.append(factor) or reduced(factor)
    for long_edge in (48, 48, 24, 47):
        preview(original, long_edge)
    assert made == [2, 4]
    assert original.reduced(2) is original.reduced(2)
