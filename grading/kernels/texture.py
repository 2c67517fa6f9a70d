"""Colour texture: where a colour has more beside its line than noise explains, whatever side of a
place is looked at.

Texture as weak as noise cannot be told from it pixel by pixel, but over a few hundred pixels its
energy adds to that of noise, which is known. What is left of that sum is the share of an empirical
Wiener filter, of which Stein's "Estimation of the mean of a multivariate normal distribution",
Annals of Statistics 9:1135, 1981, tells why no truth is needed. An edge adds to it too, so a place
has texture only if windows on all sides of it do, and what stands out of the noise by itself, which
`own_colours` keeps, does not count. Of stronger texture so much stands out that the rest tells
little: there most blocks of a window have more than noise has, which no edge makes, whatever stands
out. Windows are so large that they are made of blocks, at a quarter of the frame's size.
"""

from grading.kernels.guided import EVEN
from grading.kernels.halves import halve_rows
from grading.kernels.primitives import aligned, borrowing, clamp, f32, fma, inner, u64
from grading.kernels.regions import halved

FAR, SIDE = 3, 1
"""Blocks of 2x2 pixels in each direction that a window has about its middle, and from a place to
the middle of a window on each side."""

REACH = 2 * (FAR + SIDE) + 1
"""Pixels in each direction that a place depends on."""

PLAIN, LED = f32(1.05), f32(0.33)
"""Energy of noise beside its line, in the variance that it has there, and what a line takes of that
where the luminance has detail; measured on grey pictures."""

FALSE, TINTED = f32(0.1), f32(3)
"""What false colours add to it for each variance of a site's noise that diagonal detail has, and
how much more in light that is not grey, for each share by which the noise of its luminance exceeds
a grey's; measured on pictures of one hue."""

RISES = f32(1.5)
"""What the noise of colours rises by for each such share; measured on flat colours."""

FROM, FADE = f32(1.15), f32(0.25)
"""Energy, in that of noise, from which a place has texture, and how much more makes it count fully;
ours."""

MOST, CERTAIN, SOON = f32(2), f32(1.55), f32(0.2)
"""Energy that a block counts for at most if all of it counts, the mean of such from which a place
has texture, and how much more makes it count fully; ours. White noise makes a mean of 0.945."""


@borrowing
def gather_row(
    half, slopes, rest, spread, false, excess, beside, y, odd, line, lines, wide, blocks
):
    """Take a row of what colours have beside their lines, and fill the blocks that end with it.

    Parameters
    ----------
    half : ndarray, shape (3, rows, columns), float32
        The luminance and both colours, with their noise.
    slopes, rest
        What `guided.follow` makes of them.
    spread, false, excess : ndarray, shape (columns,) or more, float32
        Of this row: the variance of the luminance, the energy of diagonal detail, and by what noise
        exceeds a grey's.
    beside : ndarray, shape (2,), float32
        Variance of each colour's noise beside its line.
    y, odd
        The row, and how many rows and columns the first block lacks.
    line, lines, wide : ndarray, shapes (columns,), (3, 2, columns), (2 * blocks,), float32
        Room. `lines` has the energies of both colours and what does not stand out, 0..1, of the
        rows of a block; the latter of this row is given.
    blocks : ndarray, shape (5, rows, columns) of blocks, float32
        The energy of both colours that does not stand out, in that of noise; all of it, up to
        `MOST`; and what does not stand out.
    """
    rows, here = half.shape[1], (y + odd[0]) % 2
    _expect(spread, false, excess, line)
    for k in range(2):
        _beyond(
            half[0, y], half[1 + k, y], slopes[k, y], rest[k, y], line, f32(1) / beside[k],
            lines[k, here],
        )  # fmt: skip
    if here == 1 or y == rows - 1:
        block, first = (y + odd[0]) // 2, here if y == 0 else 0
        halve_rows(lines[2, first], lines[2, here], odd[1], wide, blocks[4, block])
        for k in range(2):
            halve_rows(lines[k, first], lines[k, here], odd[1], wide, blocks[k, block])
            _weigh(blocks[4, block], blocks[k, block], blocks[2 + k, block])


@inner
def _expect(spread, false, excess, out):
    """One over the energy that noise and false colours have."""
    for x in range(out.size):
        more, whole = excess[x] if excess[x] > f32(0) else f32(0), spread[x] + EVEN
        plain = fma(fma(TINTED, more, FALSE), false[x], fma(RISES, more, PLAIN))
        out[x] = whole / fma(plain, whole, -LED * spread[x])


