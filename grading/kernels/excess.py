"""How much more noise the luminance of coloured or of dim light has than that of a bright grey.

Demosaicing gives all channels the same detail, in linear light: each gets the noise of the sites of
all. On the root's scale a channel with little light shows much of what comes from one with more, so
the luminance of a colour is noisier than a grey's of the same light. What follows from that is

    (1/p + 2/q + 1/s)^2 / 16 * (r p^2 + g q^2 + b s^2)

for the deviations p, q and s of the channels' noise in light and the parts r, g and b that their
sites have in a grey's: 1 for a grey, and never much less.
"""

from grading.kernels.eight import BLOCK
from grading.kernels.groups import LANES
from grading.kernels.halves import halve
from grading.kernels.primitives import aligned, borrowing, f32, fma, inner, u64

BEFORE = BLOCK // 2 - 1
"""Blocks of 2x2 pixels before a tile from which a block of 8x8 may reach into it."""

DIM = f32(0.75)
"""By how much noise rises where light is dim, for each deviation of green that one electron is;
measured on flat greys from 2 to 800 electrons."""


@inner
def exceeding(light, within, colours, begin, sites, photon, root):
    """What of the noise of each block of 8x8 exceeds a bright grey's, as a share of that.

    Parameters
    ----------
    light : ndarray, float32
        The luminance.
    within : tuple of int
        Where in that the tile lies: first row, row after the last, first column and column after
        the last.
    colours : ndarray, shape (2, rows, columns), float32
        Both colours of the tile, as `grading.kernels.roots.part` makes them.
    begin : tuple of int
        Row and column of the frame where the tile begins.
    sites : ndarray, shape (3,), float32
        Parts that the sites of red, green and blue have in the variance of a grey; 1 together.
    photon, root : float32
        Variance of a site for each unit of light, and its deviation without light.

    Returns
    -------
    excess : ndarray, float32
        Of blocks that begin at even rows and columns of the frame, those that reach into the tile
        and one after; and columns for `LANES` more.
    place : tuple of int
        Half the row and the column of the frame where the first of these begins.
    """
    tile, (down, over) = (0, colours.shape[1], 0, colours.shape[2]), (begin[0] % 2, begin[1] % 2)
    rows, columns = (tile[1] + down + 1) // 2, (tile[3] + over + 1) // 2
    half = aligned((3, rows, columns))
    halve(light, within, down, over, half[0])
    halve(colours[0], tile, down, over, half[1])
    halve(colours[1], tile, down, over, half[2])
    out = aligned((rows + BEFORE + 1, columns + BEFORE + 1 + LANES))
    line, sums = aligned((columns + 2 * BEFORE + 1,)), aligned((3, columns + BEFORE + 1))
    _exceed_rows(half, line, sums, sites, photon, root, out)
    return out, (begin[0] // 2 - BEFORE, begin[1] // 2 - BEFORE)


@borrowing
def _exceed_rows(half, line, sums, sites, photon, root, out):
    rows = half.shape[1]
    for y in range(out.shape[0]):
        first, second = _within(y - 3, rows), _within(y - 2, rows)
        third, last = _within(y - 1, rows), _within(y, rows)
        for k in range(3):
            _sum_of_four(half[k, first], half[k, second], half[k, third], half[k, last], line)
            _across(line, sums[k])
        _exceed(sums[0], sums[1], sums[2], sites, photon, root, out[y])


@inner
def _within(row, rows):
    return min(max(row, 0), rows - 1)


@inner
def _sum_of_four(a, b, c, d, out):
    """Of four rows, the outermost values repeated."""
    for x in range(a.size):
        out[x + BEFORE] = (a[x] + b[x]) + (c[x] + d[x])
    last = a.size + BEFORE - 1
    for x in range(BEFORE):
        out[x] = out[BEFORE]
    for x in range(last + 1, out.size):
        out[x] = out[last]


@inner
def _across(line, out):
    """Sums of four side by side."""
    for x in range(u64(out.size)):
        out[x] = (line[x] + line[x + u64(1)]) + (line[x + u64(2)] + line[x + u64(3)])


@inner
def _exceed(y, u, v, sites, photon, root, out):
    """Of sums of 16 values."""
    red, green, blue = f32(sites[0] / 16), f32(sites[1] / 16), f32(sites[2] / 16)
    of_light, of_first, of_second = f32(3**-0.5 / 16), f32(2**-0.5 / 16), f32(6**-0.5 / 16)
    slope, dim = f32(0.5) * photon, DIM * photon
    for x in range(y.size):
        d, e = of_first * u[x], of_second * v[x]
        own = fma(f32(0.5), e, of_light * y[x])
        p, q, s = own + (d + e), fma(f32(-2), e, own), own + (e - d)
        p, q, s = _deviation(p, slope, root), _deviation(q, slope, root), _deviation(s, slope, root)
        pq, ps, qs = p * q, p * s, q * s
        inverse = f32(1) / (pq * s)
        shown = (fma(f32(2), ps, pq) + qs) * inverse
        made = fma(red * p, p, fma(green * q, q, blue * s * s))
        out[x] = fma(shown * shown * made, fma(dim, ps * inverse, f32(1)), f32(-1))
    for x in range(y.size, out.size):
        out[x] = f32(0)


@inner
def _deviation(value, slope, root):
    """Of a channel's noise in light, by its value on the root's scale."""
    return fma(slope, value if value > f32(0) else f32(0), root)
