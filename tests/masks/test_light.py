"""Masks that read light: one place for all stages, in tiles and previews, up to the edge."""

import numpy as np
import pytest

from frames_in_memory import frame, light_of_oklab, recipe, scene, two_matrix_camera
from grading.colour import oklab
from grading.engine import execute
from grading.engine.descent import taken_through
from grading.engine.execute import render, render_each
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Noise

RIDGE = {"lightness": {"above": -1.0, "feather": 1.0}}
WARM = {"hue": {"centre": 60.0, "width": 60.0}}
VIVID = {"chroma": {"above": 0.08, "feather": 0.02}}
SMOOTH = {"detail": {"below": 0.2}}
TOP = {"gradient": {"full": [0.5, 0.0], "none": [0.5, 0.9]}}
EVERY = {
    "any": [
        {"all": [TOP, RIDGE]},
        {"all": [WARM, VIVID], "grow": 0.02},
        {"all": [SMOOTH, {"not": WARM}]},
    ]
}
KEYS = {
    "exposure": {"stops": 0.7},
    "denoise": {"luminance": 0.5, "colour": 0.8},
    "lift": {"shadows": 1.2, "highlights": -0.5},
}
EVERY_STAGE = {
    "white_balance": {"shift": 30},
    "denoise": {"luminance": 0.5},
    "exposure": {"stops": -1.0},
    "lift": {"shadows": 1.0},
    "levels": {"black": -8.0},
    "tone_curve": {"contrast": 1.4},
    "split_toning": {"shadows": {"hue": 250.0, "chroma": 0.05}},
    "hues": {"all": {"centre": "all", "saturation": -0.5}},
}
"""Of a local adjustment."""


def local(where, **stages):
    return {"place": {"where": where, **stages}}


def planned(original, where, stages=EVERY_STAGE, **keys):
    look = recipe(**keys, local=local(where, **stages))
    return make_plan(resolve(look, original), original)


def weights(original, where, stages=None, **keys):
    """Weights of the first step through a mask, over the whole frame."""
    plan = planned(original, where, stages or {"exposure": {"stops": 1.0}}, **keys)
    step, whole = next(step for step in plan.steps if step.where is not None), plan.frame
    pixels = taken_through(plan.first(plan.sight.start), whole)
    return step.mask(whole, plan.sight.read(pixels, whole, whole, plan))


def of_lab(lab):
    """A frame whose scene light has these Oklab values, shape (rows, columns, 3)."""
    return frame(np.moveaxis(oklab.oklab_to_working(lab), -1, 0))


def noisy(height=70, width=90, seed=0):
    return frame(np.abs(scene(height, width, seed)), two_matrix_camera(), Noise(1e-4, 1e-7))


def test_every_stage_of_an_adjustment_acts_in_one_place():
    """Also those that come before the light is what the mask reads."""
    plan = planned(noisy(), EVERY, **KEYS)
    masks = {id(step.mask) for step in plan.steps if step.where is not None}
    through = [step.stage.name for step in plan.steps if step.where is not None]
    assert len(masks) == 1 and through == list(EVERY_STAGE)


@pytest.mark.parametrize("stage", EVERY_STAGE)
def test_the_place_does_not_depend_on_the_stage(stage):
    original = noisy()
    one = weights(original, EVERY, {stage: EVERY_STAGE[stage]}, **KEYS)
    np.testing.assert_array_equal(one, weights(original, EVERY, EVERY_STAGE, **KEYS))
    assert 0 <= one.min() < 0.1 and 0.9 < one.max() <= 1


def test_light_is_read_after_exposure_and_lift_and_before_toning():
    light = np.full((3, 30, 40), 0.18 / 4)
    read = {"lightness": {"above": -1.0, "feather": 0.0}}
    assert weights(frame(light), read, exposure={"stops": 0.9}).max() == 0
    assert weights(frame(light), read, exposure={"stops": 1.1}).min() == 1
    assert weights(frame(light), read, lift={"shadows": 3.0}).min() == 1
    later = {"levels": {"white": 0.5}, "tone_curve": {"contrast": 0.3}}
    assert weights(frame(light), read, **later).max() == 0


def test_an_earlier_adjustment_moves_no_mask():
    """Two that brighten what is dark do so in the same place, one after the other."""
    light = np.full((3, 20, 30), 0.18 / 8)
    once = {"where": {"lightness": {"below": -2.0, "feather": 0.0}}, "exposure": {"stops": 2.0}}
    look = recipe(local={"first": once, "second": once})
    both = render(frame(light), look, Output("tiff")).array
    np.testing.assert_array_equal(both, render(frame(16 * light), recipe(), Output("tiff")).array)


@pytest.mark.parametrize("shape", [(7, 13), (64, 64), (1, 90)])
@pytest.mark.parametrize("output", [Output("tiff"), Output("tiff", long_edge=37)])
def test_tiles_and_threads_do_not_show(shape, output, monkeypatch):
    original, look = noisy(), recipe(**KEYS, local=local(EVERY, **EVERY_STAGE))
    whole = render(original, look, output, workers=1)
    monkeypatch.setattr(execute, "TILE", shape)
    np.testing.assert_array_equal(render(original, look, output, workers=2).array, whole.array)


