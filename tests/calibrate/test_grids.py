"""Grids among areas, with some missing and others astray."""

import numpy as np

from grading.calibrate.areas import Areas
from grading.calibrate.grids import LEAST, grids
from grading.calibrate.homography import project

PERSPECTIVE = np.array([[40.0, 6.0, 80.0], [-5.0, 38.0, 90.0], [0.01, 0.015, 1.0]])
PLACES = np.array([(x, y) for y in range(4) for x in range(6)])


def areas_at(centres, size=700):
    return Areas(np.asarray(centres, float), np.full(len(centres), size))


def largest(areas):
    return max(grids(areas), key=len, default={})


def is_affine(grid, numbers):
    """Whether columns and rows are those of the places, up to where they begin and a turn."""
    found = np.array([*grid])
    true = PLACES[[numbers[each] for each in grid.values()]]
    step = np.linalg.lstsq(np.c_[true, np.ones(len(true))], found, rcond=None)[0]
    return np.allclose(np.c_[true, np.ones(len(true))] @ step, found) and np.allclose(
        abs(np.linalg.det(step[:2])), 1
    )


def test_all_of_a_grid_in_perspective_is_found():
    grid = largest(areas_at(project(PERSPECTIVE, PLACES)))
    assert len(grid) == 24
    assert is_affine(grid, range(24))


def test_columns_and_rows_are_right_handed():
    for grid in grids(areas_at(project(PERSPECTIVE, PLACES))):
        centres = {place: project(PERSPECTIVE, PLACES)[number] for place, number in grid.items()}
        corners = (p for p in centres if {(p[0] + 1, p[1]), (p[0], p[1] + 1)} <= {*centres})
        x, y = next(corners)
        across, down = centres[x + 1, y] - centres[x, y], centres[x, y + 1] - centres[x, y]
        assert across[0] * down[1] - across[1] * down[0] > 0


def test_a_grid_is_counted_along_its_sides_wherever_it_began():
    """The first area has no neighbour in its row, so it grows along a diagonal."""
    kept = [0, *range(2, 24)]
    for grid in grids(areas_at(project(PERSPECTIVE, PLACES[kept]))):
        spans = sorted(np.ptp([*grid], axis=0).tolist())
        assert (len(grid), spans) == (23, [3, 5])
        assert is_affine(grid, kept)


def test_gaps_are_gone_around_and_strays_left_out():
    rng = np.random.default_rng(1)
    kept = [number for number in range(24) if number not in (7, 9, 16)]
    strays = rng.uniform((300, 10), (600, 60), (30, 2))
    grid = largest(areas_at(np.concatenate([project(PERSPECTIVE, PLACES[kept]), strays])))
    assert set(grid.values()) == set(range(21))
    assert is_affine(grid, kept)


def test_neighbours_of_another_size_do_not_count():
    centres = project(PERSPECTIVE, PLACES)
    sizes = np.where(np.arange(24) % 2, 700, 100)
    assert largest(Areas(centres, sizes)) == {}


def test_one_row_is_no_grid():
    row = [(50 * x, 100) for x in range(12)]
    assert largest(areas_at([*row, (3, 148)])) != {}  # one area beside it makes it one
    assert largest(areas_at([*row, (3, 300)])) == {}


def test_few_areas_are_no_grid():
    assert largest(areas_at(project(PERSPECTIVE, PLACES[: LEAST - 1]))) == {}
    assert largest(areas_at(np.zeros((0, 2)))) == {}
