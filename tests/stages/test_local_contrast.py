"""Local contrast: texture by its amount, and what edges, noise and clipped light are spared."""

from dataclasses import replace

import numpy as np
import pytest

from frames_in_memory import frame, recipe, signal, turn, two_matrix_camera
from grading.colour import oklab
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Noise
from grading.region import Region
from grading.stages.local_contrast import STAGE, LocalContrast

EXAMPLE = {"amount": 0.6, "scale": 0.03}
ALONE = [{"amount": 0.5}, {"amount": -0.5}]

STRONGEST = 1.0
EDGE = 4.0
HEIGHT, WIDTH = 200, 2048


def graded(planes, noise=None, tiles=None, local=None, **keys):
    """Oklab of a whole frame that only this stage has changed."""
    original = frame(planes, noise=noise)
    keys = {"local": local} if local else {"local_contrast": keys}
    plan = make_plan(resolve(recipe(**keys), original), original)
    out = np.empty(planes.shape)
    for region in plan.frame.tiles(*(tiles or plan.frame.shape)):
        rows, columns = slice(region.top, region.bottom), slice(region.left, region.right)
        out[:, rows, columns] = taken_through(plan, region)
    return out


def grey(stops):
    return np.repeat(0.18 * np.exp2(np.asarray(stops, float))[None], 3, axis=0)


def stops_after(stops, noise=None, **keys):
    """Stops from middle grey of a grey frame after the stage."""
    return np.log2(np.maximum(graded(grey(stops), noise, **keys)[0], 1e-5) ** 3 / 0.18)


def from_edge(slant=0.1):
    """Pixels right of an edge down the middle, which leans so that no reduced pixel falls on it."""
    y, x = np.indices((HEIGHT, WIDTH)).astype(float)
    return x - WIDTH / 2 + slant * (y - HEIGHT / 2)


def ramp(width):
    """Four stops over so many pixels."""
    return -4 + EDGE / 2 * (1 + np.tanh(from_edge() / (width / 2)))


def texture(period, size=0.15):
    return size * np.sin(2 * np.pi * np.arange(HEIGHT)[:, None] / period) * np.ones(WIDTH)


def gain(before, after, where=np.s_[40:160, 400:-400]):
    """By how much a texture came out stronger, by least squares."""
    return np.vdot(after[where], before[where]) / np.vdot(before[where], before[where])


def test_nothing_stated_is_no_step():
    assert STAGE.prepare(LocalContrast(), signal()) is None
    assert STAGE.prepare(LocalContrast(scale=0.05), signal()) is None


@pytest.mark.parametrize("amount", [1.0, 0.5, -0.5, -1.0])
def test_fine_texture_changes_by_the_amount(amount):
    after = stops_after(-2 + texture(10), amount=amount) + 2
    assert gain(texture(10), after) == pytest.approx(1 + amount, abs=0.05)


@pytest.mark.parametrize("scale", [0.01, 0.02, 0.04])
def test_what_is_as_large_as_the_scale_changes_by_half(scale):
    """A bar of half a period; what is a third as large by nearly all, three times by little."""
    gains = []
    for size in (scale / 3, scale, 3 * scale):
        bars = 0.15 * np.sin(np.pi * np.arange(WIDTH) / (size * WIDTH)) * np.ones((HEIGHT, 1))
        gains.append(gain(bars, stops_after(bars - 2, amount=1.0, scale=scale) + 2) - 1)
    assert gains[0] > 0.95 and 0.4 < gains[1] < 0.6 and gains[2] < 0.15


@pytest.mark.parametrize("scale", [0.01, 0.02, 0.05, 0.1])
@pytest.mark.parametrize("amount", [STRONGEST, -1.0])
def test_a_hard_edge_of_four_stops_has_no_halo(amount, scale):
    """At most 0.05 stop beyond either side, and a sky along a ridge keeps its light."""
    edge, away = ramp(2.4), from_edge()
    out = stops_after(edge, amount=amount, scale=scale)
    assert out.max() < 0.05 and out.min() > -4 - 0.05
    plain = np.abs(away) > 4
    assert np.abs(out - edge)[plain].max() < 0.055
    assert np.abs(out - edge)[np.abs(away) > scale * WIDTH].max() < 0.02


@pytest.mark.parametrize("scale", [0.01, 0.02, 0.05, 0.1])
@pytest.mark.parametrize("width", [16, 40, 160])
def test_soft_edges_are_not_turned_about(width, scale):
    """Where the light rises it still does, at least 0.8 as steeply at the steepest."""
    before = ramp(width)[100]
    after = stops_after(ramp(width), amount=STRONGEST, scale=scale)[100]
    rising = np.diff(before) > 0.1 * np.diff(before).max()
    assert np.diff(after)[rising].min() > 0
    assert np.diff(after).max() > 0.8 * np.diff(before).max()
    assert np.diff(after).min() > -0.01


@pytest.mark.parametrize(("amount", "least"), [(0.5, 1.4), (1.0, 1.8)])
@pytest.mark.parametrize("side", [-1, 1])
def test_texture_beside_a_hard_edge_gets_nearly_all_of_it(side, amount, least):
    """Four to eight pixels from it, where a guided filter gives 1.07 of 1.5."""
    edge, near = ramp(2.4), side * from_edge()
    beside = (near > 4) & (near < 8)
    with_texture = stops_after(edge + texture(16), amount=amount)
    after = with_texture - stops_after(edge, amount=amount)
    assert gain(texture(16), after, beside) > least


