"""Luminance and colours of a tile without their noise, on a scale where noise is alike everywhere.

All three channels go through one root (`roots`), and are parted into a luminance and two colours.
The luminance, in which green counts twice, is the mean of all sites of a mosaic: there its noise is
least, and independent of the colours'. It loses its noise by `luminance`. Colours are taken at half
size, where a mosaic has them: they follow the first result for the luminance by a guided filter
(He, Sun and Tang, IEEE PAMI 35:1397, 2013; at reduced size as in He and Sun, arXiv:1505.00996,
2015), what is left of their noise goes by cosines of which that tells what may be signal, and the
same filter, asked again, brings them back to full size. What lies over more pixels than that,
`coarse_changes` knows. Small lamps keep their light and the colours that go with it, and colours
that do not go with the luminance stay as they are. Where a place has more colour detail than noise
explains, though no pixel tells, a share of it is kept.
"""

import numpy as np

from grading.kernels import eight, luminance
from grading.kernels.excess import exceeding
from grading.kernels.half_colours import FAR, led
from grading.kernels.halves import enlarge
from grading.kernels.lamps import find_lamps, keep_lamps, take_off
from grading.kernels.primitives import (
    aligned,
    borrowing,
    cbrt,
    compiled,
    entries,
    f32,
    fma,
    inner,
    transform,
)
from grading.kernels.regions import grown, moved, rimmed
from grading.kernels.roots import S2, S3, S6, part, restored

REACH = 3 + FAR + eight.REACH
"""Pixels in each direction that a pixel depends on: one beside a lamp's, two to bring colours back,
and those of the first pass that leads them."""

LIMIT = 3.2
"""Deviations of its noise that a frequency of luminance must exceed, with those about it, to count
as detail; ours."""


@compiled
def reduce_noise(
    rgb: np.ndarray,
    planes: np.ndarray,
    top: int,
    left: int,
    wanted: tuple[int, int, int, int],
    own: np.ndarray,
    light: np.ndarray,
    photon: float,
    read: float,
    limits: np.ndarray,
    spectra: np.ndarray,
    rises: np.ndarray,
    sites: np.ndarray,
    colour_limits: np.ndarray,
    colour_spectrum: np.ndarray,
    colours: np.ndarray,
    beside: np.ndarray,
    bias: np.ndarray,
    kept: np.ndarray,
) -> np.ndarray:
    """Light with less noise in its luminance and its colours.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear light.
    planes : ndarray, shape (3, rows, columns), float32
        What `coarse_changes` gives, at the same pixels, and how visible noise is: times its
        deviation in the cube root of light, times 3, a multiple of what may be left; so 1 leaves
        all, very much none.
    top, left : int
        Where in the frame the tile begins, since halves are those of the frame.
    wanted : tuple of int
        What is wanted of the tile: first row, row after the last, first column and column after
        the last. About that there are `REACH` pixels, or all that the frame has.
    own, light : ndarray, shape (3, 3), float32
        From linear light to channels with independent noise that are alike for a grey, and back.
    photon, read : float32
        Variance of a site for each unit of light, and without light, above 0.
    limits, colour_limits : ndarray, shape (8, 8), float32
        What a frequency must exceed, in deviations of a site and of colour; those of luminance
        above 0.
    spectra : ndarray, shape (2, 8, 8), float32
        Variance of the luminance by frequency, at full and at half size, in that of a site.
    rises : ndarray, shape (8, 8), float32
        By how much that at full size rises where the noise of coloured light exceeds a grey's.
    sites : ndarray, shape (3,), float32
        Parts of the sites of red, green and blue in it for a grey, 1 together.
    colour_spectrum : ndarray, shape (8, 8), float32
        Variance of a colour by frequency, at half size, in that of colour.
    colours : ndarray, shape (2,), float32
        Deviation of each colour's noise at half size, in that of a site.
    beside : ndarray, shape (2,), float32
        Variance of each colour's noise at half size beside its line in the luminance, likewise.
    bias : ndarray, shape (4,), float32
        By how much the root darkens: by the luminance's noise, and by the rest in each channel.
    kept : ndarray, shape (2,), float32
        Shares of the colours' noise that are left: of fine and of coarse noise, 0..1.

    Returns
    -------
    ndarray, shape (3, rows, columns) of what is wanted, float32
    """
    rows, columns = rgb.shape[1:]
    root, matrix, margin = np.sqrt(read), entries(own), eight.REACH
    wide, noisy = aligned((rows + 2 * margin, columns + 2 * margin)), aligned((2, rows, columns))
    _part_rows(rgb, matrix, photon, read, root, wide, noisy)
    tile, begin = (0, rows, 0, columns), (top, left)
    about = rimmed(wanted, tile)
    near = grown(about, 1, tile, begin)
    far = grown(near, FAR, tile, begin)
    eight.mirror(wide, moved(tile, margin))
    clean = aligned(wide.shape)
    excess, place = exceeding(wide, moved(tile, margin), noisy, begin, sites, photon, root)
    led_by, coarse, diagonal = luminance.quieten(
        wide, limits, spectra, rises, excess, place, moved(about, margin), moved(near, margin),
        moved(far, margin), top - margin, left - margin, clean,
    )  # fmt: skip
    lamps = aligned((near[1] - near[0], near[3] - near[2]))
    deviation = limits[1, 1] * f32(1 / LIMIT)
    find_lamps(wide, moved(tile, margin), moved(near, margin), f32(1 / 3) * deviation, lamps)
    slopes, rest, apart = led(
        led_by, coarse, diagonal, lamps, noisy, planes, excess, place, colour_limits,
        colour_spectrum, colours, beside, near, far, begin,
    )  # fmt: skip
    return _joined(
        wide, noisy, clean, lamps, slopes, rest, apart, planes, wanted, about, near, far, begin,
        light, photon, read, deviation, bias, kept,
    )  # fmt: skip


