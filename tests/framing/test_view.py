"""The map between a picture and its frame, both ways and against plain geometry."""

import math

import numpy as np
import pytest

from grading.framing.view import View
from grading.region import Region
from lens.warps import rectilinear

VIEWS = [
    View(600, 400),
    View(600, 400, box=(0.1, 0.2, 0.7, 0.9)),
    View(600, 400, straighten=7.0, box=(0.2, 0.2, 0.8, 0.8)),
    View(400, 600, straighten=-3.0, keystone=(0.1, -0.2)),
    View(600, 400, straighten=2.0, warp=rectilinear((1.0, -0.08, 0.01, 0.0), (0.001, -0.002))),
]


@pytest.mark.parametrize("view", VIEWS)
def test_both_ways_undo_each_other(view):
    for place in ((0.0, 0.0), (1.0, 0.0), (0.3, 0.8), (0.5, 0.5)):
        assert view.to_picture(*view.to_frame(*place)) == pytest.approx(place, abs=1e-9)


def test_a_turn_is_anticlockwise_about_the_middle():
    """What lies to the right of the middle lies above it once turned by 90 degrees, or some."""
    view = View(600, 400, straighten=30.0)
    assert view.to_picture(0.5, 0.5) == pytest.approx((0.5, 0.5))
    x, y = view.to_picture(0.5 + 100 / 600, 0.5)
    expected = 100 * math.cos(math.pi / 6), -100 * math.sin(math.pi / 6)
    assert ((x - 0.5) * 600, (y - 0.5) * 400) == pytest.approx(expected)


def test_keystone_enlarges_an_edge_by_what_it_says():
    up = View(600, 400, keystone=(0.0, 0.2))
    left, right = up.to_picture(0.4, 0.0), up.to_picture(0.6, 0.0)
    assert right[0] - left[0] == pytest.approx(0.2 / (1 - 0.2))
    aside = View(600, 400, keystone=(-0.25, 0.0))
    top, bottom = aside.to_picture(0.0, 0.4), aside.to_picture(0.0, 0.6)
    assert bottom[1] - top[1] == pytest.approx(0.2 / (1 - 0.25))


def test_the_middle_keeps_its_scale():
    view = View(600, 400, straighten=5.0, keystone=(0.2, -0.1))
    a, b = view.to_picture(0.5, 0.5), view.to_picture(0.5 + 1e-6, 0.5)
    assert math.hypot((b[0] - a[0]) * 600, (b[1] - a[1]) * 400) == pytest.approx(6e-4, rel=1e-3)


def test_a_crop_is_of_whole_pixels():
    view = View(603, 401, box=(0.1, 0.2, 0.7, 0.9))
    assert view.crop == Region(81, 360, 61, 422) and view.size == (361, 279)
    assert View(10, 10, box=(0.41, 0.0, 0.49, 1.0)).size == (1, 10)


def test_what_is_needed_holds_all_that_is_seen():
    view = VIEWS[2]
    x, y = np.array([np.array(corner) * (600, 400) for corner in view.corners]).T
    needed = view.needed(2)
    assert needed.left <= x.min() - 1 and x.max() + 1 <= needed.right
    assert needed.top <= y.min() - 1 and y.max() + 1 <= needed.bottom
    assert needed.shape[0] * needed.shape[1] < 600 * 400


def test_a_grid_of_known_distortion_comes_out_straight():
    """Places of a grid, distorted by the formula worked out term by term here."""
    warp = rectilinear((1.02, -0.1, 0.03, -0.01), (0.002, -0.001), (0.52, 0.47))
    width, height = 600, 400
    view = View(width, height, warp=warp)
    cx, cy = 0.52 * width, 0.47 * height
    unit = math.hypot(cx, height - cy)
    for x in (20.0, 300.0, 570.0):
        for y in (15.0, 200.0, 390.0):
            dx, dy = (x - cx) / unit, (y - cy) / unit
            r = math.hypot(dx, dy)
            f = 1.02 - 0.1 * r**2 + 0.03 * r**4 - 0.01 * r**6
            seen_x = cx + unit * (dx * f + 0.002 * 2 * dx * dy - 0.001 * (r**2 + 2 * dx**2))
            seen_y = cy + unit * (dy * f - 0.001 * 2 * dx * dy + 0.002 * (r**2 + 2 * dy**2))
            assert view.pixels_to_frame(x, y) == pytest.approx((seen_x, seen_y))
            assert view.pixels_to_picture(seen_x, seen_y) == pytest.approx((x, y), abs=1e-6)