def test_looks_that_share_their_start_are_as_they_are_alone():
    original = noisy()
    late = {"hues": EVERY_STAGE["hues"]}
    looks = [
        recipe(**KEYS, local=local(where, **stages))
        for where, stages in ((EVERY, EVERY_STAGE), (RIDGE, late), (WARM, late), (TOP, late))
    ]
    for chosen in (looks, looks[1:], looks[2:]):
        for picture, look in zip(render_each(original, chosen), chosen, strict=True):
            np.testing.assert_array_equal(picture.array, render(original, look).array)


def test_where_no_mask_reads_light_none_is_made():
    plan = planned(noisy(), {"any": [TOP, {"not": TOP, "grow": 0.01}]}, **KEYS)
    assert plan.sight is None


def skyline(height=120, width=160, noise=0.0, seed=5):
    """A sky, a crooked ridge before it that is three stops darker, and which is which."""
    rng = np.random.default_rng(seed)
    x = np.arange(width)
    sky = np.arange(height)[:, None] < 60 + 15 * np.sin(x / 17) + 6 * np.sin(x / 5)
    light = np.where(sky, 0.4, 0.05) * np.ones((3, 1, 1))
    return light + rng.normal(0, 1, light.shape) * np.sqrt(noise * light), sky


@pytest.mark.parametrize("noise", [0.0, 1e-4, 4e-4])
def test_a_fade_stops_at_the_ridge_without_a_halo(noise):
    light, sky = skyline(noise=noise)
    original = frame(light, noise=Noise(noise, 0.0) if noise else None)
    found = weights(original, {"all": [TOP, {"lightness": {"above": -0.3, "feather": 0.6}}]})
    plain = planned(original, TOP).steps[0].mask(original.region, None)
    np.testing.assert_allclose(found[sky], plain[sky], atol=1e-3)
    assert found[~sky].max() < 1e-3


def test_noise_does_not_show_in_a_mask():
    """The light lies on the slope of the mask, where noise of its own would be worst."""
    rng = np.random.default_rng(8)
    grey, noise = np.full((3, 90, 90), 0.18), Noise(2e-3, 0.0)
    light = grey + rng.normal(0, 1, grey.shape) * np.sqrt(2e-3 * grey)
    slope = {"lightness": {"above": 0.0, "feather": 2.0}}
    without = np.std(np.log2(np.tensordot([0.2627, 0.678, 0.0593], light, 1))) * 1.5 / 2
    assert weights(frame(light, noise=noise), slope).std() < 0.15 * without


def test_hue_and_chroma_are_those_of_oklab():
    hues = np.arange(0, 360, 3.0)
    lab = light_of_oklab(0.5, 0.1, hues).reshape(1, -1, 3)
    original = frame(np.moveaxis(np.repeat(lab, 40, axis=1), -1, 0))  # each as wide as the reach
    found = weights(original, WARM)[0, 20::40]
    t = np.clip(1.5 - 2 * np.abs((hues - 60 + 180) % 360 - 180) / 60, 0, 1)
    np.testing.assert_allclose(found, t * t * (3 - 2 * t), atol=0.02)
    chroma = np.linspace(0, 0.2, 41)
    lab = light_of_oklab(0.5, chroma, 60).reshape(1, -1, 3)
    original = frame(np.moveaxis(np.repeat(lab, 60, axis=1), -1, 0))
    t = np.clip((chroma - 0.08) / 0.02 + 0.5, 0, 1)
    exact = t * t * (3 - 2 * t)
    assert np.abs(weights(original, VIVID)[0, 30::60] - exact).max() < 0.05


def test_greys_have_no_hue():
    grey, any_red = frame(np.full((3, 20, 20), 0.2)), {"hue": {"centre": 0.0, "width": 180.0}}
    assert weights(grey, any_red).max() < 1e-3


def test_smooth_is_smooth_up_to_the_ridge_and_texture_is_not():
    light, sky = skyline(400, 600)
    rng = np.random.default_rng(3)
    texture = np.exp2(rng.normal(0, 0.5, sky.shape))
    found = weights(frame(light * np.where(sky, 1, texture)), SMOOTH)
    assert found[sky].mean() > 0.99 and found[~sky].mean() < 0.02


def test_a_preview_sees_what_the_frame_sees():
    light, _ = skyline(256, 384, noise=1e-4)
    original = frame(light, noise=Noise(1e-4, 0.0))
    look = resolve(recipe(local=local({"all": [TOP, RIDGE]}, exposure={"stops": -2.0})), original)
    small = render(preview(original, 96), look, Output("tiff")).array / 65535
    large = render(original, look, Output("tiff")).array / 65535
    means = large.reshape(64, 4, 96, 4, 3).mean(axis=(1, 3))
    assert np.abs(small - means).mean() < 0.003


def test_a_mask_grows_and_shrinks_by_its_distance():
    """A square of 40 pixels; the frame is a quarter of a guide's largest, so nothing is coarse."""
    lab = np.zeros((200, 200, 3))
    lab[..., 0] = 0.3
    lab[80:120, 80:120, 0] = 0.8
    square = {"lightness": {"above": 0.0, "feather": 0.1}}
    for by in (0.05, -0.05):
        found = weights(of_lab(lab), square | {"grow": by})
        edge = np.interp(0.5, found[100, 100:160][::-1], np.arange(100, 160)[::-1])
        assert edge == pytest.approx(119.5 + 200 * by, abs=0.6)
        assert found[100, 100] == 1 and found[5, 5] == 0
    corner = weights(of_lab(lab), square | {"grow": 0.05})  # round: within 10 pixels of the corner
    assert corner[126, 126] > 0.5 > corner[128, 128]
