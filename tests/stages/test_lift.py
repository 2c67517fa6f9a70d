"""Lift: how much light places get, what becomes of texture, and what stands beside an edge."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, signal, turn
from grading.colour import oklab
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.stages.lift import STAGE, Lift

EXAMPLE = {"shadows": 1.8, "highlights": -1.2}
ALONE = [{"shadows": 0.5}, {"highlights": -0.5}]


def graded(planes, **lift):
    """Oklab of a whole frame that only the lift has changed."""
    original = frame(planes)
    plan = make_plan(resolve(recipe(lift=lift), original), original)
    return taken_through(plan, plan.frame).astype(np.float64)


def lifted_stops(stops, **lift):
    """Stops from middle grey of a grey frame after the lift."""
    planes = np.repeat(0.18 * np.exp2(np.asarray(stops, float))[None], 3, axis=0)
    lightness = graded(planes, **lift)[0]
    return np.log2(lightness**3 / 0.18)


def rise(t):
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)


def test_nothing_stated_is_no_step():
    assert STAGE.prepare(Lift(), signal()) is None


@pytest.mark.parametrize("stops", [-9.0, -5.0, -2.5, -1.0, 0.0, 1.0, 2.0, 4.0, 6.0])
def test_an_even_place_is_lifted_by_what_its_tone_is_due(stops):
    out = lifted_stops(np.full((40, 60), stops), shadows=2.0, highlights=-1.5)
    due = 2.0 * rise(-stops / 5) - 1.5 * rise(stops / 4)
    np.testing.assert_allclose(out - stops, due, atol=1e-4)


@pytest.mark.parametrize(("shadows", "highlights"), [(3.0, -2.5), (3.0, 2.5), (-3.0, -2.5)])
def test_even_tones_never_change_order(shadows, highlights):
    """Even at the ends of the ranges; the steepest fall is 1.5 * 3 / 5 stops a stop."""
    steps = np.arange(-14.0, 9.0, 0.25)
    out = [
        lifted_stops(np.full((4, 4), s), shadows=shadows, highlights=highlights)[0, 0]
        for s in steps
    ]
    assert np.diff(out).min() > 0


def step_edge(low, high, width=2000, height=60):
    stops = np.full((height, width), float(low))
    stops[:, width // 2 :] = high
    return stops


@pytest.mark.parametrize(("low", "high"), [(-4, 0), (-2, 2), (-5, -1), (-1, 3)])
def test_a_step_of_four_stops_has_hardly_a_halo(low, high):
    """Over- and undershoot beside a step, at full size, through a guide at half size: what is
    beyond the step has no part in the base."""
    stops = step_edge(low, high)
    gain = (lifted_stops(stops, shadows=2.0, highlights=-1.5) - stops)[30]
    middle = gain.size // 2
    for side in (gain[:middle], gain[middle:][::-1]):
        assert np.abs(side - side[middle // 2]).max() < 0.02


@pytest.mark.parametrize(("low", "high"), [(-4, 0), (-5, -1), (-2, 2), (-3, -1)])
def test_texture_beside_an_edge_keeps_its_contrast(low, high):
    """Within a hundredth of the long edge of it, where one curve for all would flatten it."""
    edge = step_edge(low, high)
    texture = 0.15 * np.sin(2 * np.pi * np.arange(60) / 12)[:, None] * np.ones(2000)
    with_texture = lifted_stops(edge + texture, shadows=2.0, highlights=-1.5)
    after = with_texture - lifted_stops(edge, shadows=2.0, highlights=-1.5)
    for near in (np.s_[6:-6, 980:997], np.s_[6:-6, 1003:1020]):
        kept = np.vdot(after[near], texture[near]) / np.vdot(texture[near], texture[near])
        assert 0.8 < kept < 1.01


def test_an_edge_stays_an_edge():
    """Both sides of a step meet within one pixel, as they did before."""
    out = lifted_stops(step_edge(-4, 0), shadows=2.0)[30]
    before, after = out[len(out) // 2 - 1 : len(out) // 2 + 1]
    assert after - before > 0.95 * (out[-1] - out[0])


@pytest.mark.parametrize(("amplitude", "kept"), [(0.05, 0.98), (0.1, 0.96), (0.2, 0.9)])
def test_texture_keeps_its_contrast(amplitude, kept):
    """Where a curve of the same lift, 0.58 stops a stop here, would flatten it."""
    texture = amplitude * np.random.default_rng(0).choice([-1, 1], (300, 400))
    out = lifted_stops(-2.5 + texture, shadows=2.0)
    inner = np.s_[50:250, 50:350]
    assert kept < out[inner].std() / texture[inner].std() < 1.001
    assert out[inner].mean() == pytest.approx(-2.5 + 2.0 * rise(0.5), abs=0.03)


def test_hue_and_saturation_stay():
    rng = np.random.default_rng(1)
    planes = (0.18 * np.exp2(rng.uniform(-6, 3, (3, 40, 50)))).astype(np.float32)
    before = oklab.working_to_oklab(planes.reshape(3, -1).T)
    after = graded(planes, shadows=2.5, highlights=-2.0).reshape(3, -1).T
    assert np.abs(turn(oklab.hue(after), oklab.hue(before))).max() < 0.1
    np.testing.assert_allclose(
        after[:, 1:] / after[:, :1], before[:, 1:] / before[:, :1], atol=2e-5
    )


def test_a_bad_pixel_does_not_spread():
    planes = np.full((3, 60, 80), 0.02, np.float32)
    planes[:, 30, 40] = np.nan
    lab = graded(planes, shadows=2.0)
    assert np.isfinite(np.delete(lab[0].ravel(), 30 * 80 + 40)).all()
    assert np.isfinite(lab[:, 30, 40]).all() and lab[0, 30, 40] == 0


@pytest.mark.parametrize("size", [(1, 1), (1, 9), (2, 1)])
def test_the_smallest_frames(size):
    np.testing.assert_allclose(
        lifted_stops(np.full(size, -5.0), shadows=1.0), np.full(size, -4.0), atol=1e-4
    )


def test_a_panorama_so_narrow_that_its_guide_is_one_row():
    stops = np.full((2, 4200), -5.0)
    np.testing.assert_allclose(lifted_stops(stops, shadows=1.0), -4.0, atol=1e-4)


def test_a_large_frame_agrees_with_itself_at_half_size():
    """The filter's radius is a fraction of the frame, so a preview shows the same lift."""
    rng = np.random.default_rng(2)
    coarse = np.repeat(np.repeat(rng.uniform(-6, 2, (6, 16)), 20, axis=0), 64, axis=1)
    small = lifted_stops(coarse, shadows=2.0, highlights=-1.0)
    large = lifted_stops(np.kron(coarse, np.ones((2, 2))), shadows=2.0, highlights=-1.0)
    assert small.shape == (120, 1024)
    difference = np.abs(large[::2, ::2] - small)
    assert np.quantile(difference, 0.99) < 0.02
