"""The tone curve: where tones land, how steep it is, and that it never folds back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from scipy.interpolate import PchipInterpolator

from frames_in_memory import colours_of, planes_of, scene, signal, turn
from grading.colour import oklab
from grading.stages.tone_curve import STAGE, ToneCurve, curve

EXAMPLE = {
    "contrast": 1.3, "white": 4.5, "shoulder": 0.2, "points": [[-4, -4.5], [0, 0.2]],
}  # fmt: skip
ALONE = [
    {"contrast": 1.2}, {"white": 3.0}, {"black": -8.0}, {"shoulder": 0.5}, {"toe": 0.5},
    {"points": [[0.0, 0.2]]},
]  # fmt: skip


def picture(rgb, **keys):
    constants = STAGE.prepare(ToneCurve(**keys), signal())
    return colours_of(STAGE.apply(planes_of(rgb), constants))


def picture_stops(stops, **keys):
    """Stops from middle grey of the picture's light, for greys of so many stops in the scene."""
    light = 0.18 * np.exp2(np.atleast_1d(np.asarray(stops, float)))
    lightness = picture(np.repeat(light[:, None], 3, axis=1), **keys)[:, 0]
    return np.log2(lightness**3 / 0.18)


def test_at_its_defaults_it_only_changes_the_light_to_oklab():
    """Oklab by B. Ottosson (2020), with the matrices of W3C CSS Color 4."""
    rgb = np.random.default_rng(0).uniform(-0.05, 2, (5000, 3))
    np.testing.assert_allclose(picture(rgb), oklab.working_to_oklab(rgb), atol=2e-6)


@pytest.mark.parametrize("white", [1.0, 4.5, 8.0])
@pytest.mark.parametrize("black", [-14.0, -6.0, -2.0])
@pytest.mark.parametrize("contrast", [0.5, 1.0, 2.0])
def test_black_middle_grey_and_white_land_where_stated(white, black, contrast):
    """White is light 1, log2(1 / 0.18) = 2.474 stops up; black 10 stops down."""
    keys = dict(white=white, black=black, contrast=contrast)
    landed = picture_stops([0, white], **keys)
    np.testing.assert_allclose(landed, [0, np.log2(1 / 0.18)], atol=2e-4)
    assert picture_stops(black, **keys)[0] == pytest.approx(-10, abs=0.05)


@pytest.mark.parametrize("contrast", [0.3, 0.8, 1.0, 1.5, 3.0])
@pytest.mark.parametrize("ends", [(0.0, 0.0), (1.0, 0.3), (3.0, 3.0)])
def test_contrast_is_the_slope_at_middle_grey(contrast, ends):
    keys = dict(contrast=contrast, shoulder=ends[0], toe=ends[1], white=5.0, black=-9.0)
    step = 1 / 64
    below, above = picture_stops([-step, step], **keys)
    assert (above - below) / (2 * step) == pytest.approx(contrast, rel=0.03)
    fine = 1e-4
    low, _, high = curve(ToneCurve(**keys), np.array([-fine, 0, fine]))
    assert -low / fine == pytest.approx(contrast, rel=1e-3)
    assert high / fine == pytest.approx(contrast, rel=1e-3)


@pytest.mark.parametrize("slope", [0.0, 0.4, 1.0, 3.0])
def test_slopes_at_the_ends(slope):
    parameters = ToneCurve(shoulder=slope, toe=slope, white=5.0, black=-8.0, contrast=1.3)
    fine = 1e-5
    at = curve(parameters, np.array([-8.0, -8.0 + fine, 5.0 - fine, 5.0]))
    assert np.diff(at)[[0, 2]] / fine == pytest.approx(slope, abs=1e-3)


numbers = st.builds(
    dict,
    contrast=st.floats(0.3, 3),
    white=st.floats(1, 8),
    black=st.floats(-14, -2),
    shoulder=st.floats(0, 3),
    toe=st.floats(0, 3),
)


@st.composite
def rising_points(draw):
    count = draw(st.integers(0, 6))
    columns = []
    for _ in range(2):
        steps = draw(st.lists(st.floats(0.01, 3), min_size=count, max_size=count))
        columns.append(np.cumsum(steps) + draw(st.floats(-12, 0)))
    return [[float(x), float(y)] for x, y in zip(*columns, strict=True)]


@given(keys=numbers, points=rising_points())
@settings(max_examples=150, deadline=None)
def test_never_folds_back(keys, points):
    parameters = ToneCurve(**keys, points=points)
    shaped = curve(parameters, np.linspace(-20, 12, 4001))
    assert np.isfinite(shaped).all()
    assert np.diff(shaped).min() >= -1e-9