@pytest.mark.parametrize(("stops", "photon"), [(-4.0, 1e-4), (-1.0, 2e-3), (0.0, 2e-4)])
def test_noise_is_hardly_strengthened(stops, photon):
    """Where it is known; where it is not it is texture like any other."""
    noise, light = Noise(photon, 1e-6), 0.18 * 2**stops
    rng = np.random.default_rng(1)
    noisy = rng.normal(light, np.sqrt(noise.variance(light)), (300, 400))
    planes = np.repeat(noisy[None], 3, axis=0)
    known, unknown = (graded(planes, n, amount=0.5)[0] ** 3 for n in (noise, None))
    assert known.std() / noisy.std() < 1.15
    assert unknown.std() / noisy.std() > 1.35


def test_texture_above_the_noise_is_strengthened_as_ever():
    known, unknown = (
        stops_after(-1 + texture(10, 0.3), noise, amount=0.5) + 1
        for noise in (Noise(2e-5, 1e-8), None)
    )
    assert gain(unknown, known) > 0.99


def test_noise_does_not_hinder_softening():
    after = stops_after(-1 + texture(10), Noise(1e-2, 1e-5), amount=-0.5) + 1
    assert gain(texture(10), after) == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("exposure", [-2, 0, 1])
def test_noise_and_clipped_light_are_those_after_the_stages_before(exposure):
    """Twice the light has twice the deviation and is clipped twice as high."""
    raw = replace(signal(camera=two_matrix_camera()), state="scene")
    raw = replace(raw, facts=replace(raw.facts, noise=Noise(1e-3, 1e-5)))
    plain = STAGE.prepare(LocalContrast(amount=0.5), raw)
    after = STAGE.prepare(LocalContrast(amount=0.5), raw.amplified(2.0**exposure))
    factor = 2.0**exposure
    assert after.photon == pytest.approx(factor * plain.photon)
    assert after.read == pytest.approx(factor**2 * plain.read)
    assert after.per_clip == pytest.approx(plain.per_clip / factor)


def test_it_fades_out_towards_clipped_light():
    white = -np.log2(0.18)
    gains = []
    for stops in (white - 1.4, white - 0.5, white + 0.5):
        size = 0.05
        after = stops_after(stops + texture(10, size), amount=1.0) - stops
        gains.append(gain(texture(10, size), after))
    assert gains[0] > 1.95 and 1.2 < gains[1] < 1.8 and gains[2] == pytest.approx(1, abs=0.01)


def test_hue_and_saturation_stay():
    rng = np.random.default_rng(1)
    planes = (0.18 * np.exp2(rng.uniform(-6, 1, (3, 40, 50)))).astype(np.float32)
    before = oklab.working_to_oklab(planes.reshape(3, -1).T)
    after = graded(planes, amount=1.0).reshape(3, -1).T
    assert np.abs(turn(oklab.hue(after), oklab.hue(before))).max() < 0.1
    np.testing.assert_allclose(
        after[:, 1:] / after[:, :1], before[:, 1:] / before[:, :1], atol=2e-5
    )


@pytest.mark.parametrize("tiles", [(64, 64), (37, 301), (192, 1024)])
def test_any_tiling_gives_the_same_bits(tiles):
    planes = grey(ramp(2.4) + texture(9))
    whole = graded(planes, amount=0.8)
    np.testing.assert_array_equal(graded(planes, tiles=tiles, amount=0.8), whole)


def test_through_a_mask_it_acts_where_the_mask_is():
    """As on the whole frame where the mask is full, and not at all where there is none."""
    planes = grey(-2 + texture(10))
    left = {"gradient": {"full": [0.45, 0.5], "none": [0.55, 0.5]}}
    out = graded(planes, local={"left": {"where": left, "local_contrast": EXAMPLE}})
    whole, plain = graded(planes, **EXAMPLE), graded(planes, amount=0.0)
    edge = np.s_[:, :, : int(0.45 * WIDTH) - 2]
    np.testing.assert_allclose(out[edge], whole[edge], atol=1e-6)
    other = np.s_[:, :, int(0.55 * WIDTH) + 2 :]
    np.testing.assert_array_equal(out[other], plain[other])
    assert np.abs(whole - plain).max() > 0.005


def test_a_preview_shows_what_the_full_size_has():
    """Its scale is a fraction of the frame; texture that is coarse enough to be seen in both."""
    tones = ramp(40) + texture(40, 0.2)
    original = frame(grey(tones))
    small = preview(original, 1024)
    resolved = resolve(recipe(local_contrast={"amount": 0.8}), original)
    plan, large = make_plan(resolved, small), graded(grey(tones), amount=0.8)
    seen = taken_through(plan, plan.frame)
    light = oklab.oklab_to_working(np.moveaxis(large, 0, -1))
    light = light.reshape(HEIGHT // 2, 2, WIDTH // 2, 2, 3).mean(axis=(1, 3))
    apart = np.abs(oklab.working_to_oklab(light)[..., 0] - seen[0])
    assert plan.frame == Region.whole(HEIGHT // 2, WIDTH // 2)
    assert apart.max() < 0.01 and apart.mean() < 0.001


@pytest.mark.parametrize("size", [(1, 1), (1, 9), (2, 1)])
def test_the_smallest_frames(size):
    out = stops_after(np.full(size, -5.0), amount=1.0)
    np.testing.assert_allclose(out, np.full(size, -5.0), atol=1e-4)