@inner
def _beyond(light, colour, slope, rest, expected, scale, out):
    for x in range(out.size):
        away = colour[x] - fma(slope[x], light[x], rest[x])
        out[x] = (away * away) * (scale * expected[x])


@inner
def _weigh(unseen, energy, bounded):
    for x in range(energy.size):
        whole = energy[x]
        bounded[x] = min(whole, MOST)
        energy[x] = whole * unseen[x]


@inner
def find_texture(blocks, within, odd):
    """How surely both colours have texture.

    Parameters
    ----------
    blocks : ndarray, shape (5, rows, columns), float32
        From `gather_row`.
    within : tuple of int
        Region that is asked for: first row, row after the last, first column and column after the
        last, in the pixels that blocks are made of.
    odd : tuple of int
        Rows and columns of these that the first block lacks.

    Returns
    -------
    ndarray, shape (2, rows, columns), float32
        Of the blocks in that region, 0..1; twice for each, one beside the other.
    odd : tuple of int
        Rows and columns of these before the region.
    """
    first, last, low, high = halved(within, odd, (0, 0))
    out, means = aligned((2, last - first, 2 * (high - low))), aligned(blocks.shape)
    _tell(blocks, (first, low), means, aligned((2, blocks.shape[2] + 2 * FAR)), out)
    return out, ((odd[0] + within[0]) % 2, (odd[1] + within[2]) % 2)


@borrowing
def _tell(blocks, place, means, lines, out):
    (first, low), last, columns = place, blocks.shape[1] - 1, blocks.shape[2]
    for y in range(max(first - SIDE, 0), min(first + out.shape[1] + SIDE, last + 1)):
        for k in range(5):
            _window(blocks[k], y, lines[0], means[k, y])
        _per_unseen(means[0, y], means[1, y], means[4, y])
    for k in range(2):
        for y in range(out.shape[1]):
            up, under = max(first + y - SIDE, 0), min(first + y + SIDE, last)
            for i in range(2):
                _lesser(means[2 * i + k, up], means[2 * i + k, under], lines[i, SIDE:], columns)
                _repeat_ends(lines[i], SIDE, columns)
            one, other = lines[0, low:], lines[1, low:]
            _share(one, one[2 * SIDE :], other, other[2 * SIDE :], out[k, y])


@borrowing
def _window(plane, y, line, out):
    """Means of 7x7 blocks about a row, the outermost repeated."""
    last = plane.shape[0] - 1
    _seventh(
        plane[max(y - 3, 0)], plane[max(y - 2, 0)], plane[max(y - 1, 0)], plane[y],
        plane[min(y + 1, last)], plane[min(y + 2, last)], plane[min(y + 3, last)],
        line[FAR : FAR + out.size],
    )  # fmt: skip
    _repeat_ends(line, FAR, out.size)
    _seventh(line, line[1:], line[2:], line[3:], line[4:], line[5:], line[6:], out)


@inner
def _repeat_ends(line, margin, count):
    for x in range(margin):
        line[x], line[margin + count + x] = line[margin], line[margin + count - 1]


@inner
def _seventh(a, b, c, d, e, g, h, out):
    for x in range(out.size):
        out[x] = f32(1 / 7) * (((a[x] + h[x]) + (b[x] + g[x])) + ((c[x] + e[x]) + d[x]))


@inner
def _per_unseen(first, second, unseen):
    """Where little is left that does not stand out, its energy is told by half of what there is."""
    for x in range(unseen.size):
        whole = f32(1) / fma(f32(0.5), unseen[x], f32(0.5))
        first[x], second[x] = first[x] * whole, second[x] * whole


@inner
def _lesser(a, b, out, count):
    for x in range(count):
        out[x] = min(a[x], b[x])


@inner
def _share(a, b, c, d, out):
    """What the least of all sides tells, twice for each block."""
    for x in range(u64(out.size // 2)):
        share = (min(a[x], b[x]) - FROM) * (f32(1) / FADE)
        share = max(share, (min(c[x], d[x]) - CERTAIN) * (f32(1) / SOON))
        share = clamp(share, f32(0), f32(1))
        out[x + x], out[x + x + u64(1)] = share, share
