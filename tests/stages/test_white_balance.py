"""White balance: whichever way the light is stated, what is neutral under it becomes neutral."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from frames_in_memory import colours_of, frame, planes_of, signal, two_matrix_camera
from grading.colour import camera as colour_camera
from grading.colour import far, spaces, white
from grading.errors import OriginalError
from grading.stages.white_balance import LOCAL, STAGE, LocalWhiteBalance, WhiteBalance, square

EXAMPLE = {"kelvin": 4300, "duv": 0.002, "shift": 8}
ALONE = [{"kelvin": 5000.0}, {"shift": 10.0}]

CAMERA = two_matrix_camera()
D65_MIRED = 1e6 / white.xy_to_kelvin_duv(spaces.D65)[0]


def resolved(camera=None, planes=None, **keys):
    planes = np.full((3, 4, 4), 0.3) if planes is None else planes
    return STAGE.resolve(WhiteBalance(**keys), frame(planes, camera))


def balanced(rgb, parameters, camera=None):
    constants = STAGE.prepare(parameters, signal(camera=camera))
    return colours_of(STAGE.apply(planes_of(rgb), constants))


def shifted(rgb, mired):
    constants = LOCAL.prepare(LocalWhiteBalance(shift=mired), signal())
    return colours_of(LOCAL.apply(planes_of(rgb), constants))


def mired_and_duv(rgb):
    """Of the light that has the colour of a working-light pixel."""
    xy = spaces.xyz_to_xy(spaces.rgb_to_xyz(spaces.WORKING) @ rgb)
    kelvin, duv = white.xy_to_kelvin_duv(xy)
    return 1e6 / kelvin, duv


def light_to_camera(kelvin, duv):
    """Camera RGB of a white surface under a light, straight from the matrices."""
    xy = white.kelvin_duv_to_xy(kelvin, duv)
    return colour_camera.xyz_to_camera(CAMERA, xy) @ spaces.xy_to_xyz(xy)


def assert_grey(rgb, tolerance=1e-5):
    np.testing.assert_allclose(rgb / rgb[..., 1:2], np.ones_like(rgb), atol=tolerance)


def test_a_rendered_original_is_left_alone():
    assert STAGE.prepare(resolved(), signal()) is None


@pytest.mark.parametrize("kelvin", [2500.0, 4000.0, 12000.0])
def test_a_monochrome_original_takes_no_tint_from_the_light(kelvin):
    """Its three channels are alike in any light; only a shift is meant to tint it."""
    grey = replace(signal().facts, monochrome=True)
    monochrome = replace(signal(), facts=grey)
    parameters = resolved(kelvin=kelvin)
    assert STAGE.prepare(parameters, monochrome) is None
    shift = STAGE.prepare(parameters.model_copy(update={"shift": 40.0}), monochrome)
    alone = LOCAL.prepare(LocalWhiteBalance(shift=40.0), signal())
    np.testing.assert_allclose(shift, alone, atol=1e-7)
    assert STAGE.prepare(parameters, signal()) is not None  # in colour it does count


def test_as_shot_makes_the_cameras_neutral_neutral():
    """DNG specification: AsShotNeutral is what a neutral surface looks like to the camera."""
    parameters = resolved(CAMERA, as_shot=True)
    assert_grey(balanced([CAMERA.neutral], parameters, CAMERA))
    assert parameters == resolved(CAMERA)


@pytest.mark.parametrize("kelvin", [2200.0, 3200.0, 5600.0, 12000.0])
@pytest.mark.parametrize("duv", [-0.01, 0.0, 0.012])
def test_kelvin_and_duv_make_that_light_neutral(kelvin, duv):
    parameters = resolved(CAMERA, kelvin=kelvin, duv=duv)
    assert_grey(balanced([light_to_camera(kelvin, duv)], parameters, CAMERA))


def test_three_ways_to_state_one_light_agree():
    light = light_to_camera(4300.0, 0.004)
    planes = np.broadcast_to(0.5 * (light / light.max())[:, None, None], (3, 60, 80))
    camera = two_matrix_camera(light / light.max())
    stated = [
        resolved(camera, planes, kelvin=4300.0, duv=0.004),
        resolved(camera, planes, as_shot=True),
        resolved(camera, planes, neutral=[0.4, 0.6]),
    ]
    for parameters in stated:
        assert parameters.kelvin == pytest.approx(4300, abs=0.5)
        assert parameters.duv == pytest.approx(0.004, abs=1e-5)


def test_without_duv_noon_is_daylight_and_lamps_are_planckian():
    """CIE 015: D65 lies at Duv +0.0032; illuminant A on the Planckian locus."""
    assert resolved(kelvin=6504.0).duv == pytest.approx(0.0032, abs=1e-4)
    assert resolved(kelvin=2856.0).duv == 0


def patch_frame(camera, patch, place):
    planes = np.full((3, 90, 120), 0.2, np.float32) * np.array([1.0, 0.3, 0.6])[:, None, None]
    y, x = round(place[1] * 89), round(place[0] * 119)
    planes[:, y - 4 : y + 5, x - 4 : x + 5] = np.asarray(patch)[:, None, None]
    return frame(planes, camera)


@pytest.mark.parametrize("camera", [None, CAMERA], ids=["rendered", "raw"])
@pytest.mark.parametrize("place", [[0.25, 0.7], [0.9, 0.1]])
def test_a_sampled_place_becomes_neutral(camera, place):
    patch = np.array([0.35, 0.3, 0.18]) if camera is None else 0.3 * light_to_camera(3500.0, 0.006)
    parameters = STAGE.resolve(WhiteBalance(neutral=place), patch_frame(camera, patch, place))
    assert_grey(balanced([patch], parameters, camera))


@pytest.mark.parametrize(
    ("patch", "reported"),
    [
        ([1.0, 1.0, 1.0], "nor clipped"),
        ([0.0, 0.2, 0.2], "nor clipped"),
        ([0.05, 0.6, 0.05], "a place that is grey"),
        ([0.6, 0.02, 0.6], "a place that is grey"),
    ],
)
@pytest.mark.parametrize("camera", [None, CAMERA], ids=["rendered", "raw"])
def test_a_place_that_cannot_be_grey_is_reported(patch, reported, camera):
    original = patch_frame(camera, patch, [0.5, 0.5])
    with pytest.raises(OriginalError, match=reported) as caught:
        STAGE.resolve(WhiteBalance(neutral=[0.5, 0.5]), original)
    assert "in-memory" in str(caught.value)


@pytest.mark.parametrize("camera", [None, CAMERA], ids=["rendered", "raw"])
def test_a_place_counts_as_burnt_out_from_98_percent_of_white(camera):
    """Also where a single pixel of it does."""
    grey = np.ones(3) if camera is None else light_to_camera(5000.0, 0.003)
    grey = grey / grey.max()
    middle = WhiteBalance(neutral=[0.5, 0.5])
    assert STAGE.resolve(middle, patch_frame(camera, 0.975 * grey, middle.neutral)).kelvin
    with pytest.raises(OriginalError, match="nor clipped"):
        STAGE.resolve(middle, patch_frame(camera, 0.985 * grey, middle.neutral))
    lone = patch_frame(camera, 0.5 * grey, middle.neutral)
    lone.pixels.planes[1, 45, 60] = 0.985
    with pytest.raises(OriginalError, match="nor clipped"):
        STAGE.resolve(middle, lone)


@pytest.mark.parametrize("kelvin", [1050, 1900, 30000, 39000])
def test_embers_and_the_end_of_dusk_are_whites(kelvin):
    """A candle burns at 1900 K (common practice, no source)."""
    xy = white.kelvin_duv_to_xy(float(kelvin), 0.0)
    shot = two_matrix_camera(colour_camera.xy_to_neutral(CAMERA, xy))
    parameters = resolved(shot, as_shot=True)
    assert parameters.kelvin == pytest.approx(kelvin, rel=1e-6)
    assert parameters.duv == pytest.approx(0, abs=1e-7)
    assert_grey(balanced([shot.neutral], parameters, shot))
    assert_grey(balanced([shot.neutral], resolved(shot, kelvin=float(kelvin), duv=0.0), shot))


NEUTRALS = [
    (1.0, 1e-4, 1e-4), (1e-4, 1.0, 1e-4), (1e-4, 1e-4, 1.0), (1.0, 1.0, 1e-3), (1.0, 1e-3, 1.0),
    (1e-3, 1.0, 1.0), (0.2, 1.0, 0.9), (1.0, 0.35, 0.02), (0.3, 0.6, 1.0),
]  # fmt: skip


@pytest.mark.parametrize("neutral", NEUTRALS)
def test_whatever_the_camera_saw_as_neutral_becomes_neutral(neutral):
    """Also where no light of a temperature looks like that; then it stays as shot."""
    shot = two_matrix_camera(neutral)
    parameters = resolved(shot, as_shot=True, shift=30.0)
    light = far.neutral_to_kelvin_duv(shot, neutral)
    stated = light is not None and 1000 <= light[0] <= 40000
    assert (parameters.kelvin is not None) == stated
    assert parameters.as_shot == (None if stated else True)
    colour = balanced([neutral], parameters, shot)
    assert_grey(balanced([neutral], parameters.model_copy(update={"shift": 0.0}), shot), 1e-4)
    np.testing.assert_allclose(colour, shifted([[neutral[1]] * 3], 30.0), rtol=1e-3)
    assert STAGE.resolve(parameters, frame(np.full((3, 4, 4), 0.3), shot)) == parameters


def test_every_neutral_at_random_becomes_neutral():
    rng = np.random.default_rng(3)
    for neutral in np.exp(rng.uniform(-7, 0, (300, 3))):
        shot = two_matrix_camera(neutral / neutral.max())
        parameters = resolved(shot, as_shot=True)
        assert_grey(balanced([shot.neutral], parameters, shot), 1e-3)


@pytest.mark.parametrize(
    ("keys", "neutral", "expected"),
    [
        ({"kelvin": 1900.0}, None, ["the light that the recipe states, 1900 K"]),
        ({"kelvin": 30000.0, "duv": 0.01}, None, ["the light that the recipe states, 30000 K"]),
        ({"kelvin": 2000.0}, None, []),
        ({"kelvin": 25000.0}, None, []),
        ({"as_shot": True}, (1.0, 0.01, 0.01), []),  # said when the file is opened
    ],
)
def test_a_stated_light_far_from_the_calibrations_is_warned_of(keys, neutral, expected):
    shot = two_matrix_camera(neutral or (0.5, 1.0, 0.7))
    found = STAGE.warn(WhiteBalance(**keys), frame(np.ones((3, 4, 4)), shot).facts)
    assert len(found) == len(expected)
    for sentence, start in zip(found, expected, strict=True):
        assert sentence.startswith(start)
        assert "(2856 K and 6504 K): grey comes out neutral" in sentence
    assert STAGE.warn(WhiteBalance(**keys), frame(np.ones((3, 4, 4))).facts) == []


@pytest.mark.parametrize("kelvin", [45000])
def test_a_place_under_a_light_out_of_range_is_reported(kelvin):
    xyz = spaces.xy_to_xyz(white.kelvin_duv_to_xy(kelvin, 0.0))
    light = spaces.xyz_to_rgb(spaces.WORKING) @ xyz
    patch = np.broadcast_to((0.5 * light / light.max())[:, None, None], (3, 8, 8))
    with pytest.raises(OriginalError, match=f"its white is {kelvin} K"):
        resolved(planes=patch, neutral=[0.5, 0.5])


@pytest.mark.parametrize(
    ("point", "rows_and_columns"),
    [([0.5, 0.5], (295, 306, 495, 506)), ([1, 1], (594, 600, 994, 1000)), ([0, 0], (0, 6, 0, 6))],
)
def test_the_square_about_a_place(point, rows_and_columns):
    """A hundredth of the long edge, its middle on the place, cut off where the frame ends."""
    assert square(SimpleNamespace(width=1000, height=600), point) == rows_and_columns


@pytest.mark.parametrize("size", [(40, 30), (300, 200), (499, 499)])
def test_the_square_is_five_pixels_in_a_small_frame(size):
    width, height = size
    y0, y1, x0, x1 = square(SimpleNamespace(width=width, height=height), [0.5, 0.5])
    assert (y1 - y0, x1 - x0) == (5, 5)
    assert (y0 + 2, x0 + 2) == (height // 2, width // 2)


def test_a_light_that_the_camera_cannot_see_is_reported():
    parameters = resolved(CAMERA, kelvin=2000.0, duv=0.05)
    with pytest.raises(
        OriginalError, match="in-memory.*out of the camera's range.*every channel sees"
    ):
        STAGE.prepare(parameters, signal(camera=CAMERA))


FILTERS = [-131, -112, -81, -56, -45, -21, -10, 9, 18, 27, 42, 53, 81, 112, 131]
"""Mired shifts of common conversion and light-balancing filters (common practice; 3200 K to 5500 K
is -131 by arithmetic)."""


@pytest.mark.parametrize("mired", FILTERS)
def test_a_shift_moves_white_by_its_mireds(mired):
    after, duv = mired_and_duv(shifted([[1, 1, 1]], float(mired))[0])
    assert after - D65_MIRED == pytest.approx(mired, abs=0.1)
    assert duv == pytest.approx(white.xy_to_kelvin_duv(spaces.D65)[1], abs=1e-4)


def test_a_warmer_shift_has_more_red_and_less_blue():
    red, _, blue = shifted([[0.3, 0.3, 0.3]], 20.0)[0]
    assert red > 0.3 > blue


@pytest.mark.parametrize("mired", [-60.0, 35.0, 120.0])
@pytest.mark.parametrize("camera", [None, CAMERA], ids=["rendered", "raw"])
def test_a_local_shift_agrees_with_that_of_the_whole_frame(mired, camera):
    rgb = np.random.default_rng(1).random((50, 3))
    plain = resolved(camera, kelvin=4800.0)
    whole = balanced(rgb, plain.model_copy(update={"shift": mired}), camera)
    local = shifted(balanced(rgb, plain, camera), mired)
    np.testing.assert_allclose(local, whole, atol=1e-5)


@pytest.mark.parametrize("mired", [-0.02, 0.02])
def test_the_smallest_shift_of_a_rendered_original_counts(mired):
    """A code of 16 bits is 1.5e-5 of white."""
    whole = STAGE.prepare(resolved(shift=mired), signal())
    alone = LOCAL.prepare(LocalWhiteBalance(shift=mired), signal())
    assert np.abs(alone - np.eye(3)).max() > 1e-5
    np.testing.assert_allclose(whole, alone, atol=1e-6)


@pytest.mark.parametrize("mired", [-200.0, 200.0])
@pytest.mark.parametrize("kelvin", [1000.0, 40000.0])
def test_the_ends_of_the_ranges_are_lights(mired, kelvin):
    parameters = resolved(kelvin=kelvin, duv=0.0, shift=mired)
    assert np.isfinite(balanced([[0.2, 0.2, 0.2]], parameters)).all()


def test_no_local_shift_is_no_step():
    assert LOCAL.prepare(LocalWhiteBalance(), signal()) is None


def test_white_keeps_its_light():
    """Adaptation maps white to white at equal luminance, so balancing is no exposure."""
    luminance = spaces.rgb_to_xyz(spaces.WORKING)[1]
    assert shifted([[1, 1, 1]], 80.0)[0] @ luminance == pytest.approx(1, abs=1e-5)


@pytest.mark.parametrize(("brightest", "sound"), [(0.979, True), (0.981, False)])
def test_a_sampled_place_may_come_near_white_so_far(brightest, sound):
    """From 0.98 of white up a channel may have clipped; common practice, no source."""
    planes = np.full((3, 4, 4), 0.3)
    planes[1, 2, 2] = brightest
    if sound:
        assert resolved(CAMERA, planes, neutral=[0.5, 0.5])
        return
    with pytest.raises(OriginalError, match="no pixel at 0.98 of white or above"):
        resolved(CAMERA, planes, neutral=[0.5, 0.5])
