"""The camera model against its own definition, and with spectra against true colours."""

import numpy as np
import pytest

from grading.colour.adaptation import cat16
from grading.colour.camera import (
    camera_to_working,
    neutral_to_xy,
    xy_to_neutral,
    xyz_to_camera,
)
from grading.colour.spaces import D65, WORKING, rgb_to_xyz, xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy, xy_to_kelvin_duv
from grading.frame import Calibration, Camera

WARM = np.array([[0.95, -0.25, -0.05], [-0.40, 1.30, 0.12], [-0.05, 0.20, 0.65]])
COLD = np.array([[0.75, -0.15, -0.10], [-0.45, 1.25, 0.22], [-0.10, 0.25, 0.55]])


def camera(*calibrations):
    return Camera(tuple(Calibration(*c) for c in calibrations), np.ones(3))


TWO = camera((2856.0, WARM), (6504.0, COLD))
ONE = camera((6504.0, COLD))


def test_matrix_is_interpolated_in_reciprocal_kelvin():
    """Digital Negative specification: linear in 1/T between the lights, the nearer outside."""
    middle = 2 / (1 / 2856 + 1 / 6504)
    np.testing.assert_allclose(xyz_to_camera(TWO, middle), (WARM + COLD) / 2, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(xyz_to_camera(TWO, 2000), WARM)
    np.testing.assert_array_equal(xyz_to_camera(TWO, 20000), COLD)
    np.testing.assert_array_equal(xyz_to_camera(ONE, 3000), COLD)


@pytest.mark.parametrize("cam", [ONE, TWO], ids=["one light", "two lights"])
@pytest.mark.parametrize("duv", [-0.02, 0.0, 0.02])
@pytest.mark.parametrize("kelvin", [2000.0, 2900.0, 4300.0, 6500.0, 15000.0])
def test_light_is_found_again_from_its_neutral(cam, kelvin, duv):
    xy = kelvin_duv_to_xy(kelvin, duv)
    neutral = xy_to_neutral(cam, xy)
    assert neutral.max() == 1
    np.testing.assert_allclose(neutral_to_xy(cam, 3 * neutral), xy, rtol=0, atol=1e-9)


@pytest.mark.parametrize("cam", [ONE, TWO], ids=["one light", "two lights"])
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
    kelvin, _ = xy_to_kelvin_duv(xy)
    xyz = np.array([0.4, 0.3, 0.2])
    seen = xyz_to_camera(TWO, kelvin) @ xyz
    white = xyz_to_camera(TWO, kelvin) @ xy_to_xyz(xy)
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


def test_light_out_of_range_is_refused():
    with pytest.raises(ValueError, match="out of the camera's range"):
        camera_to_working(TWO, (0.1, 0.8))
