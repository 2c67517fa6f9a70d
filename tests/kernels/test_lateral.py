"""A shift of colours against the same in double precision, between guard bands."""

import numpy as np
import pytest

from grading.kernels.delays import STEPS, WEIGHTS
from grading.kernels.lateral import MOST, ROWS, RUNS, Shift, shift_colours
from grading.kernels.light import mix
from grading.region import Region
from kernels.guards import ODD_SHAPES, guarded

RADIAL = (0.014, 0.001, -0.002, 0.0003, 0.0, 0.0, 0.0001)
TOP, LEFT = 5, 11


def shift_of(run):
    """A shift that changes in a run of any length by about as much."""
    part = 16 / run
    radial = tuple(part * each for each in RADIAL)
    return Shift(31.0, 22.5, 60.0, radial, 0.002 * part, -0.003 * part, run)


def moved(shift, column, row):
    """How far to the right and down a pixel is taken from."""
    u, v = (column + 0.5 - shift.x) / shift.unit, (row + 0.5 - shift.y) / shift.unit
    square = u * u + v * v
    factor = np.polynomial.polynomial.polyval(np.sqrt(square), shift.radial)
    factor = factor + 2 * (shift.s * u + shift.t * v)
    return (
        (u * factor + square * shift.s) * shift.unit,
        (v * factor + square * shift.t) * shift.unit,
    )


def between_nodes(shift, column, row):
    """The same, straight from one of the rows for which shifts are found to the next."""
    above, share = row - row % ROWS, row % ROWS / ROWS
    ends = [np.array(moved(shift, column, at)) for at in (above, above + ROWS)]
    return ends[0] + share * (ends[1] - ends[0])


def line_twin(line, shifts):
    """A line of light with each pixel taken from where it is; `shifts` are at its pixels, as those
    of both ends of their run and the share of the way from one to the other."""
    out = np.empty(line.size)
    table, steps = WEIGHTS.astype(float), STEPS
    for i, (before, after, share) in enumerate(shifts):
        whole = int(np.floor((before + after) / 2))
        ends = [table[int(np.floor((s - whole) * steps + 0.5)) + steps // 2]
                for s in (before, after)]  # fmt: skip
        near = line[np.clip(i + whole - 2 + np.arange(6), 0, line.size - 1)]
        total = ((1 - share) * ends[0] + share * ends[1]) @ near
        low, high = near[1:5].min(), near[1:5].max()
        more = abs(low) / 8
        out[i] = min(max(total, low - more), high + more)
    return out


def shift_twin(plane, region, shift):
    """Along the rows, then down the columns, pixel by pixel."""
    rows, columns = plane.shape
    column = np.arange(region.left, region.right)
    begin = column - column % shift.run
    share = (column - begin) / shift.run
    ends = [
        [between_nodes(shift, at, row) for at in (begin, begin + shift.run)]
        for row in range(region.top, region.bottom)
    ]
    across = np.stack([
        line_twin(plane[y].astype(float), zip(ends[y][0][0], ends[y][1][0], share, strict=True))
        for y in range(rows)
    ])  # fmt: skip
    return np.stack([
        line_twin(across[:, x], [(ends[y][0][1][x], ends[y][1][1][x], share[x])
                                 for y in range(rows)])
        for x in range(columns)
    ], axis=1)  # fmt: skip


def light(shape, seed=0):
    return np.random.default_rng(seed).normal(0.3, 0.2, shape).astype(np.float32)


@pytest.mark.parametrize("run", RUNS)
def test_a_shift_agrees_with_double_precision(run):
    rgb, region = light((3, 40, 70)), Region(TOP, TOP + 40, LEFT, LEFT + 70)
    out = shift_colours(rgb, region, region, None, shift_of(run))
    np.testing.assert_array_equal(out[:2], rgb[:2])
    np.testing.assert_allclose(out[2], shift_twin(rgb[2], region, shift_of(run)), atol=1e-6)


def test_a_shift_goes_no_farther_than_the_largest():
    far = Shift(0.0, 0.0, 1.0, (9.0, 0, 0, 0, 0, 0, 0), 0.0, 0.0, 16)
    ramp = np.broadcast_to(np.arange(90, dtype=np.float32), (3, 90, 90)).copy()
    whole = Region.whole(90, 90)
    out = shift_colours(ramp, whole, whole, far, None)
    np.testing.assert_allclose(out[0, :, 16:50] - ramp[0, :, 16:50], MOST, atol=1e-4)


@pytest.mark.parametrize("shifts", [(None, None), (shift_of(32), shift_of(128))])
def test_a_matrix_is_as_one_that_comes_after(shifts):
    rgb, region = light((3, 24, 70)), Region(TOP, TOP + 24, LEFT, LEFT + 70)
    matrix = np.array([[1.6, -0.5, -0.1], [-0.2, 1.4, -0.2], [0.1, -0.6, 1.5]], np.float32)
    together = shift_colours(rgb, region, region, *shifts, matrix)
    apart = mix(shift_colours(rgb, region, region, *shifts), matrix)
    np.testing.assert_array_equal(together, apart)


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_nothing_beyond_a_picture_is_touched(shape):
    region = Region(TOP, TOP + shape[0], LEFT, LEFT + shape[1])
    shifts = shift_of(32), shift_of(128)
    guarded(lambda rgb: shift_colours(rgb, region, region, *shifts), light((3, *shape)))
