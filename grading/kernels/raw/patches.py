"""Small patches of the green sites of a mosaic: how bright, how rough, and what of it is finest.

Both greens form one lattice, turned by 45 degrees, whose rows and columns are the mosaic's
diagonals.  A patch is 4x4 of its sites.  Of its orthonormal cosine transform (Ahmed, Natarajan and
Rao, IEEE Trans. Computers C-23, 1974) the four highest coefficients are kept, and the energies of
its bends and of the rest.  Taking them apart lets noise be read from patches that
were chosen for being quiet (Ponomarenko, Lukin, Zriakhov, Kaarna and Astola, "An automatic approach
to lossy compression of AVIRIS images", IGARSS 2007); the lattice is ours.
"""

import numpy as np

from grading.kernels.primitives import compiled, fma, inner

SIDE = 4
"""Sites of a patch each way."""
COSINES = np.array(
    [
        [np.cos(np.pi * (2 * place + 1) * order / 8) / (2 if order == 0 else 2**0.5)
         for place in range(SIDE)]
        for order in range(SIDE)
    ],
    np.float32,
)  # fmt: skip
BENDS = ((0, 2), (2, 0))
FINEST = ((2, 2), (2, 3), (3, 2), (3, 3))
"""Orders of coefficients along rows and columns."""
KEPT = BENDS + FINEST
PLANES = 3 + len(FINEST)
ZERO = np.float32(0)


@compiled
def green_patches(mosaic, corner, step, black, lowest, highest):
    """Measures of evenly spread patches, one after another along rows.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
    corner : tuple of int
        Row and column of the first patch's first green site; the column is at least `SIDE` - 1.
    step : int
        Rows, and columns, from one patch to the next; even.
    black : tuple of float
        Level in counts of the first site's green, and of the other.
    lowest, highest : int
        Patches with a count at or below the one, or at or above the other, get a level of -1.

    Returns
    -------
    ndarray, shape (PLANES, rows of patches, columns of patches), float32
        In counts: the mean, with the first green's black in it; the mean squares of the two
        coefficients `BENDS` and of the nine others; the four finest.
    """
    rows = max((mosaic.shape[0] - corner[0] - 2 * SIDE + 1) // step + 1, 0)
    columns = max((mosaic.shape[1] - corner[1] - SIDE) // step + 1, 0)
    out = np.zeros((PLANES, rows, columns), np.float32)
    own, ends = np.zeros(columns, np.float32), np.zeros((2, columns), np.uint16)
    kept = np.zeros((len(KEPT), columns), np.float32)
    for row in range(rows):
        first = mosaic[corner[0] + row * step, corner[1] :]
        _begin(first, step, ends, kept)
        for i in range(SIDE):
            for j in range(SIDE):
                line = mosaic[corner[0] + row * step + i + j, corner[1] + i - j :]
                raised = np.float32(black[0] - black[(i + j) % 2])
                _gather(line, first, step, raised, own, ends)
                _add(own, out[0, row], out[2, row])
                for kind in range(len(KEPT)):
                    weight = COSINES[KEPT[kind][0], i] * COSINES[KEPT[kind][1], j]
                    _add_weighted(own, weight, kept[kind])
        _end(kept, out[0, row], out[1, row], out[2, row], out[3:, row])
        _level(first, step, ends, lowest, highest, out[0, row])
    return out


@inner
def _begin(first, step, ends, kept):
    for x in range(ends.shape[1]):
        ends[0, x] = ends[1, x] = first[x * step]
    for kind in range(len(KEPT)):
        for x in range(ends.shape[1]):
            kept[kind, x] = ZERO


@inner
def _gather(line, first, step, raised, own, ends):
    """Sites as they differ from the first of their patch, so that squares keep their digits."""
    low, high = ends[0], ends[1]
    for x in range(own.size):
        count = line[x * step]
        own[x] = np.float32(np.int32(count) - np.int32(first[x * step])) + raised
        low[x] = count if count < low[x] else low[x]
        high[x] = count if count > high[x] else high[x]


@inner
def _add(own, total, squares):
    for x in range(own.size):
        total[x] += own[x]
        squares[x] = fma(own[x], own[x], squares[x])


@inner
def _add_weighted(own, weight, total):
    for x in range(own.size):
        total[x] = fma(own[x], weight, total[x])


@inner
def _end(kept, total, bends, squares, finest):
    """Sums and coefficients become means; the rest is what these leave of the squares."""
    mean, half, ninth = np.float32(1 / 16), np.float32(1 / 2), np.float32(1 / 9)
    a, b, c, d, e, f = kept[0], kept[1], kept[2], kept[3], kept[4], kept[5]
    for x in range(total.size):
        bent = fma(a[x], a[x], b[x] * b[x])
        fine = fma(c[x], c[x], d[x] * d[x]) + fma(e[x], e[x], f[x] * f[x])
        rest = squares[x] - fma(mean * total[x], total[x], bent + fine)
        squares[x] = ninth * (rest if rest > ZERO else ZERO)
        bends[x], total[x] = half * bent, mean * total[x]
    for kind in range(len(FINEST)):
        for x in range(total.size):
            finest[kind, x] = kept[len(BENDS) + kind, x]


@inner
def _level(first, step, ends, lowest, highest, mean):
    for x in range(mean.size):
        level = mean[x] + np.float32(first[x * step])
        usable = (ends[0, x] > lowest) & (ends[1, x] < highest)
        mean[x] = level if usable else np.float32(-1)
