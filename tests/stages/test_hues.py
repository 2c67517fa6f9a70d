"""Hues: windows on the circle."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frames_in_memory import colours_of, planes_of, signal, turn
from grading.colour import munsell, oklab
from grading.stages.hues import STAGE, Hues, Window, weight

EXAMPLE = {"sea": {"centre": "5PB", "shift": -8, "saturation": 0.3, "lightness": -0.05}}
ALONE = [
    {"window": {"centre": "all", key: value}}
    for key, value in (("shift", 5.0), ("saturation", 0.2), ("lightness", 0.05))
]

CIRCLE = np.arange(0, 360, 0.05)


def graded(lab, **windows):
    hues = Hues.model_validate(windows)
    return colours_of(STAGE.apply(planes_of(lab), STAGE.prepare(hues, signal())))


def circle(chroma=0.1, lightness=0.6, hue=CIRCLE):
    a, b = chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))
    return np.stack([np.full_like(a, lightness), a, b], axis=1)


def chroma_of(lab):
    return np.hypot(lab[:, 1], lab[:, 2])


def test_nothing_stated_is_no_step():
    assert STAGE.prepare(Hues(), signal()) is None
    assert STAGE.prepare(Hues({"idle": Window(centre=30.0)}), signal()) is None


@given(centre=st.floats(0, 360), width=st.floats(5, 180))
@settings(max_examples=50, deadline=None)
def test_a_window_is_a_raised_cosine_of_its_width(centre, width):
    window = Window(centre=centre, width=width)
    at = [0, width / 4, width / 2, -width / 2, width, -width]
    shares = weight(window, (centre + np.array(at)) % 360)
    np.testing.assert_allclose(shares, [1, (1 + np.sqrt(0.5)) / 2, 0.5, 0.5, 0, 0], atol=1e-9)
    np.testing.assert_allclose(weight(window, CIRCLE), weight(window, CIRCLE + 360), atol=1e-9)


def test_windows_a_width_apart_share_out_the_circle():
    """Raised cosines at spacing equal to their width sum to one."""
    total = sum(weight(Window(centre=c, width=60.0), CIRCLE) for c in np.arange(0.0, 360, 60))
    np.testing.assert_allclose(total, 1, atol=1e-12)


@pytest.mark.parametrize("centre", [0.0, 3.0, 137.0, 358.0, 360.0])
def test_turn_is_full_at_the_centre_and_half_at_half_of_the_width(centre):
    at = (centre + np.array([0, 20, -20, 40, 90])) % 360
    lab = circle(hue=at)
    out = graded(lab, w={"centre": centre, "width": 40.0, "shift": 10.0})
    np.testing.assert_allclose(turn(oklab.hue(out), at), [10, 5, 5, 0, 0], atol=0.02)
    np.testing.assert_allclose(chroma_of(out), 0.1, rtol=1e-4)
    np.testing.assert_allclose(out[:, 0], 0.6, atol=1e-6)


def test_saturation_and_lightness():
    lab = circle(chroma=0.3, hue=np.array([100.0, 250.0]))
    out = graded(lab, w={"centre": 100.0, "saturation": 0.5, "lightness": -0.1})
    np.testing.assert_allclose(chroma_of(out), [0.45, 0.3], rtol=1e-4)
    full = 0.3**2 / (0.3**2 + 0.03**2)
    np.testing.assert_allclose(out[:, 0], [0.6 - 0.1 * full, 0.6], atol=1e-5)


@pytest.mark.parametrize("centre", [0.0, 359.9, 90.0, 123.4])
def test_the_circle_has_no_seam_and_no_step(centre):
    """A raised cosine of width 5 is nowhere steeper than pi / 10 a degree."""
    largest = {"shift": 90.0, "saturation": 2.0, "lightness": 0.3}
    out = graded(circle(), w={"centre": centre, "width": 5.0, **largest})
    steps = np.linalg.norm(np.diff(np.concatenate([out, out[:1]]), axis=0), axis=1)
    slope, chroma = np.pi / 10, 3 * 0.1
    turning = chroma * np.radians(1 + slope * 90)
    assert steps.max() < 1.01 * 0.05 * np.hypot(np.hypot(turning, slope * 2 * 0.1), slope * 0.3)


def test_follows_the_window_all_around():
    window = {"centre": 15.0, "width": 30.0, "shift": 25.0}
    out = graded(circle(), w=window)
    exact = 25 * weight(Window(**window), CIRCLE)
    np.testing.assert_allclose(turn(oklab.hue(out), CIRCLE), exact, atol=0.02)


def test_overlapping_windows_add_up():
    lab = circle(hue=np.array([40.0]))
    one = {"centre": 30.0, "width": 40.0, "shift": 8.0}
    two = {"centre": 50.0, "width": 40.0, "shift": 6.0}
    both = graded(lab, one=one, two=two)
    single = [turn(oklab.hue(graded(lab, w=w)), 40)[0] for w in (one, two)]
    assert turn(oklab.hue(both), 40)[0] == pytest.approx(sum(single), abs=0.02)


def test_greys_stay_exactly():
    lab = np.zeros((101, 3))
    lab[:, 0] = np.linspace(-0.1, 1.3, 101)
    out = graded(lab, w={"centre": "all", "shift": 70.0, "saturation": 1.0, "lightness": 0.3})
    np.testing.assert_array_equal(out, np.float32(lab))


def test_all_of_the_circle_without_saturation_is_black_and_white():
    out = graded(circle(), w={"centre": "all", "saturation": -1.0})
    assert np.abs(out[:, 1:]).max() < 1e-7
    np.testing.assert_allclose(out[:, 0], 0.6, atol=1e-7)


def test_windows_that_together_take_more_than_all_chroma_leave_a_grey():
    """Not the opposite hue."""
    lab = circle(hue=np.array([40.0]))
    quiet = {"centre": 40.0, "width": 90.0, "saturation": -0.8}
    assert np.abs(graded(lab, one=quiet, two=quiet)[:, 1:]).max() < 1e-7


@pytest.mark.parametrize("name", ["5PB", "R", "2.5YR"])
def test_munsell_hues(name):
    window = Hues.model_validate({"w": {"centre": name}}).root["w"]
    assert window.centre == munsell.hue_degrees(name)


def test_others_are_what_all_other_windows_leave():
    """Only the colours of the windows stay, those in the middle of one as they were."""
    keep = {"lamps": {"centre": 50.0, "width": 60.0}, "sea": {"centre": 230.0, "width": 40.0}}
    out = graded(circle(), **keep, rest={"centre": "others", "saturation": -1.0})
    shares = [weight(Window(**window), CIRCLE) for window in keep.values()]
    left = 1 - (1 - shares[0]) * (1 - shares[1])
    np.testing.assert_allclose(chroma_of(out), 0.1 * left, atol=2e-5)
    np.testing.assert_allclose(out[1000], circle()[1000], atol=1e-6)  # 50 degrees


def test_others_than_none_are_all():
    all_of_them, others = (
        graded(circle(), w={"centre": centre, "saturation": -0.5}) for centre in ("all", "others")
    )
    np.testing.assert_array_equal(all_of_them, others)


def test_a_window_on_all_hues_leaves_others_what_they_were():
    out = graded(
        circle(),
        lamps={"centre": 50.0},
        paler={"centre": "all", "saturation": -0.2},
        rest={"centre": "others", "saturation": -0.8},
    )
    np.testing.assert_allclose(chroma_of(out)[[1000, 4600]], [0.08, 0.0], atol=2e-5)
