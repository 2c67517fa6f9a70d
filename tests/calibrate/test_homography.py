"""Perspectives from points, and points through perspectives."""

import numpy as np
import pytest

from grading.calibrate.homography import homography, project

TRUE = np.array([[90.0, 12.0, 300.0], [-8.0, 85.0, 200.0], [0.01, -0.02, 1.0]])
POINTS = np.random.default_rng(3).uniform(0, 6, (24, 2))


def test_points_are_divided_by_their_scale():
    assert project(TRUE, (1.0, 2.0)) == pytest.approx([414 / 0.97, 362 / 0.97])


@pytest.mark.parametrize("count", [4, 24])
def test_a_perspective_is_found_again(count):
    found = homography(POINTS[:count], project(TRUE, POINTS[:count]))
    assert found / found[2, 2] == pytest.approx(TRUE, rel=1e-6)


def test_errors_of_the_points_average_out():
    rng = np.random.default_rng(4)
    errors = []
    for _ in range(50):
        seen = project(TRUE, POINTS) + rng.normal(0, 1, POINTS.shape)
        errors.append(project(homography(POINTS, seen), POINTS) - project(TRUE, POINTS))
    # 8 numbers from 48 that are independent leave a share of 8/48 of their variance
    assert np.square(errors).mean() == pytest.approx(8 / 48, rel=0.2)