@given(keys=numbers, points=rising_points())
@settings(max_examples=40, deadline=None)
def test_the_picture_never_folds_back(keys, points):
    lightness = np.linspace(0, 4, 3001)
    factors = STAGE.prepare(ToneCurve(**keys, points=points), signal())
    grey = planes_of(np.repeat(lightness[:, None] ** 3, 3, axis=1))
    rising = np.diff(STAGE.apply(grey, factors)[0, 0].astype(np.float64))
    # float32 has 6e-8 at 1, and bent points may take lightness well beyond it
    assert rising.min() > -1e-6 * max(1, factors.max() * 4)


def test_without_a_bend_at_middle_grey():
    parameters = ToneCurve(contrast=1.7, white=6.0, black=-8.0, shoulder=0.2, toe=0.4)
    slope = np.diff(curve(parameters, np.linspace(-0.01, 0.01, 201))) / 1e-4
    assert np.abs(np.diff(slope)).max() < 0.01


RPN14 = np.array(
    [
        [7.99, 0],
        [8.09, 2.76429e-5],
        [8.19, 4.37498e-2],
        [8.7, 0.169183],
        [9.2, 0.469428],
        [10, 0.943740],
        [12, 0.998636],
        [15, 0.999919],
        [20, 0.999994],
    ]
)
"""Fritsch and Carlson, SIAM J. Numer. Anal. 17:238 (1980), the data RPN 14."""


def test_points_are_met():
    points = ToneCurve(points=RPN14.tolist())
    np.testing.assert_allclose(curve(points, RPN14[:, 0]), RPN14[:, 1], atol=1e-12)


def test_points_agree_with_another_monotone_cubic():
    """SciPy's PCHIP has the same slopes at the inner points (Fritsch and Butland, 1984)."""
    points = ToneCurve(points=RPN14.tolist())
    x = np.linspace(RPN14[1, 0], RPN14[-2, 0], 2001)
    other = PchipInterpolator(*RPN14.T)
    np.testing.assert_allclose(curve(points, x), other(x), atol=1e-12)
    ends = np.linspace(7.99, 20, 2001)
    shaped = curve(points, ends)
    assert np.diff(shaped).min() >= 0 and 0 <= shaped.min() and shaped.max() <= 0.999994 + 1e-12


def test_one_point_moves_all_tones_alike():
    np.testing.assert_allclose(
        curve(ToneCurve(points=[[-1.0, -0.5]]), np.arange(-5.0, 3)), np.arange(-4.5, 3)
    )


@pytest.mark.parametrize(
    "points",
    [[[0.0, 0.0], [0.0, 1.0]], [[0.0, 1.0], [1.0, 1.0]], [[0.0]], [[0.0, 0.0], [1.0, 21.0]]],
)
def test_points_that_do_not_rise_within_reason_are_refused(points):
    with pytest.raises(ValidationError):
        ToneCurve(points=points)


STRONG = dict(
    contrast=1.8, white=5.0, black=-8.0, shoulder=0.1, toe=0.2, points=[[-3.0, -3.5], [1.0, 1.2]]
)


def test_hue_and_saturation_stay():
    rgb = np.random.default_rng(2).random((5000, 3)) ** 2
    before, after = oklab.working_to_oklab(rgb), picture(rgb, **STRONG)
    chroma = np.hypot(before[:, 1], before[:, 2])
    assert np.abs(turn(oklab.hue(after), oklab.hue(before)))[chroma > 0.01].max() < 0.05
    np.testing.assert_allclose(
        after[:, 1:] / after[:, :1], before[:, 1:] / before[:, :1], atol=1e-5
    )


def test_colours_follow_the_curve_by_their_lightness():
    rgb = np.random.default_rng(3).random((5000, 3)) * 3
    before, after = oklab.working_to_oklab(rgb), picture(rgb, **STRONG)
    stops = np.log2(before[:, 0] ** 3 / 0.18)
    exact = np.cbrt(0.18 * np.exp2(curve(ToneCurve(**STRONG), stops)))
    np.testing.assert_allclose(after[:, 0], exact, atol=2e-5)


def test_light_that_is_no_light_is_black_or_darker():
    rgb = [[0, 0, 0], [-0.01, -0.01, -0.01], [np.nan, np.nan, np.nan], [1e-12, 1e-12, 1e-12]]
    out = picture(rgb, **STRONG)
    assert np.isfinite(out).all() and (out[:, 0] < 1e-3).all()


def test_through_a_mask_the_same_keys_bend_the_tones_of_the_picture():
    """On a picture it is that curve on light of these tones; its default is no step."""
    local = STAGE.through_mask
    assert local.prepare(ToneCurve(), signal()) is None
    parameters = ToneCurve(contrast=1.6, shoulder=0.3, points=[[-1, -1.4]])
    constants = local.prepare(parameters, signal())
    light = np.abs(scene(20, 30, seed=2))
    picture = STAGE.apply(light, STAGE.prepare(ToneCurve(), signal()))
    kept = picture.copy()
    np.testing.assert_allclose(
        local.apply(picture, constants), STAGE.apply(light, constants), atol=2e-6
    )
    np.testing.assert_array_equal(picture, kept)
