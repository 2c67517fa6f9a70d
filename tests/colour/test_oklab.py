"""Oklab against its author's table, the W3C's matrices and tests, and colour-science."""

import numpy as np
import pytest

from grading.colour.oklab import (
    LMS_TO_OKLAB,
    LMS_TO_WORKING,
    LMS_TO_XYZ,
    OKLAB_TO_LMS,
    WORKING_TO_LMS,
    hue,
    oklab_to_working,
    oklab_to_xyz,
    working_to_oklab,
    xyz_to_oklab,
)
from grading.colour.spaces import D65, SPACES, WORKING, rgb_to_rgb, rgb_to_xyz, xy_to_xyz
from grading.colour.transfer import encode


def test_table_of_the_author():
    """B. Ottosson, "A perceptual color space for image processing" (2020), test pairs."""
    xyz = [[0.950, 1.000, 1.089], [1, 0, 0], [0, 1, 0], [0, 0, 1]]
    lab = [
        [1.000, 0.000, 0.000],
        [0.450, 1.236, -0.019],
        [0.922, -0.671, 0.263],
        [0.153, -1.415, -0.449],
    ]
    np.testing.assert_allclose(xyz_to_oklab(xyz), lab, rtol=0, atol=1e-3)


def test_inverses_are_those_of_css_color_4():
    """W3C CSS Color Module Level 4, "Sample code for color conversions"."""
    lms_to_xyz = [
        [1.2268798758459243, -0.5578149944602171, 0.2813910456659647],
        [-0.0405757452148008, 1.1122868032803170, -0.0717110580655164],
        [-0.0763729366746601, -0.4214933324022432, 1.5869240198367816],
    ]
    oklab_to_lms = [
        [1.0000000000000000, 0.3963377773761749, 0.2158037573099136],
        [1.0000000000000000, -0.1055613458156586, -0.0638541728258133],
        [1.0000000000000000, -0.0894841775298119, -1.2914855480194092],
    ]
    np.testing.assert_allclose(LMS_TO_XYZ, lms_to_xyz, rtol=0, atol=1e-14)
    np.testing.assert_allclose(OKLAB_TO_LMS, oklab_to_lms, rtol=0, atol=1e-14)


@pytest.mark.parametrize(
    ("lab", "percent"),
    [
        # Web Platform Tests, css/css-color, oklab-*.html
        ((0.51975, -0.1403, 0.10768), (0, 50.196, 0)),
        ((0.5, 0.05, 0), (48.477, 34.29, 38.412)),
        ((0.7, -0.1, 0), (29.264, 70.096, 63.017)),
        ((0.7, 0, 0.125), (73.942, 60.484, 19.65)),
        ((0.55, 0, -0.2), (27.888, 38.072, 89.414)),
    ],
)
def test_encoded_srgb_of_the_web_platform_tests(lab, percent):
    srgb = rgb_to_rgb(WORKING, SPACES["srgb"]) @ oklab_to_working(lab)
    np.testing.assert_allclose(100 * encode("srgb", srgb), percent, rtol=0, atol=0.02)


def test_agrees_with_colour_science():
    """colour-science keeps the author's first, single precision matrices."""
    from colour import XYZ_to_Oklab

    xyz = np.random.default_rng(2).random((50, 3)) @ rgb_to_xyz(SPACES["srgb"]).T
    np.testing.assert_allclose(xyz_to_oklab(xyz), XYZ_to_Oklab(xyz), rtol=0, atol=2e-4)


def test_greys_of_the_working_light_have_no_chroma():
    greys = np.array([0.01, 0.18, 1.0, 8.0])[:, None] * np.ones(3)
    lab = working_to_oklab(greys)
    np.testing.assert_allclose(lab[:, 0], np.cbrt(greys[:, 0]), rtol=0, atol=1e-7)
    np.testing.assert_allclose(lab[:, 1:], 0, rtol=0, atol=1e-7)
    np.testing.assert_allclose(xyz_to_oklab(xy_to_xyz(D65)), [1, 0, 0], rtol=0, atol=1e-7)


def test_round_trips_and_negative_light():
    rgb = np.random.default_rng(3).uniform(-0.2, 2, (4, 5, 3))
    np.testing.assert_allclose(oklab_to_working(working_to_oklab(rgb)), rgb, rtol=0, atol=1e-13)
    np.testing.assert_allclose(oklab_to_xyz(xyz_to_oklab(rgb)), rgb, rtol=0, atol=1e-13)
    np.testing.assert_allclose(
        working_to_oklab(rgb), xyz_to_oklab(rgb @ rgb_to_xyz(WORKING).T), rtol=0, atol=1e-13
    )


def test_working_matrices_are_the_two_steps():
    """What the compiled primitives do: a matrix, a cube root, a matrix."""
    rgb = np.array([0.3, 0.2, 0.1])
    lab = LMS_TO_OKLAB @ np.cbrt(WORKING_TO_LMS @ rgb)
    np.testing.assert_allclose(lab, working_to_oklab(rgb), rtol=0, atol=1e-15)
    np.testing.assert_allclose(LMS_TO_WORKING @ (OKLAB_TO_LMS @ lab) ** 3, rgb, rtol=0, atol=1e-15)


def test_hue_goes_round_once():
    degrees = np.array([0, 1, 90, 179, 181, 270, 359.5])
    turned = np.radians(degrees)
    lab = np.stack([0.5 + 0 * turned, np.cos(turned), np.sin(turned)], axis=-1)
    np.testing.assert_allclose(hue(lab), degrees, rtol=0, atol=1e-12)
    assert hue([0.5, 0, 0]) == 0
    assert hue([0.5, 1, -1e-20]) == 0
