"""Weights of shapes against their geometry in double precision."""

import numpy as np
import pytest

from cut_pieces import PIECES, cuts
from grading import kernels
from kernels.guards import ODD_SHAPES

ROWS, COLUMNS = 41, 67


def rise(t):
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)


def ramp_twin(y0, y1, x0, x1, end, way, feather):
    y, x = np.mgrid[y0:y1, x0:x1].astype(np.float64)
    t = (x - end[0]) * way[0] + (y - end[1]) * way[1]
    return rise((t - 0.5) / feather + 0.5)


def oval_twin(y0, y1, x0, x1, centre, radius, turn, feather):
    y, x = np.mgrid[y0:y1, x0:x1].astype(np.float64)
    right, up = x - centre[0], centre[1] - y
    along = np.hypot(right, up)
    angle = np.arctan2(up, right) - turn
    u, v = along * np.cos(angle) / radius[0], along * np.sin(angle) / radius[1]
    return rise((1 - np.hypot(u, v)) / feather + 0.5)


WORK = {
    "ramp": (kernels.mask.ramp, ramp_twin, ((60.2, 5.1), (-0.016, 0.009), 0.7)),
    "hard ramp": (kernels.mask.ramp, ramp_twin, ((10.3, 5.1), (0.05, 0.01), 1e-4)),
    "oval": (kernels.mask.oval, oval_twin, ((30.2, 18.7), (25.0, 9.0), 0.6, 0.5)),
}


@pytest.mark.parametrize("name", WORK)
def test_agrees_with_double_precision(name):
    kernel, twin, shape = WORK[name]
    weights = kernel(0, ROWS, 0, COLUMNS, *shape)
    # a hard edge multiplies what rounding leaves by ten thousand
    np.testing.assert_allclose(
        weights, twin(0, ROWS, 0, COLUMNS, *shape), atol=2e-3 if "hard" in name else 1e-5
    )
    assert weights.dtype == np.float32 and 0 <= weights.min() < weights.max() <= 1


@pytest.mark.parametrize("name", ["ramp", "oval"])
def test_odd_shapes_far_from_the_corner(name):
    kernel, twin, shape = WORK[name]
    for rows, columns in ODD_SHAPES:
        tile = (11, 11 + rows, 23, 23 + columns)
        np.testing.assert_allclose(kernel(*tile, *shape), twin(*tile, *shape), atol=2e-5)


@pytest.mark.parametrize("name", ["ramp", "oval"])
@pytest.mark.parametrize("feather", [0.0, 1e-9])
def test_without_a_fade_there_is_whole_and_nothing(name, feather):
    """Also where a pixel stands on the edge itself, where it is half."""
    if name == "oval":
        weights = kernels.mask.oval(0, 21, 0, 21, (10.0, 10.0), (5.0, 5.0), 0.0, feather)
        edge = weights[10, 5], weights[15, 10]
    else:
        weights = kernels.mask.ramp(0, 5, 0, 21, (5.0, 0.0), (0.1, 0.0), feather)
        edge = weights[:, 10]
    assert set(np.unique(weights)) == {0.0, 0.5, 1.0}
    np.testing.assert_array_equal(edge, 0.5)


@pytest.mark.parametrize("name", WORK)
@pytest.mark.parametrize("pieces", PIECES)
def test_pieces_agree_bit_for_bit(name, pieces):
    kernel, _, shape = WORK[name]
    whole = kernel(0, ROWS, 0, COLUMNS, *shape)
    for y0, y1, x0, x1 in cuts(ROWS, COLUMNS, pieces):
        np.testing.assert_array_equal(kernel(y0, y1, x0, x1, *shape), whole[y0:y1, x0:x1])


VALUES = np.linspace(-3, 3, ROWS * COLUMNS, dtype=np.float32).reshape(ROWS, COLUMNS)


@pytest.mark.parametrize(
    ("above", "below", "feather"),
    [(-1.0, 1.5, 0.7), (-np.inf, 0.3, 0.2), (0.3, np.inf, 2.0), (0.0, 0.1, 1.0)],
)
def test_a_window_agrees_with_double_precision(above, below, feather):
    values = VALUES.astype(np.float64)
    exact = rise((values - above) / feather + 0.5) * rise((below - values) / feather + 0.5)
    weights = kernels.mask.window(VALUES, above, below, feather)
    assert weights.dtype == np.float32 and weights.max() > 0
    np.testing.assert_allclose(weights, exact, atol=1e-5)


def test_a_window_of_no_feather_is_whole_or_nothing():
    assert set(np.unique(kernels.mask.window(VALUES, -1.003, 1.003, 0.0))) == {0.0, 1.0}


def test_a_hue_agrees_with_double_precision():
    """Against the angle itself; the table is linear between its steps."""
    rng = np.random.default_rng(1)
    a, b = rng.normal(0, 0.05, (2, ROWS, COLUMNS)).astype(np.float32)
    steps = kernels.diamond.diamond_degrees(1440)
    table = (0.5 + 0.5 * np.cos(np.radians(steps - 70))).astype(np.float32)
    degrees = np.degrees(np.arctan2(b.astype(np.float64), a))
    exact = (0.5 + 0.5 * np.cos(np.radians(degrees - 70))) * rise(np.hypot(a, b) / 0.03)
    np.testing.assert_allclose(kernels.mask.hue(a, b, table, 0.03), exact, atol=2e-5)
    assert kernels.mask.hue(0 * a, 0 * b, table, 0.03).max() == 0
