"""What holds for every stage, tried with parameters drawn from its own declaration."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from frames_in_memory import frame, scene, two_matrix_camera
from grading import kernels
from grading.colour import oklab
from grading.errors import OriginalError
from grading.frame import Noise
from grading.region import Region
from grading.signal import Signal
from grading.stages.registry import PIPELINE, STAGES
from legal_parameters import legal
from stage_examples import ALONE

HEIGHT, WIDTH = 17, 29
WHOLE = Region.whole(HEIGHT, WIDTH)
NOISE = Noise(1e-3, 1e-5)
LOCAL_STAGES = [stage.through_mask for stage in STAGES if stage.local]
EVERY = [*PIPELINE, *(stage for stage in LOCAL_STAGES if stage not in PIPELINE)]
NAMES = [f"{stage.name}-{stage.parameters.__name__}" for stage in EVERY]

every_stage = pytest.mark.parametrize("stage", EVERY, ids=NAMES)
few = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def pixels_for(stage):
    """Scene light with all that may come along, or a picture of it."""
    light = scene(HEIGHT, WIDTH, seed=3)
    if "scene" in stage.takes:
        return light
    lab = oklab.working_to_oklab(np.moveaxis(np.clip(light, -0.02, 2), 0, -1))
    return np.ascontiguousarray(np.moveaxis(lab, -1, 0), np.float32)


def original(camera, noise=NOISE):
    """A noisy frame all of which is a grey surface, so that any place will do for a neutral."""
    grey = np.array([0.31, 0.3, 0.29]) if camera is None else 0.3 * camera.neutral
    return frame(np.broadcast_to(grey[:, None, None], (3, HEIGHT, WIDTH)), camera, noise)


def prepared(stage, values, source):
    parameters = stage.parameters.model_validate(values)
    if stage.resolve:
        parameters = stage.resolve(parameters, source)
    return stage.prepare(parameters, Signal.of(source))


def applied(stage, constants, pixels, planes, here=WHOLE, there=WHOLE):
    """Pixels of `there` after the stage from those of `here`; `planes` are those of its guide."""
    if constants is None:
        return there.cut(pixels, here)
    regions = [here, there] if stage.reach else [here] if stage.placed else []
    return stage.apply(pixels, constants, *regions, *planes)


def planes_of(stage, constants, pixels, part=WHOLE):
    """Of its guide, on a part of a frame, as `apply` is given them."""
    if stage.guide is None or constants is None:
        return ()
    spread = stage.spread or kernels.base.interpolate
    return (spread(stage.guide(pixels, constants), 1, *part),)


@every_stage
@given(data=st.data())
@few
def test_legal_parameters_give_finite_pixels(stage, data):
    camera = data.draw(st.sampled_from([None, two_matrix_camera()]))
    try:
        constants = prepared(stage, data.draw(legal(stage.parameters)), original(camera))
    except OriginalError:  # a light that this camera cannot see
        assert stage.name == "white_balance"
        reject()
    pixels = pixels_for(stage)
    kept = pixels.copy()
    out = applied(stage, constants, pixels, planes_of(stage, constants, pixels))
    assert out.shape == pixels.shape and out.dtype == np.float32
    assert np.isfinite(out).all()
    assert np.abs(out).max() < 1e9
    np.testing.assert_array_equal(pixels, kept)
    if constants is not None:  # a local adjustment is blended into what `apply` made
        assert out.flags.c_contiguous and not np.shares_memory(out, pixels)


def reach_of(stage, constants):
    return stage.reach(constants) if stage.reach and constants is not None else 0


@every_stage
@given(data=st.data())
@settings(few, max_examples=10)
def test_a_part_within_its_reach_is_that_part_of_the_frame(stage, data):
    """A pixel alone, for most stages."""
    constants = prepared(stage, data.draw(legal(stage.parameters)), original(None))
    pixels = pixels_for(stage)
    planes = planes_of(stage, constants, pixels)
    out = applied(stage, constants, pixels, planes)
    for y, x in [(0, 0), (3, 17), (HEIGHT - 1, WIDTH - 1)]:
        there = Region(y, y + 1, x, x + 1)
        here = there.grown(reach_of(stage, constants), WHOLE)
        near = planes_of(stage, constants, pixels, here)
        part = applied(stage, constants, here.cut(pixels, WHOLE), near, here, there)
        np.testing.assert_array_equal(part, there.cut(out, WHOLE))


@every_stage
def test_defaults_leave_alone(stage):
    pixels = pixels_for(stage)
    constants = prepared(stage, {}, original(None, noise=None))
    out = applied(stage, constants, pixels, planes_of(stage, constants, pixels))
    if stage.gives and stage.gives not in stage.takes:
        exact = oklab.working_to_oklab(np.moveaxis(pixels, 0, -1))
        np.testing.assert_allclose(np.moveaxis(out, 0, -1), exact, atol=3e-6)
    else:
        np.testing.assert_allclose(out, pixels, rtol=2e-6, atol=2e-6)


@every_stage
@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
@given(data=st.data())
@settings(few, max_examples=10)
def test_what_is_no_number_spreads_no_farther_than_the_reach(stage, value, data):
    constants = prepared(stage, data.draw(legal(stage.parameters)), original(None))
    pixels = pixels_for(stage)
    planes = planes_of(stage, constants, pixels)
    good = applied(stage, constants, pixels, planes).copy()
    bad_pixels = pixels.copy()
    bad_pixels[:, 5, 11] = value
    bad = applied(stage, constants, bad_pixels, planes)
    reach = reach_of(stage, constants)
    near = np.s_[:, max(5 - reach, 0) : 6 + reach, max(11 - reach, 0) : 12 + reach]
    good[near] = bad[near]
    np.testing.assert_array_equal(bad, good)


@pytest.mark.parametrize(("stage", "values"), ALONE)
def test_what_is_stated_alone_has_its_effect(stage, values):
    pixels = pixels_for(stage)
    constants = prepared(stage, values, original(None))
    planes = planes_of(stage, constants, pixels)
    plain = applied(stage, prepared(stage, {}, original(None)), pixels, planes)
    out = applied(stage, constants, pixels, planes)
    assert np.abs(out - plain).max() > 1e-3


def test_exactly_one_stage_turns_light_into_a_picture():
    turning = [stage.name for stage in PIPELINE if stage.gives not in (None, *stage.takes)]
    assert turning == ["tone_curve"]
    for stage, after in zip(PIPELINE, PIPELINE[1:], strict=False):
        assert {*(stage.gives and (stage.gives,) or stage.takes)} <= {*after.takes}


def test_what_a_mask_offers_takes_and_gives_what_the_stage_gives():
    for stage in STAGES:
        if stage.local:
            assert stage.through_mask.name == stage.name
            assert stage.through_mask.takes == (stage.gives,) == (stage.through_mask.gives,)
