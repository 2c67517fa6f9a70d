"""Vignetting: flat fields become flat, in every tile and size, and noise is met as it was made."""

import numpy as np
import pytest

from frames_in_memory import facts, frame, recipe, signal
from grading.engine import plan as engine_plan
from grading.engine.descent import taken_through
from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Frame, Noise
from grading.lens.optics import MAP_SIDE, Falloff, Optics
from grading.region import Region
from grading.signal import Signal
from grading.stages.lens import Lens
from grading.stages.vignetting import STAGE

ALONE = [{"numbers": {"vignetting": each}} for each in ({"gain": [0.5]}, {"fall": [-0.5]})]

HEIGHT, WIDTH = 120, 180
FALL = {"centre": [0.48, 0.53], "unit": 0.55, "fall": [-0.5, 0.2, -0.05]}
FALLOFF = Falloff((0.48, 0.53), 0.55, fall=(-0.5, 0.2, -0.05))


def radius(height, width, falloff):
    """Units from the centre at the middle of each pixel."""
    y, x = np.mgrid[0:height, 0:width] + 0.5
    distance = np.hypot(x - falloff.centre[0] * width, y - falloff.centre[1] * height)
    return distance / (falloff.unit * max(width, height))


def field(level=0.2):
    """A grey wall as such a lens shows it."""
    shade = level / FALLOFF.correction(radius(HEIGHT, WIDTH, FALLOFF))
    return np.broadcast_to(shade, (3, HEIGHT, WIDTH)).astype(np.float32)


def constants(values, height=HEIGHT, width=WIDTH, optics=None):
    about = signal(width, height)
    about = Signal(type(about.facts)(**vars(about.facts) | {"optics": optics}), about.state)
    return STAGE.prepare(Lens.model_validate(values), about)


def test_a_flat_field_becomes_flat():
    whole = Region.whole(HEIGHT, WIDTH)
    flat = STAGE.apply(field(), constants({"numbers": {"vignetting": FALL}}), whole)
    np.testing.assert_allclose(flat, 0.2, rtol=2e-6)


def test_a_smaller_version_becomes_flat_too():
    original = frame(field())
    look = resolve(recipe(lens={"numbers": {"vignetting": FALL}}), original)
    small = preview(original, 60)
    flat = render(small, look, Output(format="tiff")).array.astype(int)
    assert np.ptp(flat[1:-1, 1:-1]) <= 0.002 * flat.mean()


def test_a_share_undoes_that_share():
    whole = Region.whole(HEIGHT, WIDTH)
    half = {"numbers": {"vignetting": FALL}, "vignetting": 0.5}
    ones = np.ones((3, HEIGHT, WIDTH), np.float32)
    gain = FALLOFF.correction(radius(HEIGHT, WIDTH, FALLOFF))
    out = STAGE.apply(ones, constants(half), whole)
    np.testing.assert_allclose(out, np.broadcast_to(1 + (gain - 1) / 2, out.shape), rtol=2e-6)
    assert constants(half | {"vignetting": 0.0}) is None


def test_a_map_of_gains_runs_from_edge_to_edge():
    down = np.linspace(1, 3, MAP_SIDE)[:, None]
    gains = np.broadcast_to(down, (3, MAP_SIDE, MAP_SIDE)).astype(np.float32)
    prepared = constants({"numbers": {"gains": True}}, optics=Optics(gains=gains))
    part = Region(7, 50, 100, 180)
    out = STAGE.apply(np.ones((3, *part.shape), np.float32), prepared, part)
    expected = 1 + 2 * (np.arange(7, 50) + 0.5) / HEIGHT
    np.testing.assert_allclose(out, np.broadcast_to(expected[:, None], out.shape), rtol=1e-6)


