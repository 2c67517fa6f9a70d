"""The camera model against its own definition, and with spectra against true colours."""

import numpy as np
import pytest

from grading.colour.adaptation import cat16
from grading.colour.camera import (
    calibration_weights,
    camera_to_working,
    neutral_to_xy,
    xy_to_neutral,
    xyz_to_camera,
)
from grading.colour.spaces import D65, WORKING, rgb_to_xyz, uv_to_xy, xy_to_uv, xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy, xy_to_kelvin_duv
from grading.frame import Calibration, Camera

WARM = np.array([[0.95, -0.25, -0.05], [-0.40, 1.30, 0.12], [-0.05, 0.20, 0.65]])
COLD = np.array([[0.75, -0.15, -0.10], [-0.45, 1.25, 0.22], [-0.10, 0.25, 0.55]])


def camera(*calibrations):
    return Camera(tuple(Calibration(*c) for c in calibrations), np.ones(3))


TWO = camera((2856.0, WARM), (6504.0, COLD))
ONE = camera((6504.0, COLD))
LAMP = kelvin_duv_to_xy(4100.0, -0.001)


def with_third(xyz_to_camera, xy=LAMP):
    lights = [(2856.0, WARM), (6504.0, COLD)]
    pair = [(kelvin, matrix, kelvin_duv_to_xy(kelvin)) for kelvin, matrix in lights]
    return camera(*pair, (xy_to_kelvin_duv(xy)[0], xyz_to_camera, xy))


THREE = with_third(np.diag([0.97, 1, 1.04]) @ (WARM + COLD) / 2)
each_camera = pytest.mark.parametrize(
    "cam", [ONE, TWO, THREE], ids=["one light", "two lights", "three lights"]
)


