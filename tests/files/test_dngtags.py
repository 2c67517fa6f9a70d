"""Calibration tags, combined as the DNG specification says."""

import numpy as np
import pytest

from grading.errors import OriginalError
from grading.files import dngtags, tiff
from grading.files.tiff import Tag

MATRIX = np.array([[0.9, -0.35, -0.05], [-0.4, 1.2, 0.25], [-0.05, 0.2, 0.55]])
CORRECTION = np.array([[1.02, 0, 0], [0, 1, 0.01], [0, 0, 0.97]])


def rationals(values, kind=tiff.SRATIONAL):
    return Tag(kind, tuple((round(float(v) * 10000), 10000) for v in np.ravel(values)))


def light(code):
    return Tag(tiff.SHORT, (code,))


def test_balance_and_correction_come_after_the_matrix():
    """DNG 1.4: XYZtoCamera = AnalogBalance * CameraCalibration * ColorMatrix."""
    main = {
        50721: rationals(MATRIX),
        50723: rationals(CORRECTION),
        50727: rationals([1.1, 1, 0.9], tiff.RATIONAL),
        50778: light(21),
    }
    (calibration,) = dngtags.calibrations(main)
    expected = np.diag([1.1, 1, 0.9]) @ CORRECTION @ MATRIX
    np.testing.assert_allclose(calibration.xyz_to_camera, expected, atol=1e-9)


def test_a_correction_of_another_profile_does_not_count():
    main = {
        50721: rationals(MATRIX),
        50723: rationals(CORRECTION),
        50931: Tag(tiff.ASCII, "body 1"),
        50932: Tag(tiff.ASCII, "body 2"),
    }
    np.testing.assert_allclose(dngtags.calibrations(main)[0].xyz_to_camera, MATRIX)


@pytest.mark.parametrize(
    ("code", "kelvin"), [(17, 2856), (20, 5503), (21, 6504), (22, 7504), (23, 5003), (24, 3200)]
)
def test_standard_illuminants(code, kelvin):
    """Correlated colour temperatures of CIE 15; ISO studio tungsten of ISO 7589."""
    main = {50721: rationals(MATRIX), 50778: light(code)}
    assert dngtags.calibrations(main)[0].kelvin == kelvin


def test_an_unknown_light_counts_as_d65():
    for main in ({50721: rationals(MATRIX)}, {50721: rationals(MATRIX), 50778: light(255)}):
        assert dngtags.calibrations(main)[0].kelvin == 6504


def test_two_matrices_for_one_light_are_one():
    main = {50721: rationals(MATRIX), 50722: rationals(MATRIX), 50778: light(21), 50779: light(21)}
    assert len(dngtags.calibrations(main)) == 1


@pytest.mark.parametrize(
    "matrix", [np.zeros((3, 3)), np.ones((3, 3)), np.full((3, 3), np.nan), np.diag([1, 1, 0])]
)
def test_matrices_that_cannot_be(matrix):
    with pytest.raises(OriginalError, match="the camera matrix is"):
        dngtags.checked_matrix(matrix)


def test_a_matrix_of_another_size_or_over_zero_is_told():
    for tag in (rationals(np.ones(12)), Tag(tiff.SRATIONAL, ((1, 0),) * 9)):
        with pytest.raises(OriginalError, match="tag 50721 .* usable numbers"):
            dngtags.calibrations({50721: tag})