def test_noise_is_reduced_as_the_sensor_made_it():
    """Where light falls off the signal is as noisy as its own level says, so as much of it is left
    in a dark corner, before the gain, as of a flat field of that level."""
    noise = Noise(4e-4, 1e-6)
    light = field()
    rng = np.random.default_rng(3)
    grainy = light + rng.normal(size=light.shape) * np.sqrt(noise.variance(light))
    keys = {"denoise": {"luminance": 1.0, "colour": 1.0}}

    def steps(**more):
        original = Frame(facts(WIDTH, HEIGHT, None, noise), frame(grainy).pixels)
        return make_plan(resolve(recipe(**keys, **more), original), original).steps

    without, having = steps(), steps(lens={"numbers": {"vignetting": FALL}})
    names = [step.stage.name for step in having]
    assert names.index("vignetting") == names.index("denoise") + 1
    np.testing.assert_array_equal(without[0].guide, having[0].guide)


def test_exposure_needs_no_pass_of_its_own():
    """It is carried out with the correction, on light that both make the same."""
    light = field()
    original = Frame(facts(WIDTH, HEIGHT), frame(light).pixels)
    lens, brighter = {"numbers": {"vignetting": FALL}}, {"stops": 1.5}

    def plan(**keys):
        return make_plan(resolve(recipe(**keys), original), original)

    both, alone = plan(lens=lens, exposure=brighter), plan(lens=lens)
    assert [step.stage.name for step in both.steps] == ["vignetting", "tone_curve"]
    bright, plain = (taken_through(each.first(1), each.frame) for each in (both, alone))
    np.testing.assert_allclose(bright, 2**1.5 * plain, rtol=1e-6)


def test_exposure_through_a_mask_keeps_its_pass():
    original = Frame(facts(WIDTH, HEIGHT), frame(field()).pixels)
    everywhere = {"where": {"gradient": {"full": [0.5, 0.0], "none": [0.5, 1.0]}}}
    keys = {"lens": {"numbers": {"vignetting": FALL}}, "exposure": {"stops": 1.0}}
    keys["local"] = {"sky": everywhere | {"exposure": {"stops": -1.0}}}
    steps = make_plan(resolve(recipe(**keys), original), original).steps
    assert [step.stage.name for step in steps] == ["vignetting", "exposure", "tone_curve"]
    assert [step.where is None for step in steps] == [True, False, True]


def test_a_mask_that_reads_light_finds_the_same_where_exposure_has_no_pass(monkeypatch):
    light = field() * np.geomspace(0.25, 4, WIDTH, dtype=np.float32)
    original = Frame(facts(WIDTH, HEIGHT), frame(light).pixels)
    bright = {"where": {"lightness": {"above": 0.5, "feather": 0.5}}}
    keys = {"lens": {"numbers": {"vignetting": FALL}}, "exposure": {"stops": 1.0}}
    local = {"lights": bright | {"exposure": {"stops": -1.0}}}

    def planned(local=local):
        return make_plan(resolve(recipe(**keys, local=local), original), original)

    together, without = planned(), planned({})
    monkeypatch.setattr(engine_plan, "_with_mixing", lambda step, after: None)
    apart = planned()
    assert (together.sight.start, apart.sight.start) == (1, 2)
    lab, other, plain = (taken_through(each, each.frame) for each in (together, apart, without))
    np.testing.assert_allclose(lab, other, atol=2e-6)
    changes = np.abs(lab - plain)[0]
    assert changes.min() == 0 and changes.max() > 0.05  # the mask takes some of it and not all


@pytest.mark.parametrize("tile", [(1, 7), (50, 64)])
def test_tiles_change_no_bit(tile):
    prepared, light = constants({"numbers": {"vignetting": FALL}}), field()
    whole = Region.whole(HEIGHT, WIDTH)
    expected = STAGE.apply(light, prepared, whole)
    for part in whole.tiles(*tile):
        out = STAGE.apply(part.cut(light, whole), prepared, part)
        np.testing.assert_array_equal(out, part.cut(expected, whole))