def test_matrix_is_interpolated_in_reciprocal_kelvin():
    """Digital Negative specification: linear in 1/T between the lights, the nearer outside.

    Only under bluer light is it left; a single calibration counts everywhere."""
    middle, low, high = kelvin_duv_to_xy([2 / (1 / 2856 + 1 / 6504), 2000, 20000])
    np.testing.assert_allclose(xyz_to_camera(TWO, middle), (WARM + COLD) / 2, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(xyz_to_camera(TWO, low), WARM)
    np.testing.assert_array_equal(xyz_to_camera(ONE, low), COLD)
    np.testing.assert_array_equal(xyz_to_camera(ONE, high), COLD)


def twin_beyond(xy):
    """`TWO` under a bluer light, written out again."""
    mired, distance = 1e6 / xy_to_kelvin_duv(xy)[0], 0.05
    duv = xy_to_kelvin_duv(xy)[1]
    near = 1 - (duv / distance) ** 2
    own = 1e6 / 6504
    beyond = 0.85 * near * min((own - mired) / (1e6 / 2856 - own), 1)
    share = near * (own - mired) / 330
    light, lamp, day = (xy_to_xyz(each) for each in (xy, *kelvin_duv_to_xy([2856, 6504])))
    rows = []
    for matrix, white in ((WARM, lamp), (COLD, day)):
        with_xyz = np.diag(1 / (matrix @ light)) @ matrix
        with_camera = np.diag(1 / (matrix @ white)) @ matrix @ cat16(light, white)
        rows.append((1 - share) * with_xyz + share * with_camera)
    neutral = (COLD @ light) * ((COLD @ day) / (WARM @ day)) ** beyond
    return np.diag(neutral) @ (rows[1] * (1 + beyond) - rows[0] * beyond)


@pytest.mark.parametrize("duv", [0.0, 0.0032, -0.03])
@pytest.mark.parametrize("kelvin", [6600.0, 9000.0, 20000.0, 90000.0])
def test_under_bluer_light_the_matrix_is_extrapolated(kelvin, duv):
    xy = kelvin_duv_to_xy(kelvin, duv)
    np.testing.assert_allclose(xyz_to_camera(TWO, xy), twin_beyond(xy), rtol=0, atol=1e-8)


@pytest.mark.parametrize("cam", [TWO, with_third((WARM + COLD) / 2)], ids=["two", "three"])
@pytest.mark.parametrize("duv", [-0.02, 0.0, 0.0032, 0.02])
def test_the_matrix_changes_without_a_jump(cam, duv):
    """Over the bluer calibration's light, and where a light stops being like daylight."""
    kelvin = 6504 + np.array([-1e-3, 1e-3])
    one, other = (xyz_to_camera(cam, xy) for xy in kelvin_duv_to_xy(kelvin, duv))
    np.testing.assert_allclose(one, other, rtol=0, atol=1e-5)


def test_far_from_the_locus_nothing_is_extrapolated():
    """CIE 015: from Duv 0.05 on a light has no temperature."""
    inside, outside = (kelvin_duv_to_xy(12000.0, duv) for duv in (0.04999, 0.05))
    np.testing.assert_allclose(xyz_to_camera(TWO, inside), COLD, rtol=0, atol=1e-3)
    assert (xyz_to_camera(TWO, inside) != COLD).any()
    np.testing.assert_allclose(xyz_to_camera(TWO, outside), COLD, rtol=0, atol=1e-9)


@pytest.mark.parametrize("blue", [-1.0, 0.1, 10.0])
def test_from_matrices_that_cannot_both_be_right_nothing_is_extrapolated(blue):
    blind = camera((2856.0, np.diag([1, 1, blue]) @ WARM), (6504.0, COLD))
    np.testing.assert_array_equal(xyz_to_camera(blind, kelvin_duv_to_xy(9000.0)), COLD)


def test_narrow_calibrations_are_not_carried_on_without_end():
    """By their own distance at most, though the light is eight times as far."""
    near = camera((6200.0, WARM), (6504.0, COLD))
    xy = kelvin_duv_to_xy(9000.0)
    ratio = (xyz_to_camera(near, xy) @ xy_to_xyz(xy)) / (COLD @ xy_to_xyz(xy))
    day = xy_to_xyz(kelvin_duv_to_xy(6504.0))
    duv = xy_to_kelvin_duv(xy)[1]
    limit = ((COLD @ day) / (WARM @ day)) ** (0.85 * (1 - (duv / 0.05) ** 2))
    np.testing.assert_allclose(ratio, limit, rtol=1e-9)


def test_a_third_calibration_counts_for_its_own_light():
    """And by a normal curve about it, of the tolerance of Duv in ANSI C78.377 (from memory)."""
    third = THREE.calibrations[2]
    np.testing.assert_array_equal(xyz_to_camera(THREE, LAMP), third.xyz_to_camera)
    for angle in np.arange(0, 2 * np.pi, 0.5):
        step = 0.006 * np.array([np.cos(angle), np.sin(angle)])
        xy = uv_to_xy(xy_to_uv(LAMP) + step)
        weights = calibration_weights(THREE.calibrations, xy)
        assert weights[2] == pytest.approx(np.exp(-0.5))
        assert sum(weights) == pytest.approx(1, abs=1e-15)
        alone = calibration_weights(TWO.calibrations, xy)
        assert weights[0] * alone[1] == pytest.approx(weights[1] * alone[0], abs=1e-15)


@pytest.mark.parametrize("kelvin", [1500.0, 2856.0, 6504.0, 20000.0])
def test_away_from_its_light_a_third_calibration_changes_nothing(kelvin):
    xy = kelvin_duv_to_xy(kelvin)
    np.testing.assert_allclose(xyz_to_camera(THREE, xy), xyz_to_camera(TWO, xy), atol=1e-6)


def test_a_third_calibration_leaves_a_close_neighbour_alone():
    xy = kelvin_duv_to_xy(2800.0, -0.0005)
    weights = calibration_weights(with_third(COLD, xy).calibrations, kelvin_duv_to_xy(2856.0))
    assert weights == pytest.approx((1, 0, 0), abs=0.02)


@pytest.mark.parametrize("kelvin", np.geomspace(1500, 20000, 12))
@pytest.mark.parametrize("red", [0.7, 0.9, 1.1, 1.4])
@pytest.mark.parametrize("own", [2800.0, 4100.0, 6600.0])
def test_a_neutral_is_explained_even_where_the_matrix_changes_fast(own, red, kelvin):
    """A lamp whose white the camera sees far from where the other matrices expect it."""
    cam = with_third(np.diag([red, 1, 2 - red]) @ (WARM + COLD) / 2, kelvin_duv_to_xy(own, -0.001))
    neutral = xy_to_neutral(TWO, kelvin_duv_to_xy(kelvin))
    found = xy_to_neutral(cam, neutral_to_xy(cam, neutral))
    np.testing.assert_allclose(found, neutral, rtol=0, atol=1e-8)


def test_the_third_light_is_found_from_its_neutral():
    for red in (0.7, 1.4):
        cam = with_third(np.diag([red, 1, 2 - red]) @ (WARM + COLD) / 2)
        np.testing.assert_allclose(neutral_to_xy(cam, xy_to_neutral(cam, LAMP)), LAMP, atol=1e-12)


@each_camera
@pytest.mark.parametrize("duv", [-0.02, 0.0, 0.02])
@pytest.mark.parametrize("kelvin", [2000.0, 2900.0, 4300.0, 6500.0, 15000.0, 40000.0])
def test_light_is_found_again_from_its_neutral(cam, kelvin, duv):
    xy = kelvin_duv_to_xy(kelvin, duv)
    neutral = xy_to_neutral(cam, xy)
    assert neutral.max() == 1
    np.testing.assert_allclose(neutral_to_xy(cam, 3 * neutral), xy, rtol=0, atol=1e-9)


@each_camera
@pytest.mark.parametrize("kelvin", [2000.0, 4300.0, 15000.0])
def test_neutral_becomes_neutral(cam, kelvin):
    xy = kelvin_duv_to_xy(kelvin, 0.005)
    neutral = xy_to_neutral(cam, xy)
    matrix = camera_to_working(cam, xy)
    np.testing.assert_allclose(matrix @ (neutral / neutral[1]), 1, rtol=1e-15)
    np.testing.assert_allclose(
        matrix.astype(np.float32) @ (neutral / neutral[1]).astype(np.float32), 1, rtol=1e-6
    )


def test_colours_pass_through_xyz_and_cat16():
    """A colour under the light: to the camera by the matrix, and back to its adapted XYZ."""
    xy = kelvin_duv_to_xy(3500, -0.004)
    xyz = np.array([0.4, 0.3, 0.2])
    seen = xyz_to_camera(TWO, xy) @ xyz
    white = xyz_to_camera(TWO, xy) @ xy_to_xyz(xy)
    expected = white[1] * cat16(xy_to_xyz(xy), xy_to_xyz(D65)) @ xyz
    found = rgb_to_xyz(WORKING) @ camera_to_working(TWO, xy) @ seen
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-12)


