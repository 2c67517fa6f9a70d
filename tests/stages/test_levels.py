"""Levels: where black and white land."""

import numpy as np
import pytest

from frames_in_memory import planes_of, signal
from grading.stages.levels import STAGE, WHITE_STOPS, Levels

EXAMPLE = {"black": -9.5, "white": 3.0}
ALONE = [{"black": -8.0}, {"white": 2.0}]

STOPS = np.linspace(-14, 8, 89)


def level(light, **keys):
    grey = planes_of(np.repeat(np.atleast_1d(light)[:, None], 3, axis=1))
    return STAGE.apply(grey, STAGE.prepare(Levels(**keys), signal()))[0, 0].astype(np.float64)


def test_nothing_stated_is_no_step():
    assert STAGE.prepare(Levels(), signal()) is None


def test_white_is_two_and_a_half_stops_above_middle_grey():
    """log2(1 / 0.18) = 2.4739."""
    assert pytest.approx(2.4739, abs=5e-5) == WHITE_STOPS


@pytest.mark.parametrize("black", [-14.0, -9.0, -3.0, -1.0])
@pytest.mark.parametrize("white", [0.5, 2.0, 8.0])
def test_black_and_white_land_where_stated(black, white):
    ends = 0.18 * np.exp2([black, white])
    np.testing.assert_allclose(level(ends, black=black, white=white), [0, 1], atol=1e-6)


def test_only_white_is_an_exposure():
    light = 0.18 * np.exp2(STOPS)
    np.testing.assert_allclose(level(light, white=WHITE_STOPS - 1), 2 * light, rtol=1e-6)


def test_only_black_leaves_white():
    np.testing.assert_allclose(level([1.0], black=-4.0), [1], atol=1e-7)


def test_a_straight_line():
    light = np.linspace(0, 3, 50)
    assert np.abs(np.diff(level(light, black=-4.0, white=3.0), 2)).max() < 1e-6
