"""The luminance of a tile without its noise: two passes, and coarse noise once more at half size.

The first pass keeps what stands out of the noise, the second weighs everything by what that shows.

What lies over more pixels than a block of `cosines` is large, its mean, keeps its noise there. Half
the size reaches twice as far; only what is as coarse is taken from it (as in Pierazzo, Morel and
Facciolo, IPOL 2017, 10.5201/ipol.2017.201, where finer levels follow coarser ones).
"""

import numpy as np

from grading.kernels import cosines, eight
from grading.kernels.groups import LANES
from grading.kernels.halves import add, diagonals, enlarge, halve
from grading.kernels.primitives import aligned, borrowing, f32, inner
from grading.kernels.regions import halved
from grading.kernels.stand_out import stand_out


@inner
def quieten(wide, limits, noise, rises, excess, place, wanted, near, far, top, left, clean):
    """The luminance without its noise, and at half size what both passes make of it.

    Regions are first row, row after the last, first column and column after the last.

    Parameters
    ----------
    wide : ndarray, shape (rows, columns), float32
        The luminance, with margins of `eight.REACH` pixels about `far`.
    limits : ndarray, shape (8, 8), float32
        What a frequency must exceed.
    noise : ndarray, shape (2, 8, 8), float32
        Variance of each frequency, at full and at half size.
    rises : ndarray, shape (8, 8), float32
        By how much that at full size rises with the excess, as a share of it.
    excess, place
        From `grading.kernels.excess.exceeding`.
    wanted, near, far : tuple of int
        Regions of what is asked for, of whole blocks of 2x2 about that, and of those whose
        luminance leads colours, or what there is of them.
    top, left : int
        Where in the frame `wide` begins.
    clean : ndarray, shape (rows, columns), float32
        Is written where it is wanted.

    Returns
    -------
    half : ndarray, shape (rows, columns) of half of `far` and margins, float32
        The first pass's result, the pilot.
    coarse : ndarray, shape (rows, columns) of half of `near`, float32
        The second pass's.
    diagonal : ndarray, shape (rows, columns) of half of `far`, float32
        Energy of what is diagonal in its blocks of 2x2 pixels.
    """
    pilot = aligned(wide.shape)
    stand_out(wide, limits, rises, excess, place, pilot, far, top, left)
    eight.mirror(pilot, far)
    cosines.refine(wide, pilot, noise[0], rises, excess, place, clean, near, top + 1, left + 1)
    half, fine = _halved(pilot, far, top, left), _halved(wide, far, top, left)
    diagonal = aligned((half.shape[0] - 2 * eight.REACH, half.shape[1] - 2 * eight.REACH))
    diagonals(pilot, far, (top + far[0]) % 2, (left + far[2]) % 2, diagonal)
    change, coarse = _coarse_change(fine, half, noise[1], near, far, top, left, clean)
    down, over = (top + near[0]) % 2, (left + near[2]) % 2
    line, full = aligned((change.shape[1] + 2,)), aligned((2 * change.shape[1],))
    _add_change(change, wanted, near, down, over, line, full, clean)
    return half, coarse, diagonal


@borrowing
def _add_change(change, wanted, near, down, over, line, full, clean):
    first, last = wanted[2], wanted[3]
    for y in range(wanted[0], wanted[1]):
        enlarge(change, y - near[0] + down, line, full)
        row = clean[y, first:last]
        add(row, full[over + first - near[2] :], row)


@inner
def _halved(plane, region, top, left):
    """A region at half size, in margins as if it were mirrored."""
    down, over = (top + region[0]) % 2, (left + region[2]) % 2
    rows, columns = region[1] - region[0], region[3] - region[2]
    shape = (rows + down + 1) // 2, (columns + over + 1) // 2
    half = aligned(shape)
    halve(plane, region, down, over, half)
    margin = eight.REACH
    wide = aligned((shape[0] + 2 * margin, shape[1] + 2 * margin))
    _inset(half, margin, wide)
    eight.mirror(wide, (margin, shape[0] + margin, margin, shape[1] + margin))
    return wide


@inner
def _coarse_change(fine, half, noise, near, far, top, left, clean):
    """By how much the second pass at half size differs from that at full size, and that pass."""
    margin = eight.REACH
    row, column = (top + far[0]) // 2 - margin, (left + far[2]) // 2 - margin
    region = halved(near, (top, left), (row, column))
    coarse, even = aligned(half.shape), np.zeros((8, 8), np.float32)
    none = aligned((half.shape[0] // 2 + 1, half.shape[1] // 2 + 1 + LANES))
    none[:] = f32(0)
    place = row // 2, column // 2
    cosines.refine(fine, half, noise, even, none, place, coarse, region, row, column)
    shape = region[1] - region[0], region[3] - region[2]
    change, result = aligned(shape), aligned(shape)
    halve(clean, near, (top + near[0]) % 2, (left + near[2]) % 2, change)
    _part_from(coarse, region, change, result)
    return change, result


@borrowing
def _inset(plane, margin, out):
    for y in range(plane.shape[0]):
        _copy(plane[y], out[y + margin, margin:])


@borrowing
def _part_from(coarse, region, change, result):
    for y in range(change.shape[0]):
        _copy(coarse[region[0] + y, region[2] : region[3]], result[y])
        _subtract(result[y], change[y])


@inner
def _copy(source, target):
    for x in range(source.size):
        target[x] = source[x]


@inner
def _subtract(values, out):
    for x in range(out.size):
        out[x] = values[x] - out[x]