@compiled
def coarse_changes(
    reduced: np.ndarray,
    clean: np.ndarray,
    own: np.ndarray,
    back: np.ndarray,
    photon: float,
    read: float,
) -> np.ndarray:
    """By how much the coarse colours of a frame change where they lose their noise.

    Parameters
    ----------
    reduced : ndarray, shape (3, rows, columns), float32
        Linear light at reduced size.
    clean : ndarray, shape (3, rows, columns), float32
        Its planes without noise, from `grading.kernels.coarse_colour.coarse_colour`.
    own, photon, read
        As in `reduce_noise`.
    back : ndarray, shape (3, 3), float32
        From the clean planes to the channels that `own` gives.

    Returns
    -------
    ndarray, shape (2, rows, columns), float32
        Of the two colours, on the scale of the root.
    """
    rows, columns = reduced.shape[1:]
    root, first, second = np.sqrt(read), entries(own), entries(back)
    out, before, after = aligned((2, rows, columns)), aligned((3, columns)), aligned((3, columns))
    for y in range(rows):
        part(
            reduced[0, y], reduced[1, y], reduced[2, y], first, photon, read, root,
            before[0], before[1], before[2],
        )  # fmt: skip
        part(
            clean[0, y], clean[1, y], clean[2, y], second, photon, read, root,
            after[0], after[1], after[2],
        )  # fmt: skip
        for k in range(2):
            _difference(after[1 + k], before[1 + k], out[k, y])
    return out


@borrowing
def _part_rows(rgb, matrix, photon, read, root, wide, noisy):
    margin, columns = eight.REACH, rgb.shape[2]
    for y in range(rgb.shape[1]):
        part(
            rgb[0, y], rgb[1, y], rgb[2, y], matrix, photon, read, root,
            wide[y + margin, margin : margin + columns], noisy[0, y], noisy[1, y],
        )  # fmt: skip


@inner
def _difference(a, b, out):
    for x in range(out.size):
        out[x] = a[x] - b[x]


