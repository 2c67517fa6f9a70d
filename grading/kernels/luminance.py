"""The luminance of a tile without its noise: two passes, and coarse noise once more at half size.

What lies over more pixels than a block of `cosines` is large, its mean, keeps its noise there. Half
the size reaches twice as far; only what is as coarse is taken from it (as in Pierazzo, Morel and
Facciolo, IPOL 2017, 10.5201/ipol.2017.201, where finer levels follow coarser ones).
"""

from grading.kernels import cosines, eight
from grading.kernels.half_colours import add, enlarge, halve
from grading.kernels.primitives import aligned, inner

REACH = 26
"""Pixels in each direction that a pixel depends on: seven for the pilot, seven of half size, and
two of half size for the way there and back."""


@inner
def quieten(wide, limits, noise, top, left, pilot, clean):
    """The pilot, which is the first pass's result, and the luminance without its noise.

    Parameters
    ----------
    wide : ndarray, shape (rows + 2 * cosines.REACH, columns + 2 * cosines.REACH), float32
        The luminance, its margins filled by `eight.mirror`.
    limits : ndarray, shape (8, 8), float32
        What a frequency must exceed.
    noise : ndarray, shape (2, 8, 8), float32
        Variance of each frequency, at full and at half size.
    top, left : int
        Where in the frame the tile begins.
    pilot, clean : ndarray, shape (rows, columns), float32
        Are written.

    Returns
    -------
    ndarray, shape (rows, columns) of half size, float32
        The pilot at half size.
    """
    cosines.shrink(wide, limits, pilot, top, left)
    cosines.refine(wide, _widened(pilot), noise[0], clean, top + 1, left + 1)
    down, over = top & 1, left & 1
    rows, columns = clean.shape
    halves = (rows + down + 1) // 2, (columns + over + 1) // 2
    half, coarse, fine = aligned(halves), aligned(halves), aligned(halves)
    plane, margin = aligned((rows, columns)), cosines.REACH
    for y in range(rows):
        _copy(wide[y + margin, margin:], plane[y])
    halve(plane, down, over, fine)
    halve(pilot, down, over, half)
    cosines.refine(_widened(fine), _widened(half), noise[1], coarse, top // 2, left // 2)
    halve(clean, down, over, fine)
    line, full = aligned((halves[1] + 2,)), aligned((2 * halves[1],))
    for y in range(halves[0]):
        _subtract(fine[y], coarse[y])
    for y in range(rows):
        enlarge(coarse, y + down, over, line, full)
        add(clean[y], full[over:], clean[y])
    return half


@inner
def _widened(plane):
    margin = cosines.REACH
    rows, columns = plane.shape
    wide = aligned((rows + 2 * margin, columns + 2 * margin))
    for y in range(rows):
        _copy(plane[y], wide[y + margin, margin:])
    eight.mirror(wide)
    return wide


@inner
def _copy(source, target):
    for x in range(min(source.size, target.size)):
        target[x] = source[x]


@inner
def _subtract(values, out):
    for x in range(out.size):
        out[x] = out[x] - values[x]