def test_true_colours_of_a_measured_camera():
    """A camera of published sensitivities looks at the colours of ISO 17321-1, all spectra
    as colour-science carries them.

    Matrices are fitted by least squares under A and D65 on half of the patches; the other
    half, under D50 which neither was fitted to, must come out right. The bounds are those
    of such a fit, no published figure.
    """
    from colour import MSDS_CMFS, SDS_ILLUMINANTS, SpectralShape
    from colour.characterisation import MSDS_CAMERA_SENSITIVITIES, SDS_COLOURCHECKERS

    from grading.colour.difference import delta_e_2000, xyz_to_lab

    shape = SpectralShape(380, 780, 5)

    def values(spectra):
        return spectra.copy().align(shape).values

    eye = values(MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    sensor = values(next(iter(MSDS_CAMERA_SENSITIVITIES.values())))
    chart = SDS_COLOURCHECKERS["ISO 17321-1"].values()
    patches = np.array([values(patch) for patch in chart])
    assert patches.shape == (24, 81)

    def seen(light):
        power = values(SDS_ILLUMINANTS[light])
        scale = power @ eye[:, 1]
        xyz, raw = (patches * power) @ eye / scale, (patches * power) @ sensor / scale
        return xyz, raw, power @ eye / scale, power @ sensor / scale

    def fitted(light):
        xyz, raw, white_xyz, white_raw = seen(light)
        weight = 100  # holds the white, as a calibration does
        left = np.vstack([xyz[::2], weight * white_xyz])
        right = np.vstack([raw[::2], weight * white_raw])
        return np.linalg.lstsq(left, right, rcond=None)[0].T

    cam = camera((2856.0, fitted("A")), (6504.0, fitted("D65")))
    xyz, raw, white_xyz, white_raw = seen("D50")
    xy = neutral_to_xy(cam, white_raw)
    assert xy_to_kelvin_duv(xy)[0] == pytest.approx(5002, abs=40)
    adapted = xyz @ cat16(white_xyz, xy_to_xyz(D65)).T
    found = raw / white_raw[1] @ camera_to_working(cam, xy).T @ rgb_to_xyz(WORKING).T
    difference = delta_e_2000(
        xyz_to_lab(found, xy_to_xyz(D65)), xyz_to_lab(adapted, xy_to_xyz(D65))
    )[1::2]
    assert difference.mean() < 1.3
    assert difference.max() < 4.2


@pytest.mark.parametrize("neutral", [[0, 1, 0.5], [-1, 1, 1], [np.nan, 1, 1], [1, 1, np.inf]])
def test_neutral_must_be_light(neutral):
    with pytest.raises(ValueError, match="must be above 0 in all channels"):
        neutral_to_xy(TWO, neutral)


def test_neutral_of_no_light_is_refused():
    with pytest.raises(ValueError, match="not the colour of a light"):
        neutral_to_xy(TWO, [1e-6, 1e-6, 1])


def test_matrix_must_have_an_inverse():
    with pytest.raises(ValueError, match="cannot be inverted"):
        neutral_to_xy(camera((6504.0, np.ones((3, 3)))), [0.5, 1, 0.5])
    with pytest.raises(ValueError, match="cannot be inverted"):
        camera_to_working(camera((6504.0, np.ones((3, 3)))), D65)


@pytest.mark.parametrize(("last", "reported"), [(2e-5, False), (2e-7, True)])
def test_a_matrix_that_would_blow_up_noise_a_million_times_is_refused(last, reported):
    cam = camera((6504.0, np.diag([1.0, 0.9, last])))
    if reported:
        with pytest.raises(ValueError, match="cannot be inverted"):
            neutral_to_xy(cam, [0.5, 1, 0.5 * last])
    else:
        assert np.isfinite(camera_to_working(cam, D65)).all()


def test_light_out_of_range_is_refused():
    with pytest.raises(ValueError, match="out of the camera's range"):
        camera_to_working(TWO, (0.1, 0.8))
