"""Drawn areas and lines: where they lie on the frame, straight and smooth."""

import numpy as np
import pytest
from pydantic import ValidationError

from grading.masks.drawn import line
from grading.masks.shape import Ground
from grading.masks.where import Where, prepare_mask
from grading.region import Region

AREA = [[0.25, 0.25], [0.75, 0.25], [0.75, 0.75], [0.25, 0.75]]


def weights(where, width=120, height=80):
    mask = prepare_mask(Where.model_validate(where), Ground(width, height))
    return mask(Region.whole(height, width), None)


@pytest.mark.parametrize("size", [(120, 80), (80, 120)])
def test_an_area_lies_where_its_points_say(size):
    plane = weights({"polygon": {"points": AREA, "feather": 0}}, *size)
    width, height = size
    inside = np.zeros((height, width), bool)
    inside[height // 4 : 3 * height // 4, width // 4 : 3 * width // 4] = True
    np.testing.assert_array_equal(plane > 0.5, inside)
    assert ((plane == 0) | (plane == 1)).mean() > 0.95


def test_feather_is_a_fraction_of_the_long_edge_about_the_outline():
    plane = weights({"polygon": {"points": AREA, "feather": 0.1}}, 1000, 500)
    row = plane[250]
    assert row[249:251].mean() == pytest.approx(0.5, abs=0.02)
    assert row[198] < 1e-9 < row[202] and row[298] < 1 == row[302]


def test_the_width_of_a_line_is_a_fraction_of_the_long_edge():
    straight = {"points": [[0.1, 0.5], [0.9, 0.5]], "width": 0.1, "feather": 0.02}
    for size in ((1000, 500), (500, 1000)):
        column = weights({"path": straight}, *size)[:, size[0] // 2]
        assert (column > 0.5).sum() == pytest.approx(100, abs=1)


def test_a_smooth_line_goes_through_its_points_and_makes_no_loop():
    points = [[0.1, 0.1], [0.15, 0.12], [0.9, 0.2], [0.5, 0.9]]
    ground = Ground(1000, 1000)
    for closed in (False, True):
        bent = line(points, ground, smooth=True, closed=closed)
        for x, y in points:
            assert np.hypot(*(bent - (1000 * x - 0.5, 1000 * y - 0.5)).T).min() < 1e-6
        turns = np.diff(np.unwrap(np.arctan2(*np.diff(bent, axis=0).T[::-1])))
        assert np.abs(turns).max() < np.pi / 4
        assert (bent[0] == bent[-1]).all() == closed


def test_a_smooth_line_of_two_points_is_straight():
    np.testing.assert_allclose(
        line([[0, 0], [1, 1]], Ground(10, 10), True, False), [[-0.5, -0.5], [9.5, 9.5]]
    )


def test_points_given_twice_change_nothing():
    twice = [AREA[0], *AREA, AREA[-1]]
    for smooth in (False, True):
        one, other = (
            weights({"polygon": {"points": points, "smooth": smooth}}) for points in (AREA, twice)
        )
        np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize(
    "where",
    [
        {"polygon": {"points": AREA[:2]}},
        {"polygon": {"points": [AREA[0]] * 3}},
        {"polygon": {"points": [*AREA, [0.5, 2.5]]}},
        {"polygon": {"points": AREA * 51}},
        {"path": {"points": AREA}},
        {"path": {"points": AREA[:1], "width": 0.1}},
        {"path": {"points": AREA, "width": 0.0}},
        {"lightness": {}},
        {"lightness": {"above": 1.0, "below": 1.0}},
        {"chroma": {"above": 0.2, "below": 0.1}},
        {"grow": 0.01},
        {"lightness": {"above": 1.0}, "grow": 0.06},
    ],
)
def test_what_is_no_mask_is_refused(where):
    with pytest.raises(ValidationError):
        Where.model_validate(where)