@inner
def _joined(
    wide, noisy, clean, lamps, slopes, rest, apart, planes, wanted, about, near, far, begin, light,
    photon, read, deviation, bias, kept,
):  # fmt: skip
    """What is wanted as light again, with the noise that is to be left."""
    columns, wider = wanted[3] - wanted[2], about[3] - about[2]
    out = aligned((3, wanted[1] - wanted[0], columns))
    line, full = aligned((slopes.shape[2] + 2,)), aligned((5, 2 * slopes.shape[2]))
    rows = aligned((columns,)), aligned((columns,)), aligned((wider + 2,)), aligned((wider,))
    take_off(clean, moved(about, eight.REACH), wide)
    _join(
        wide, noisy, clean, lamps, slopes, rest, apart, planes, wanted, about, near, far, begin,
        light, photon, read, deviation, bias, kept, line, full, rows, out,
    )  # fmt: skip
    return out


@borrowing
def _join(
    wide, noisy, clean, lamps, slopes, rest, apart, planes, wanted, about, near, far, begin, light,
    photon, read, deviation, bias, kept, line, full, rows, out,
):  # fmt: skip
    low, high, margin = wanted[2], wanted[3], eight.REACH
    left, own, sums, means = rows
    matrix, root = entries(light), np.sqrt(read)
    down, over = (begin[0] + far[0]) % 2, (begin[1] + far[2]) % 2
    skip = over + low - far[2]
    for row in range(out.shape[1]):
        y = wanted[0] + row
        for k in range(2):
            enlarge(slopes[k], y - far[0] + down, line, full[k])
            enlarge(rest[k], y - far[0] + down, line, full[2 + k])
        enlarge(apart, y - far[0] + down, line, full[4])
        quiet, lit = clean[y + margin, low + margin :], lamps[y - near[0], low - near[2] :]
        _share_left(quiet, planes[2, y, low:high], photon, read, root, left)
        keep_lamps(
            wide, y + margin, low + margin, moved(about, margin), lit, deviation, left, sums, means,
            own,
        )  # fmt: skip
        one, two = noisy[0, y, low:high], noisy[1, y, low:high]
        _coloured(
            (one, two), (planes[0, y, low:high], planes[1, y, low:high]),
            (full[0, skip:], full[1, skip:]), (full[2, skip:], full[3, skip:]), full[4, skip:],
            quiet, kept,
        )  # fmt: skip
        _as_light(
            own, one, two, quiet, left, matrix, photon, root, bias,
            out[0, row], out[1, row], out[2, row],
        )  # fmt: skip


@inner
def _share_left(clean, shown, photon, read, root, left):
    """Share of the luminance's noise that is left: as much as keeps it within what may be seen, by
    its deviation in the cube root of light, times 3."""
    for x in range(left.size):
        level = restored(S3 * clean[x], photon, root, f32(0))
        level = level if level > root else root
        low = cbrt(level)
        share = (low * low) / (shown[x] * np.sqrt(fma(photon, level, read)))
        left[x] = share if share < f32(1) else f32(1)


@inner
def _coloured(noisy, changes, slopes, rests, apart, light, kept):
    """Colours from how they follow the luminance, with what is left of their noise, in place."""
    first, second = noisy
    change, other = changes
    slope, steep = slopes
    rest, offset = rests
    some, coarse = kept[0], kept[1]
    for x in range(first.size):
        p, q = fma(slope[x], light[x], rest[x]), fma(steep[x], light[x], offset[x])
        d, e = (first[x] + change[x]) - p, (second[x] + other[x]) - q
        share = max(some, apart[x])
        first[x] = fma(-coarse, change[x], fma(share, d, p))
        second[x] = fma(-coarse, other[x], fma(share, e, q))


@inner
def _as_light(kept, u, v, clean, left, matrix, photon, root, bias, r, g, b):
    of_light, first, second, third = bias[0], bias[1], bias[2], bias[3]
    for x in range(r.size):
        taken = fma(-left[x], left[x], f32(1))
        own = S3 * (clean[x] + kept[x])
        d, e = S2 * u[x], S6 * v[x]
        own = fma(f32(0.5), e, own)
        p, q, s = own + (d + e), fma(f32(-2), e, own), own + (e - d)
        p = restored(p, photon, root, fma(of_light, taken, first))
        q = restored(q, photon, root, fma(of_light, taken, second))
        s = restored(s, photon, root, fma(of_light, taken, third))
        r[x], g[x], b[x] = transform(matrix, p, q, s)
