"""Colour texture: where a colour has more beside its line than noise explains, whatever side of a
place is looked at.

Texture as weak as noise cannot be told from it pixel by pixel, but over a few hundred pixels its
energy adds to that of noise, which is known. What is left of that sum is the share of an empirical
Wiener filter, of which Stein's "Estimation of the mean of a multivariate normal distribution",
Annals of Statistics 9:1135, 1981, tells why no truth is needed. An edge adds to it too, so a place
has texture only if windows on all sides of it do, and what stands out of the noise by itself, which
`own_colours` keeps, does not count.
"""

from grading.kernels.guided import EVEN, mean3
from grading.kernels.primitives import aligned, borrowing, clamp, f32, fma, inner

FIFTH, SIDE = 3, 3
"""Pixels from one to the next of the five means of 3x3, each way, that are a window; and from a
place to the middle of a window on each side."""

REACH = 1 + 2 * FIFTH + SIDE
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

FROM, FADE = f32(1.1), f32(0.3)
"""Energy, in that of noise, from which a place has texture, and how much more makes it count fully;
ours."""


@inner
def find_texture(
    half, slopes, rest, spread, false, unseen, excess, place, begin, beside, within, out
):
    """How surely both colours have texture, 0..1.

    Parameters
    ----------
    half : ndarray, shape (3, rows, columns), float32
        The luminance and both colours, with their noise.
    slopes, rest, spread
        What `guided.follow` makes of them.
    false, unseen : ndarray, shape (rows, columns), float32
        Energy of diagonal detail, and a share of what does not stand out by itself, 0..1.
    excess, place
        From `grading.kernels.excess.exceeding`.
    begin : tuple of int
        Half the row and the column of the frame where the planes begin.
    beside : ndarray, shape (2,), float32
        Variance of each colour's noise beside its line.
    within : tuple of int
        Region of the planes that is asked for: first row, row after the last, first column and
        column after the last.
    out : ndarray, shape (2, rows, columns) of `within`, float32
    """
    rows, columns = unseen.shape
    energy, room, line = aligned((2, rows, columns)), aligned((rows, columns)), aligned((columns,))
    means, share = aligned((2, rows, columns)), aligned((rows, columns))
    wide, lesser = aligned((columns + 4 * FIFTH,)), aligned((columns + 2 * SIDE,))
    first = begin[0] - 2 - place[0], begin[1] - 2 - place[1]
    _energies(half, slopes, rest, spread, false, unseen, excess, first, beside, line, energy)
    mean3(unseen, room)
    _of_windows(room, within, wide, share)
    for k in range(2):
        mean3(energy[k], room)
        _of_windows(room, within, wide, means[k])
        for y in range(max(within[0] - SIDE, 0), min(within[1] + SIDE, rows)):
            _per_unseen(means[k, y], share[y])
        _on_all_sides(means[k], within, lesser, out[k])


@borrowing
def _energies(half, slopes, rest, spread, false, unseen, excess, first, beside, line, out):
    for y in range(unseen.shape[0]):
        _expect(spread[y], false[y], excess[first[0] + y, first[1] :], unseen[y], line)
        for k in range(2):
            _beyond(
                half[0, y], half[1 + k, y], slopes[k, y], rest[k, y], line, f32(1) / beside[k],
                out[k, y],
            )  # fmt: skip


@inner
def _expect(spread, false, excess, unseen, out):
    """One over the energy that noise and false colours have, of what does not stand out."""
    for x in range(out.size):
        more = excess[x] if excess[x] > f32(0) else f32(0)
        led = spread[x] / (spread[x] + EVEN)
        noise = fma(RISES, more, fma(-LED, led, PLAIN))
        out[x] = unseen[x] / fma(fma(TINTED, more, FALSE), false[x], noise)


@inner
def _beyond(light, colour, slope, rest, expected, scale, out):
    for x in range(out.size):
        away = colour[x] - fma(slope[x], light[x], rest[x])
        out[x] = (away * away) * (scale * expected[x])


@borrowing
def _of_windows(room, within, line, out):
    """Means of 15x15 pixels, of means of 3x3, the outermost repeated, where they are needed."""
    rows, columns = room.shape
    far, last = 2 * FIFTH, rows - 1
    for y in range(max(within[0] - SIDE, 0), min(within[1] + SIDE, rows)):
        _fifth(
            room[max(y - far, 0)], room[max(y - FIFTH, 0)], room[y], room[min(y + FIFTH, last)],
            room[min(y + far, last)], line[far : far + columns],
        )  # fmt: skip
        for x in range(far):
            line[x], line[columns + far + x] = line[far], line[columns + far - 1]
        _fifth(line, line[FIFTH:], line[far:], line[far + FIFTH :], line[2 * far :], out[y])


@inner
def _fifth(a, b, c, d, e, out):
    for x in range(out.size):
        out[x] = f32(0.2) * (((a[x] + e[x]) + (b[x] + d[x])) + c[x])


@inner
def _per_unseen(means, share):
    """Where little is left that does not stand out, its energy is told by half of what there is."""
    for x in range(means.size):
        means[x] = means[x] / fma(f32(0.5), share[x], f32(0.5))


@borrowing
def _on_all_sides(means, within, line, out):
    """The least of four windows, as a share."""
    rows, columns = means.shape
    top, bottom, low, high = within
    for y in range(top, bottom):
        _lesser(means[max(y - SIDE, 0)], means[min(y + SIDE, rows - 1)], line[SIDE:], columns)
        for x in range(SIDE):
            line[x], line[columns + SIDE + x] = line[SIDE], line[columns + SIDE - 1]
        _share(line[low:], line[low + 2 * SIDE :], out[y - top])


@inner
def _lesser(a, b, out, columns):
    for x in range(columns):
        out[x] = min(a[x], b[x])


@inner
def _share(a, b, out):
    for x in range(out.size):
        out[x] = clamp((min(a[x], b[x]) - FROM) * (f32(1) / FADE), f32(0), f32(1))
