"""Matrices between colour spaces against the standards' figures and colour-science."""

import numpy as np
import pytest

from grading.colour.spaces import (
    D65,
    SPACES,
    WORKING,
    rgb_to_rgb,
    rgb_to_xyz,
    uv_to_xy,
    xy_to_uv,
    xy_to_xyz,
    xyz_to_rgb,
    xyz_to_xy,
)

# W3C CSS Color Module Level 4, "Sample code for color conversions": exact ratios.
SRGB_TO_XYZ = [
    [506752 / 1228815, 87881 / 245763, 12673 / 70218],
    [87098 / 409605, 175762 / 245763, 12673 / 175545],
    [7918 / 409605, 87881 / 737289, 1001167 / 1053270],
]
P3_TO_XYZ = [
    [608311 / 1250200, 189793 / 714400, 198249 / 1000160],
    [35783 / 156275, 247089 / 357200, 198249 / 2500400],
    [0, 32229 / 714400, 5220557 / 5000800],
]
# ITU-R BT.2087-0, from BT.709 to BT.2020, and ITU-R BT.2020-2 table 4, luminance.
BT709_TO_BT2020 = [
    [0.6274, 0.3293, 0.0433],
    [0.0691, 0.9195, 0.0114],
    [0.0164, 0.0880, 0.8956],
]
BT2020_LUMINANCE = [0.2627, 0.6780, 0.0593]
# IEC 61966-2-5:2007, opRGB to XYZ.
OPRGB_TO_XYZ = [
    [0.57667, 0.18556, 0.18823],
    [0.29734, 0.62736, 0.07529],
    [0.02703, 0.07069, 0.99134],
]


def test_srgb_is_that_of_css_color_4():
    np.testing.assert_allclose(rgb_to_xyz(SPACES["srgb"]), SRGB_TO_XYZ, rtol=1e-13)


def test_display_p3_is_that_of_css_color_4():
    np.testing.assert_allclose(rgb_to_xyz(SPACES["display-p3"]), P3_TO_XYZ, rtol=0, atol=1e-15)


def test_oprgb_is_that_of_the_standard():
    np.testing.assert_allclose(rgb_to_xyz(SPACES["oprgb"]), OPRGB_TO_XYZ, rtol=0, atol=1.1e-5)


def test_working_luminance_is_that_of_bt2020():
    np.testing.assert_allclose(rgb_to_xyz(WORKING)[1], BT2020_LUMINANCE, rtol=0, atol=5e-5)


def test_srgb_to_working_is_that_of_bt2087():
    found = rgb_to_rgb(SPACES["srgb"], WORKING)
    np.testing.assert_allclose(found, BT709_TO_BT2020, rtol=0, atol=5.1e-5)


@pytest.mark.parametrize(
    ("name", "theirs"),
    [("srgb", "sRGB"), ("display-p3", "Display P3"), ("bt2020", "ITU-R BT.2020")],
)
def test_primaries_and_derived_matrices_are_those_of_colour_science(name, theirs):
    from colour import RGB_COLOURSPACES
    from colour.models import normalised_primary_matrix

    reference = RGB_COLOURSPACES[theirs]
    matrix = normalised_primary_matrix(reference.primaries, reference.whitepoint)
    np.testing.assert_allclose(rgb_to_xyz(SPACES[name]), matrix, rtol=0, atol=1e-12)


@pytest.mark.parametrize("name", SPACES)
def test_equal_rgb_is_the_white(name):
    space = SPACES[name]
    np.testing.assert_allclose(rgb_to_xyz(space) @ np.ones(3), xy_to_xyz(D65), rtol=0, atol=1e-15)
    np.testing.assert_allclose(rgb_to_rgb(space, WORKING).sum(axis=1), 1, rtol=0, atol=1e-14)
    np.testing.assert_allclose(xyz_to_rgb(space) @ rgb_to_xyz(space), np.eye(3), rtol=0, atol=1e-14)


def test_chromaticities_return():
    xy = np.random.default_rng(1).uniform(0.1, 0.5, (2, 5, 2))
    xyz = xy_to_xyz(xy)
    assert xyz.shape == (2, 5, 3)
    assert (xyz[..., 1] == 1).all()
    np.testing.assert_allclose(xyz_to_xy(7 * xyz), xy, rtol=0, atol=1e-15)


def test_cie_1960_chromaticities():
    from colour import UCS_uv_to_xy, xy_to_UCS_uv

    xy = np.random.default_rng(2).uniform(0.1, 0.5, (2, 5, 2))
    np.testing.assert_allclose(xy_to_uv(xy), xy_to_UCS_uv(xy), rtol=0, atol=1e-12)
    np.testing.assert_allclose(uv_to_xy(xy), UCS_uv_to_xy(xy), rtol=0, atol=1e-12)
    np.testing.assert_allclose(uv_to_xy(xy_to_uv(xy)), xy, rtol=0, atol=1e-14)
