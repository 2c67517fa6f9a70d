"""Calibration tags, combined as the DNG specification says."""

import struct

import numpy as np
import pytest

from grading.errors import OriginalError
from grading.files.metadata import dngtags, tifftags
from grading.files.metadata.tifftags import Tag

MATRIX = np.array([[0.9, -0.35, -0.05], [-0.4, 1.2, 0.25], [-0.05, 0.2, 0.55]])
CORRECTION = np.array([[1.02, 0, 0], [0, 1, 0.01], [0, 0, 0.97]])


def rationals(values, kind=tifftags.SRATIONAL):
    return Tag(kind, tuple((round(float(v) * 10000), 10000) for v in np.ravel(values)))


def light(code):
    return Tag(tifftags.SHORT, (code,))


def test_balance_and_correction_come_after_the_matrix():
    """DNG 1.4: XYZtoCamera = AnalogBalance * CameraCalibration * ColorMatrix."""
    main = {
        50721: rationals(MATRIX),
        50723: rationals(CORRECTION),
        50727: rationals([1.1, 1, 0.9], tifftags.RATIONAL),
        50778: light(21),
    }
    (calibration,) = dngtags.calibrations(main)
    expected = np.diag([1.1, 1, 0.9]) @ CORRECTION @ MATRIX
    np.testing.assert_allclose(calibration.xyz_to_camera, expected, atol=1e-9)


def test_a_correction_of_another_profile_does_not_count():
    main = {
        50721: rationals(MATRIX),
        50723: rationals(CORRECTION),
        50931: Tag(tifftags.ASCII, "body 1"),
        50932: Tag(tifftags.ASCII, "body 2"),
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


def stated(form, *numbers, order="<"):
    """IlluminantData of DNG 1.6: a SHORT that says which, then the numbers."""
    layout = "H4I" if form == 0 else f"HI{len(numbers) - 1}I"
    return Tag(tifftags.UNDEFINED, struct.pack(order + layout, form, *numbers), order)


def with_third(**changes):
    main = {
        50721: rationals(MATRIX),
        50778: light(21),
        50722: rationals(2 * MATRIX),
        50779: light(17),
        52531: rationals(3 * MATRIX),
        52529: light(255),
        52535: stated(0, 3756, 10000, 3723, 10000),
    }
    return main | {int(code[1:]): tag for code, tag in changes.items()}


def test_the_third_comes_last():
    found = dngtags.calibrations(with_third(_52530=rationals(CORRECTION)))
    assert [round(c.kelvin, -1) for c in found] == [2860, 6500, 4100]
    np.testing.assert_allclose(found[2].xy, [0.3756, 0.3723], rtol=1e-12)
    np.testing.assert_allclose(found[2].xyz_to_camera, CORRECTION @ (3 * MATRIX))
    np.testing.assert_allclose(found[0].xy, [0.4476, 0.4074], atol=1e-4)  # CIE 15, A
    np.testing.assert_allclose(found[1].xy, [0.3127, 0.3290], atol=1e-4)  # CIE 15, D65


def test_a_third_for_the_light_of_another_does_not_count():
    """DNG 1.6 demands three different lights."""
    for changes in ({"_52529": light(17)}, {"_52535": stated(0, 3127, 10000, 3290, 10000)}):
        assert len(dngtags.calibrations(with_third(**changes))) == 2


@pytest.mark.parametrize("order", ["<", ">"])
def test_lights_by_chromaticity_and_by_spectrum(order):
    """An even spectrum is CIE illuminant E, x = y = 1/3."""
    main = {50721: rationals(MATRIX), 50778: light(255)}
    main[52533] = stated(0, 1, 3, 1, 3, order=order)
    by_xy = dngtags.calibrations(main)[0]
    main[52533] = stated(1, 3, 380, 1, 100, 1, 7, 2, 7, 2, 7, 2, order=order)
    by_spectrum = dngtags.calibrations(main)[0]
    np.testing.assert_allclose(by_xy.xy, 1 / 3)
    np.testing.assert_allclose(by_spectrum.xy, 1 / 3, atol=1e-3)
    assert by_xy.kelvin == pytest.approx(5455, abs=2)  # CIE 15, from memory


def test_the_byte_order_of_a_file_holds_inside_a_tag():
    light = stated(0, 1, 3, 1, 3, order=">").values
    head = struct.pack(">2sHIHHHIII", b"MM", 42, 8, 1, 52533, tifftags.UNDEFINED, len(light), 26, 0)
    (main,) = tifftags.read_chain(head + light)
    main |= {50721: rationals(MATRIX), 50778: Tag(tifftags.SHORT, (255,))}
    np.testing.assert_allclose(dngtags.calibrations(main)[0].xy, 1 / 3)


@pytest.mark.parametrize(
    "data",
    [
        Tag(tifftags.UNDEFINED, b""),
        Tag(tifftags.UNDEFINED, b"\0" * 9),
        Tag(tifftags.ASCII, "daylight"),
        stated(0, 1, 3, 1, 0),
        stated(0, 1, 3, 9, 10),
        stated(2, 3, 1, 3),
        stated(1, 2**32 - 1, 380, 1, 100, 1, 7, 2, 7, 2),
        stated(1, 2, 380, 1, 100, 1, 0, 2, 0, 2),
    ],
)
def test_an_unsound_statement_of_a_light_counts_as_d65(data):
    main = {50721: rationals(MATRIX), 50778: light(255), 52533: data}
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
    for tag in (rationals(np.ones(12)), Tag(tifftags.SRATIONAL, ((1, 0),) * 9)):
        with pytest.raises(OriginalError, match="tag 50721 .* usable numbers"):
            dngtags.calibrations({50721: tag})


def doubles(*values):
    return Tag(12, values)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ((1e-4, 2e-7), (1e-4, 2e-7)),
        ((9.0, 9.0, 1e-4, 2e-7, 8.0, 8.0), (1e-4, 2e-7)),
        ((9.0, 9.0, 1e-4, 2e-7, 7.0, 7.0, 8.0, 8.0), (1e-4, 2e-7)),
        ((1e-4,), None),
        ((1e-4, 2e-7, 1e-4, 2e-7), None),
    ],
)
def test_the_noise_profile_is_that_of_green(values, expected):
    """DNG 1.4, NoiseProfile: a pair for all planes, or one for each in the order of the planes."""
    main, picture = {50706: Tag(tifftags.BYTE, b"\1\4\0\0")}, {51041: doubles(*values)}
    assert dngtags.noise_profile([main, picture]) == expected
    assert dngtags.noise_profile([main | picture]) == expected


def test_only_a_dng_has_a_noise_profile():
    assert dngtags.noise_profile([{51041: doubles(1e-4, 2e-7)}]) is None
    assert dngtags.noise_profile([{50706: Tag(tifftags.BYTE, b"\1\4\0\0")}]) is None
