"""CIE L*a*b* and CIEDE2000 against published pairs and colour-science."""

import numpy as np
import pytest

from grading.colour.adaptation import bradford
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.spaces import D65, SPACES, rgb_to_xyz, xy_to_xyz
from grading.colour.transfer import decode

# G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation
# notes, supplementary test data, and mathematical observations", Color Research and
# Application 30 (2005), table 1: both colours and their difference.
PAIRS = np.array(
    [
        [50.0000, 2.6772, -79.7751, 50.0000, 0.0000, -82.7485, 2.0425],
        [50.0000, 3.1571, -77.2803, 50.0000, 0.0000, -82.7485, 2.8615],
        [50.0000, 2.8361, -74.0200, 50.0000, 0.0000, -82.7485, 3.4412],
        [50.0000, -1.3802, -84.2814, 50.0000, 0.0000, -82.7485, 1.0000],
        [50.0000, -1.1848, -84.8006, 50.0000, 0.0000, -82.7485, 1.0000],
        [50.0000, -0.9009, -85.5211, 50.0000, 0.0000, -82.7485, 1.0000],
        [50.0000, 0.0000, 0.0000, 50.0000, -1.0000, 2.0000, 2.3669],
        [50.0000, -1.0000, 2.0000, 50.0000, 0.0000, 0.0000, 2.3669],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0009, 7.1792],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0010, 7.1792],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0011, 7.2195],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0012, 7.2195],
        [50.0000, -0.0010, 2.4900, 50.0000, 0.0009, -2.4900, 4.8045],
        [50.0000, -0.0010, 2.4900, 50.0000, 0.0010, -2.4900, 4.8045],
        [50.0000, -0.0010, 2.4900, 50.0000, 0.0011, -2.4900, 4.7461],
        [50.0000, 2.5000, 0.0000, 50.0000, 0.0000, -2.5000, 4.3065],
        [50.0000, 2.5000, 0.0000, 73.0000, 25.0000, -18.0000, 27.1492],
        [50.0000, 2.5000, 0.0000, 61.0000, -5.0000, 29.0000, 22.8977],
        [50.0000, 2.5000, 0.0000, 56.0000, -27.0000, -3.0000, 31.9030],
        [50.0000, 2.5000, 0.0000, 58.0000, 24.0000, 15.0000, 19.4535],
        [50.0000, 2.5000, 0.0000, 50.0000, 3.1736, 0.5854, 1.0000],
        [50.0000, 2.5000, 0.0000, 50.0000, 3.2972, 0.0000, 1.0000],
        [50.0000, 2.5000, 0.0000, 50.0000, 1.8634, 0.5757, 1.0000],
        [50.0000, 2.5000, 0.0000, 50.0000, 3.2592, 0.3350, 1.0000],
        [60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644],
        [63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630],
        [61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731],
        [35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645],
        [22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373],
        [36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146],
        [90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441],
        [90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381],
        [6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377],
        [2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082],
    ]
)


def test_pairs_of_sharma_wu_and_dalal():
    first, second, published = PAIRS[:, :3], PAIRS[:, 3:6], PAIRS[:, 6]
    assert len(PAIRS) == 34
    # the hues of the 14th pair are 180 degrees apart but for rounding; the other way round
    # its difference is that of the 15th
    plain = np.arange(34) != 13
    for found in (delta_e_2000(first, second), delta_e_2000(second, first)):
        np.testing.assert_allclose(found[plain], published[plain], rtol=0, atol=6e-5)
        assert np.abs(found[13] - published[[13, 14]]).min() < 6e-5


def test_agrees_with_colour_science():
    from colour import XYZ_to_Lab
    from colour.difference import delta_E_CIE2000

    xyz = np.random.default_rng(4).random((2, 500, 3)) ** 3
    lab = xyz_to_lab(xyz, xy_to_xyz(D65))
    np.testing.assert_allclose(lab, XYZ_to_Lab(xyz, D65), rtol=0, atol=1e-10)
    np.testing.assert_allclose(delta_e_2000(*lab), delta_E_CIE2000(*lab), rtol=0, atol=1e-10)


def test_lab_of_white_black_and_the_straight_part():
    """ISO/CIE 11664-4: L* = 903.3 Y below Y = (6/29)^3, 8 at that point."""
    white = xy_to_xyz(D65)
    greys = np.array([0, 0.001, (6 / 29) ** 3, 1])[:, None] * white
    expected = np.zeros((4, 3))
    expected[:, 0] = 0, (29 / 3) ** 3 * 0.001, 8, 100
    np.testing.assert_allclose(xyz_to_lab(greys, white), expected, rtol=0, atol=1e-12)


def test_lab_of_the_web_platform_tests():
    """Web Platform Tests, css/css-color, lab-001.html: lab(46.2775 -47.5621 48.5837), under
    D50, is #008000."""
    green = rgb_to_xyz(SPACES["srgb"]) @ decode("srgb", [0, 128 / 255, 0])
    d50 = xy_to_xyz((0.3457, 0.3585))
    lab = xyz_to_lab(bradford(xy_to_xyz(D65), d50) @ green, d50)
    np.testing.assert_allclose(lab, [46.2775, -47.5621, 48.5837], rtol=0, atol=1e-2)


def test_no_difference_is_zero_and_shapes_broadcast():
    lab = np.random.default_rng(5).uniform(-100, 100, (3, 4, 3))
    lab[0, 0] = 50, 0, 0
    assert (delta_e_2000(lab, lab) == 0).all()
    assert delta_e_2000(lab, [50.0, 0, 0]).shape == (3, 4)
    assert np.isfinite(delta_e_2000(lab, [50.0, 0, 0])).all()
    assert delta_e_2000([50.0, 0, 0], [51.0, 0, 0]) == pytest.approx(1, abs=0.01)
