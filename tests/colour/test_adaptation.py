"""Chromatic adaptation against published matrices and colour-science."""

import numpy as np

from grading.colour.adaptation import bradford, cat16
from grading.colour.spaces import D65, xy_to_xyz

D50 = (0.3457, 0.3585)
A = (0.44757, 0.40745)


def test_bradford_is_that_of_css_color_4():
    """W3C CSS Color Module Level 4, "Sample code for color conversions", D65 to D50."""
    published = [
        [1.0479297925449969, 0.022946870601609652, -0.05019226628920524],
        [0.02962780877005599, 0.9904344267538799, -0.017073799063418826],
        [-0.009243040646204504, 0.015055191490298152, 0.7518742814281371],
    ]
    found = bradford(xy_to_xyz(D65), xy_to_xyz(D50))
    np.testing.assert_allclose(found, published, rtol=0, atol=1e-9)


def test_bradford_is_that_of_lindbloom():
    """B. Lindbloom, "Chromatic adaptation", A (ASTM E308) to D65."""
    published = [
        [0.8446965, -0.1179225, 0.3948108],
        [-0.1366303, 1.1041226, 0.1291718],
        [0.0798489, -0.1348999, 3.1924009],
    ]
    found = bradford([1.09850, 1, 0.35585], [0.95047, 1, 1.08883])
    np.testing.assert_allclose(found, published, rtol=0, atol=6e-8)


def test_cat16_is_that_of_colour_science():
    from colour.adaptation import matrix_chromatic_adaptation_VonKries

    for source, target in ((D65, D50), (A, D65), (D50, D65)):
        source, target = xy_to_xyz(source), xy_to_xyz(target)
        for ours, name in ((cat16, "CAT16"), (bradford, "Bradford")):
            theirs = matrix_chromatic_adaptation_VonKries(source, target, transform=name)
            np.testing.assert_allclose(ours(source, target), theirs, rtol=0, atol=1e-8)


def test_white_goes_to_white_and_back():
    source, target = xy_to_xyz(A), 2 * xy_to_xyz(D65)
    for adapt in (cat16, bradford):
        np.testing.assert_allclose(adapt(source, target) @ source, target, rtol=0, atol=1e-14)
        np.testing.assert_allclose(
            adapt(target, source) @ adapt(source, target), np.eye(3), rtol=0, atol=1e-14
        )
        np.testing.assert_allclose(adapt(source, source), np.eye(3), rtol=0, atol=1e-15)
