"""Exposure: stops are powers of two."""

import numpy as np
import pytest

from frames_in_memory import colours_of, planes_of, signal, turn
from grading.colour import oklab
from grading.stages.exposure import STAGE, Exposure

EXAMPLE = {"stops": 0.6}
ALONE = [{"stops": 0.1}]


def expose(rgb, stops):
    return STAGE.apply(rgb, STAGE.prepare(Exposure(stops=stops), signal()))


def test_no_stops_is_no_step():
    assert STAGE.prepare(Exposure(), signal()) is None


@pytest.mark.parametrize("stops", [-10, -1, 3, 10])
def test_whole_stops_are_exact_powers_of_two(stops):
    """One stop is a factor of two (ISO 12232; the additive system of exposure, APEX)."""
    rgb = planes_of(np.random.default_rng(0).random((99, 3)))
    np.testing.assert_array_equal(expose(rgb, stops), rgb * np.float32(2.0**stops))


def test_a_third_of_a_stop():
    """Three thirds make a stop: nominal f-numbers and times go by 2^(1/3)."""
    rgb = planes_of([[0.18, 0.18, 0.18]])
    np.testing.assert_allclose(expose(rgb, 1 / 3), 0.18 * 1.259921, rtol=1e-6)


def test_hue_stays():
    rgb = np.random.default_rng(1).random((2000, 3))
    before = oklab.working_to_oklab(rgb)
    after = oklab.working_to_oklab(colours_of(expose(planes_of(rgb), 1.7)))
    chroma = np.hypot(before[:, 1], before[:, 2])
    assert np.abs(turn(oklab.hue(after), oklab.hue(before)))[chroma > 0.01].max() < 0.01


def test_saturation_stays():
    """Chroma over lightness does not depend on a common factor on linear light."""
    rgb = np.random.default_rng(1).random((2000, 3))
    before = oklab.working_to_oklab(rgb)
    after = oklab.working_to_oklab(colours_of(expose(planes_of(rgb), -2.3)))
    np.testing.assert_allclose(
        after[:, 1:] / after[:, :1], before[:, 1:] / before[:, :1], atol=1e-5
    )
