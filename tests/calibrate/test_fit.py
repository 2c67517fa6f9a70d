"""The fit: what was put into the patches comes out, and white is kept exactly."""

import numpy as np
import pytest

from grading.calibrate.chart import CENTRES, WHITE, reference
from grading.calibrate.fit import _in_tolerances, fit, measure
from grading.colour.difference import delta_e_2000, xyz_to_lab

COLOURS = reference()
NEUTRAL = np.array([0.55, 1.0, 0.7])
MATRIX = np.array([[0.6, 0.25, 0.1], [0.2, 0.95, -0.15], [0.02, -0.25, 1.3]])
MATRIX *= (WHITE / MATRIX.sum(axis=1))[:, None]
ACROSS, DOWN = ((CENTRES - CENTRES.mean(axis=0)) / (5, 3)).T


def patches_of(gain=0.6, fall=(0.0, 0.0), flare=(0.0, 0.0, 0.0), colours=COLOURS.xyz):
    """Camera light of the chart to a camera that is exact."""
    balanced = colours @ np.linalg.inv(MATRIX).T + flare
    light = gain * (1 + fall[0] * ACROSS + fall[1] * DOWN)
    return balanced * light[:, None] * NEUTRAL


def test_all_that_was_put_in_comes_out():
    flare = (0.004, 0.006, 0.012)
    found = fit(patches_of(0.4, (0.12, -0.07), flare), COLOURS)
    assert found.matrix == pytest.approx(MATRIX, abs=1e-4)
    assert found.neutral == pytest.approx(NEUTRAL, rel=1e-4)
    assert found.photograph.gain == pytest.approx(0.4, rel=1e-4)
    assert found.photograph.fall == pytest.approx((0.12, -0.07), abs=1e-4)
    assert found.photograph.flare == pytest.approx(flare, abs=1e-4)
    assert found.errors.max() < 0.01


@pytest.mark.parametrize("seed", range(5))
def test_white_is_kept_exactly_whatever_the_patches_are(seed):
    rng = np.random.default_rng(seed)
    found = fit(patches_of() * rng.uniform(0.9, 1.1, (24, 3)), COLOURS)
    assert found.matrix @ np.ones(3) == pytest.approx(WHITE, abs=1e-14)


def test_it_is_nearer_than_any_matrix_beside_it():
    """Colours that no matrix brings to the chart: cubed and balanced again."""
    seen = patches_of(colours=COLOURS.xyz**1.1)
    found = fit(seen, COLOURS)

    def error(matrix):
        there = measure(matrix, found.neutral, seen, COLOURS)
        return np.square(delta_e_2000(xyz_to_lab(there.xyz, WHITE), COLOURS.lab)).sum()

    least = error(found.matrix)
    rng = np.random.default_rng(2)
    for _ in range(20):
        change = rng.normal(0, 0.03, (3, 3))
        change -= change.mean(axis=1, keepdims=True)  # white is kept
        assert error(found.matrix + change) > 0.99 * least


def test_the_metric_is_that_of_ciede2000():
    """Small steps from the patches, but for blue, where hue and chroma turn into each other."""
    rng = np.random.default_rng(6)
    chroma = np.hypot(*COLOURS.lab[:, 1:].T)
    away = np.abs(np.degrees(np.arctan2(COLOURS.lab[:, 2], COLOURS.lab[:, 1])) % 360 - 275) > 50
    for _ in range(20):
        steps = rng.normal(0, 0.05, (24, 3))
        length = np.sqrt(np.square(_in_tolerances(steps, COLOURS.lab)).sum(axis=1))
        true = delta_e_2000(COLOURS.lab + steps, COLOURS.lab)
        assert (length / true)[away & (chroma > 25)] == pytest.approx(1, abs=0.08)


def test_noise_moves_the_matrix_by_no_more_than_its_share():
    """A hundredth of noise in each patch, as bad as 100 pixels at a tenth each."""
    rng = np.random.default_rng(8)
    found = [
        fit(patches_of() * (1 + rng.normal(0, 0.01, (24, 3))), COLOURS).matrix for _ in range(12)
    ]
    assert np.mean(found, axis=0) == pytest.approx(MATRIX, abs=0.02)
    colours = COLOURS.xyz @ np.linalg.inv(MATRIX).T
    shown = xyz_to_lab(np.array([colours @ matrix.T for matrix in found]), WHITE)
    assert delta_e_2000(shown, COLOURS.lab).mean() < 0.6


def test_a_given_matrix_is_measured_with_the_photograph_taken_out():
    seen = patches_of(0.3, (0.1, 0.05), (0.01, 0.01, 0.02))
    assert measure(MATRIX, NEUTRAL, seen, COLOURS).errors.max() < 0.01
    other = MATRIX + [[0.1, -0.1, 0], [0, 0, 0], [0, 0, 0]]
    assert measure(other, NEUTRAL, seen, COLOURS).errors.mean() > 1
