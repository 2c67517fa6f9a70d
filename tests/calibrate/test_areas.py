"""Even areas: told by their shape, whatever their angle."""

import numpy as np
import pytest

from grading.calibrate.areas import even_areas


def polygon(corners, size=240):
    """A picture of one plane: 0.5 within the corners, given clockwise, and texture without."""
    y, x = np.mgrid[0:size, 0:size] + 0.5
    inside = np.full((size, size), len(corners) > 0)
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        inside &= (x1 - x0) * (y - y0) >= (y1 - y0) * (x - x0)
    texture = (np.indices((size, size)).sum(axis=0) % 2).astype(float)
    return np.where(inside, 0.5, texture)[None]


SQUARE = np.array([(40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0)])


@pytest.mark.parametrize("degrees", range(0, 90, 15))
@pytest.mark.parametrize("narrow", [1.0, 0.6])
@pytest.mark.parametrize("sheared", [0.0, 0.4])
def test_a_patch_seen_from_any_side_is_an_area(degrees, narrow, sheared):
    turn = np.radians(degrees)
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    shape = np.array([[narrow, 0], [sheared, 1]])
    corners = (SQUARE - 50) * 1.6 @ shape @ rotation + 50
    areas = even_areas(polygon(corners), 0.1, 10)
    assert len(areas.sizes) == 1
    assert areas.centres[0] == pytest.approx(corners.mean(axis=0), abs=0.5)


def test_what_is_no_parallelogram_is_no_area():
    corner = polygon(SQUARE)
    corner[0, 48:60, 48:60] = polygon([])[0, 48:60, 48:60]
    assert len(even_areas(corner, 0.1, 10).sizes) == 0
    ring = polygon(SQUARE)
    ring[0, 46:54, 46:54] = 0.9
    assert len(even_areas(ring, 0.1, 10).sizes) == 1  # the middle, not the ring
    strip = np.array([(10.0, 40.0), (90.0, 40.0), (90.0, 50.0), (10.0, 50.0)])
    assert len(even_areas(polygon(strip), 0.1, 10).sizes) == 0


def test_a_large_ground_is_no_area():
    assert len(even_areas(np.full((3, 100, 100), 0.5), 0.1, 10).sizes) == 0


def test_even_means_within_the_tolerance_in_every_plane():
    slope = np.repeat(polygon(SQUARE), 3, axis=0)
    slope[1] += np.linspace(0, 6, 240)
    assert len(even_areas(slope, 0.1, 10).sizes) == 1
    assert len(even_areas(slope, 0.04, 10).sizes) == 0


def test_the_largest_come_first_and_only_so_many():
    picture = np.maximum(polygon(SQUARE), 0)
    picture[0, 80:90, 80:90] = 0.5
    both = even_areas(picture, 0.1, 10)
    assert (np.diff(both.sizes) < 0).all()
    assert even_areas(picture, 0.1, 1).centres.tolist() == both.centres[:1].tolist()
