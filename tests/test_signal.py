"""What travels beside the pixels: noise by scale and gain, held against measured noise."""

from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import facts, frame, recipe, two_matrix_camera
from grading.develop.mosaic import MosaicPixels
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Frame, Noise
from grading.kernels.raw.mosaic import Sensor
from grading.signal import Signal

NOISE = Noise(2e-5, 1e-7)
LEVEL = 0.18


def flat_mosaic():
    """A flat grey of a Bayer sensor with the noise stated."""
    rng = np.random.default_rng(4)
    signal = rng.normal(LEVEL, NOISE.variance(LEVEL) ** 0.5, (512, 768))
    counts = np.round(1000 + signal * 60000).astype(np.uint16)
    levels = np.full(4, 1000, np.float32), np.full(4, 1 / 60000, np.float32)
    rows, columns = np.zeros(512, np.float32), np.zeros(768, np.float32)
    sensor = Sensor((0, 0), *levels, rows, columns, tuple(NOISE))
    return MosaicPixels(counts, sensor, np.ones(3, np.float32), None, 1)


@pytest.mark.parametrize("factor", [2, 4, 8])
def test_the_noise_of_a_smaller_version_is_what_is_measured(factor):
    whole = Frame(replace(facts(768, 512), noise=NOISE), flat_mosaic())
    small = preview(whole, 768 // factor)
    assert small.scale == factor
    stated = Signal.of(small).noise.variance(LEVEL)
    red, green, blue = small.pixels.read(small.region).var(axis=(1, 2), dtype=np.float64)
    assert (red / stated, blue / stated) == pytest.approx((1, 1), abs=0.05)
    assert green / stated == pytest.approx(0.5, abs=0.05)
    assert Signal.of(whole).reduced(factor).noise == Signal.of(small).noise


def test_noise_that_is_not_known_stays_unknown():
    assert Signal.of(preview(frame(np.ones((3, 40, 60))), 20)).noise is None


def test_gain_is_the_deviation_that_noise_gets():
    """Whole-frame stages up to the tone curve, on noise about middle grey."""
    camera = two_matrix_camera()
    keys = {
        "exposure": {"stops": 1.3}, "levels": {"black": -8.0}, "tone_curve": {"contrast": 1.4},
    }  # fmt: skip
    rng = np.random.default_rng(2)
    grey = camera.neutral / camera.neutral[1] * 0.06
    light = (grey[:, None, None] * np.ones((3, 200, 300))).astype(np.float32)
    noisy = (light + rng.normal(0, 1e-4, light.shape)).astype(np.float32)
    original = frame(light, camera)
    plan = make_plan(resolve(recipe(**keys), original), original)
    signals = {step.stage.name: step.signal for step in plan.steps}
    assert [s.state for s in signals.values()] == ["camera", "scene", "scene", "scene"]
    before_tone = tuple(step for step in plan.steps if step.stage.name != "tone_curve")
    plan = replace(plan, steps=before_tone, pixels=frame(noisy).pixels)
    scene = taken_through(plan, plan.frame)
    found = scene.std(axis=(1, 2), dtype=np.float64) / 1e-4
    assert found == pytest.approx(signals["tone_curve"].gain, rel=0.02)


def test_the_curves_gain_is_its_slope_at_middle_grey():
    original = frame(np.full((3, 8, 8), 0.18))
    for contrast in (0.7, 1.0, 1.6):
        keys = {"tone_curve": {"contrast": contrast}, "hues": {"w": {"centre": 9, "shift": 5}}}
        plan = make_plan(resolve(recipe(**keys), original), original)
        assert plan.steps[-1].signal.gain == pytest.approx((contrast,) * 3, rel=0.01)
        assert plan.steps[-1].signal.state == "picture"
