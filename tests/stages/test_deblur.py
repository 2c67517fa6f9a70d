"""Deblur: how sharp an edge becomes, what becomes of noise, and where nothing is done."""

import numpy as np
import pytest

from frames_in_memory import facts, frame, recipe, signal, two_matrix_camera
from grading.colour import oklab
from grading.develop.mosaic import MosaicPixels
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Frame, Noise
from grading.region import Region
from grading.stages.deblur import STAGE, Deblur
from kernels.raws import sample, sensor
from slanted_edge import edge, half_response, overshoot, response_at

EXAMPLE = {"amount": 0.8, "radius": 0.7}
ALONE = [{"amount": 0.5}]

CAMERA = two_matrix_camera()
WHITE, BLACK = 16383, 512
QUIET = {"denoise": {"luminance": 0.0, "colour": 0.0}}


def luminance(original, **keys):
    """Of a whole frame in working light, which nothing else has changed."""
    plan = make_plan(resolve(recipe(**QUIET, **keys), original), original)
    lab = taken_through(plan, plan.frame)
    light = oklab.oklab_to_working(np.moveaxis(lab, 0, -1).astype(float))
    return light @ [0.2627, 0.6780, 0.0593]


def shot(plane, noise=None, seed=4):
    """A raw of a grey plane, demosaiced as it is read; light 0.4 is 0.4 of white in green."""
    neutral = CAMERA.neutral[:, None, None]
    mosaic = sample(np.broadcast_to(plane, (3, *plane.shape)) * neutral)
    noise = noise or Noise(0.0, 0.0)
    rng = np.random.default_rng(seed)
    seen = mosaic + rng.normal(size=mosaic.shape) * np.sqrt(noise.variance(mosaic))
    counts = np.clip(np.rint(BLACK + seen * (WHITE - BLACK)), 0, WHITE).astype(np.uint16)
    levels = sensor(counts.shape, black=BLACK, white=WHITE, noise=tuple(noise))
    balance = np.float32(CAMERA.neutral[1] / CAMERA.neutral)
    pixels = MosaicPixels(counts, levels, balance, None, 1)
    return Frame(facts(plane.shape[1], plane.shape[0], CAMERA, noise), pixels)


def rendered(plane):
    return frame(np.broadcast_to(plane, (3, *plane.shape)))


@pytest.mark.parametrize("blur", [0.5, 0.6, 0.7])
def test_an_edge_is_sharper_and_hardly_overshoots(blur):
    """By ISO 12233, an edge of two stops."""
    before, after = (luminance(rendered(edge(blur)), **k) for k in ({}, {"deblur": {"amount": 1}}))
    assert half_response(after) > 1.4 * half_response(before)
    assert max(overshoot(after)) <= 0.05
    assert response_at(after, 0.25) < 1


def test_half_of_it_is_about_half():
    planes = [luminance(rendered(edge(0.65)), deblur={"amount": a}) for a in (0, 0.5, 1)]
    none, half, all_ = map(half_response, planes)
    assert 0.4 < (half - none) / (all_ - none) < 0.7


def test_a_developed_raw_becomes_sharper_by_the_default_radius():
    """The blur of a sharp lens and of pixels, and what demosaicing adds."""
    original = shot(edge(0.5))
    before, after = luminance(original), luminance(original, deblur={"amount": 1})
    assert half_response(after) > 1.4 * half_response(before)
    assert max(overshoot(after)) <= 0.05


@pytest.mark.parametrize("level", [0.02, 0.1, 0.4])
def test_noise_of_a_raw_hardly_grows(level):
    original = shot(np.full((200, 400), level), Noise(6e-4, 2e-6))
    before, after = (
        luminance(original, **keys)[8:-8, 8:-8] for keys in ({}, {"deblur": {"amount": 1}})
    )
    assert after.std() < 1.12 * before.std()
    assert after.mean() == pytest.approx(before.mean(), rel=0.003)


def test_colours_stay():
    rng = np.random.default_rng(3)
    pixels = np.float32(np.kron(rng.uniform(0.02, 0.8, (3, 10, 12)), np.ones((5, 5))))
    constants = STAGE.prepare(Deblur(amount=1.0), signal())
    whole = Region.whole(*pixels.shape[1:])
    found = STAGE.apply(pixels, constants, whole, whole)
    assert np.abs(found - pixels).max() > 0.03
    np.testing.assert_allclose(found / found.sum(0), pixels / pixels.sum(0), atol=1e-6)


def test_a_preview_keeps_what_the_full_size_has():
    """At a third of the size and below the blur is no wider than a pixel's edge; means of the full
    picture and of the preview agree."""
    original = rendered(np.tile(edge(0.6, size=192), (1, 6)))
    small = preview(original, 288)
    keys = {"deblur": {"amount": 1.0}}
    resolved = resolve(recipe(**QUIET, **keys), original)
    assert small.scale == 4 and "deblur" not in [
        step.stage.name for step in make_plan(resolved, small).steps
    ]
    whole = luminance(original, **keys)
    means = whole.reshape(48, 4, 288, 4).mean((1, 3))
    plan = make_plan(resolved, small)
    lab = taken_through(plan, plan.frame)
    shown = oklab.oklab_to_working(np.moveaxis(lab, 0, -1).astype(float))[..., 1]
    assert np.abs(means - shown).max() < 0.015
