"""The measure of sharpness itself, where the answer is known."""

import numpy as np
import pytest

from slanted_edge import edge, half_response, overshoot, profile, response


@pytest.mark.parametrize("deviation", [0.6, 0.7, 1.0])
def test_a_gaussian_and_a_square_pixel_have_the_response_that_theory_gives(deviation):
    """MTF(f) = exp(-2 (pi deviation f)^2) sinc f."""
    plane = edge(deviation)
    frequencies, found = response(profile(plane))
    exact = np.exp(-2 * np.square(np.pi * deviation * frequencies)) * np.sinc(frequencies)
    assert np.abs(found - exact)[frequencies < 0.5].max() < 0.02
    fine = np.linspace(0, 0.6, 60001)
    exact = np.exp(-2 * np.square(np.pi * deviation * fine)) * np.sinc(fine)
    assert half_response(plane) == pytest.approx(fine[np.argmin(np.abs(exact - 0.5))], rel=0.01)


def test_an_edge_without_overshoot_has_none_and_one_with_it_what_was_put_there():
    plane = edge(0.7)
    assert np.abs(overshoot(plane)).max() < 1e-3
    from_edge = edge(2.0) - edge(0.7)
    raised = plane - from_edge
    assert overshoot(raised)[0] == pytest.approx(-from_edge[100, 100:130].min() / 0.3, abs=0.1)
    assert overshoot(raised)[0] > 0.05
