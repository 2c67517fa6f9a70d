"""Luminance and colours of a tile without their noise, on a scale where noise is alike everywhere.

All three channels go through one root, by which the noise of photons is the same at every light
(Anscombe, Biometrika 35, 1948, with read noise as in Murtagh, Starck and Bijaoui, A&A Suppl. 112,
1995), and are parted into a luminance and two colours. The luminance, in which green counts twice,
is the mean of all sites of a mosaic: there its noise is least, and independent of the colours'. It
loses its noise by `luminance`. Colours are taken at half size, where a mosaic has them: they follow
the first result for the luminance by a guided filter (He, Sun and Tang, IEEE PAMI 35:1397, 2013; at
reduced size as in He and Sun, arXiv:1505.00996, 2015), what is left of their noise goes by
`cosines`, and the same filter brings them back to full size. What lies over more pixels than that,
`coarse_changes` knows. Small lamps keep their luminance and the colours that go with it, and
colours that do not go with the luminance stay as they are.
"""

import numpy as np

from grading.kernels import eight, luminance
from grading.kernels.half_colours import (
    add,
    diagonals,
    enlarge,
    follow,
    halve,
    keep_apart,
    mean3,
    quieten,
)
from grading.kernels.lamps import find_lamps
from grading.kernels.primitives import (
    aligned,
    cbrt,
    clamp,
    compiled,
    entries,
    f32,
    fma,
    inner,
    transform,
)

REACH = 30
"""Pixels in each direction that a pixel depends on: one and one of half size to bring colours back,
seven of half size for their blocks and three for what is told of them, and seven for the
luminance."""

LIMIT = 3.05
"""Deviations of its noise that a frequency of luminance must exceed to count as detail; ours."""

S3, S2, S6 = (f32(1 / np.sqrt(k)) for k in (3, 2, 6))


@compiled
def reduce_noise(
    rgb: np.ndarray,
    planes: np.ndarray,
    top: int,
    left: int,
    own: np.ndarray,
    light: np.ndarray,
    photon: float,
    read: float,
    limits: np.ndarray,
    spectra: np.ndarray,
    colour_limits: np.ndarray,
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
        What `coarse_changes` gives, at the same pixels, and how visible noise is, in the measure
        of `visible`, as a multiple of what may be left: 1 leaves all, very much none.
    top, left : int
        Where in the frame the tile begins, since halves are those of the frame.
    own, light : ndarray, shape (3, 3), float32
        From linear light to channels with independent noise that are alike for a grey, and back.
    photon, read : float32
        Variance of a site for each unit of light, and without light, above 0.
    limits, colour_limits : ndarray, shape (8, 8), float32
        What a frequency must exceed, in deviations of a site and of colour.
    spectra : ndarray, shape (2, 8, 8), float32
        Variance of the luminance by frequency, at full and at half size, in that of a site.
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
    ndarray, shape (3, rows, columns), float32
    """
    rows, columns = rgb.shape[1:]
    down, over = top & 1, left & 1
    halves = (rows + down + 1) // 2, (columns + over + 1) // 2
    noisy, root = aligned((3, rows, columns)), np.sqrt(read)
    margin = eight.REACH
    wide = aligned((rows + 2 * margin, columns + 2 * margin))
    matrix = entries(own)
    for y in range(rows):
        part(
            rgb[0, y], rgb[1, y], rgb[2, y], matrix, photon, read, root,
            noisy[0, y], noisy[1, y], noisy[2, y],
        )  # fmt: skip
        _copy(noisy[0, y], wide[y + margin, margin:])
    eight.mirror(wide)
    pilot, clean = aligned((rows, columns)), aligned((rows, columns))
    half = aligned((3, *halves))
    led_by = luminance.quieten(wide, limits, spectra, top, left, pilot, clean)
    for y in range(halves[0]):
        _copy(led_by[y], half[0, y])
    for k in range(2):
        for y in range(rows):
            add(noisy[1 + k, y], planes[k, y], wide[y, :columns])
        halve(wide[:rows, :columns], down, over, half[1 + k])
    means, lamps = aligned((rows, columns)), aligned((rows, columns))
    mean3(noisy[0], means)
    find_lamps(means, limits[1, 1] * f32(1 / (3 * LIMIT)), lamps)
    slopes, rest, apart = aligned((2, *halves)), aligned((2, *halves)), aligned(halves)
    spread, diagonal, lit = aligned(halves), aligned(halves), aligned(halves)
    follow(half, slopes, rest, spread)
    diagonals(pilot, down, over, diagonal)
    keep_apart(half, slopes, rest, spread, diagonal, beside, apart)
    halve(lamps, down, over, lit)
    quieten(half, slopes, lit, colour_limits, colours, top // 2, left // 2, rest)
    return _joined(
        noisy, clean, lamps, slopes, rest, apart, planes, down, over, light, photon, read, bias,
        kept,
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


@inner
def part(r, g, b, matrix, photon, read, root, y, u, v):
    """A row into the mean of its channels' roots, green twice, times the root of 3, and two colours
    of unit length: red less blue, and both less green."""
    for x in range(r.size):
        p, q, s = transform(matrix, r[x], g[x], b[x])
        p = _stabilised(p, photon, read, root)
        q = _stabilised(q, photon, read, root)
        s = _stabilised(s, photon, read, root)
        y[x] = f32(np.sqrt(3) / 4) * fma(f32(2), q, p + s)
        u[x] = S2 * (p - s)
        v[x] = S6 * fma(f32(-2), q, p + s)


@inner
def _stabilised(light, photon, read, root):
    """Noise of deviation 1 at any light, 0 for 0; where there is none it goes on as a line."""
    above = light if light > f32(0) else f32(0)
    return f32(2) * light / (np.sqrt(fma(photon, above, read)) + root)


@inner
def _restored(value, photon, root, bias):
    """Back to light; what the root takes from the mean of noise is given back."""
    above = value if value > f32(0) else f32(0)
    share = clamp(fma(f32(0.25), value, f32(0.5)), f32(0), f32(1))
    return fma(photon, fma(f32(0.25) * above, above, bias * share), root * value)


@inner
def _copy(source, target):
    for x in range(source.size):
        target[x] = source[x]


@inner
def _difference(a, b, out):
    for x in range(out.size):
        out[x] = a[x] - b[x]


@inner
def _joined(
    noisy, clean, lamps, slopes, rest, apart, planes, down, over, light, photon, read, bias, kept
):
    """The tile as light again, with the noise that is to be left."""
    rows, columns = clean.shape
    out = aligned((3, rows, columns))
    line, full = aligned((slopes.shape[2] + 2,)), aligned((5, 2 * slopes.shape[2]))
    left, matrix, root = aligned((columns,)), entries(light), np.sqrt(read)
    for y in range(rows):
        for k in range(2):
            enlarge(slopes[k], y + down, over, line, full[k])
            enlarge(rest[k], y + down, over, line, full[2 + k])
        enlarge(apart, y + down, over, line, full[4])
        _share_left(clean[y], planes[2, y], lamps[y], photon, read, root, left)
        _coloured(
            (noisy[1, y], noisy[2, y]), (planes[0, y], planes[1, y]),
            (full[0, over:], full[1, over:]), (full[2, over:], full[3, over:]), full[4, over:],
            clean[y], kept,
        )  # fmt: skip
        _as_light(
            noisy[0, y], noisy[1, y], noisy[2, y], clean[y], left, matrix, photon, root, bias,
            out[0, y], out[1, y], out[2, y],
        )  # fmt: skip
    return out


@inner
def visible(light, photon, read, root):
    """Deviation of a site's noise in the cube root of light, times 3, as it is known far from 0."""
    level = light if light > root else root
    low = cbrt(level)
    return np.sqrt(fma(photon, level, read)) / (low * low)


@inner
def _share_left(clean, shown, lamps, photon, read, root, left):
    """Share of the luminance's noise that is left: as much as keeps it within what may be seen, and
    all in a lamp."""
    for x in range(left.size):
        level = _restored(S3 * clean[x], photon, root, f32(0))
        share = f32(1) / (shown[x] * visible(level, photon, read, root))
        left[x] = clamp(max(share, lamps[x]), f32(0), f32(1))


@inner
def _coloured(noisy, changes, slopes, rests, apart, light, kept):
    """Colours from how they follow the luminance, with what is left of their noise, in place."""
    first, second = noisy
    change, other = changes
    slope, steep = slopes
    rest, offset = rests
    some, coarse = kept[0], kept[1]
    for x in range(light.size):
        p, q = fma(slope[x], light[x], rest[x]), fma(steep[x], light[x], offset[x])
        d, e = (first[x] + change[x]) - p, (second[x] + other[x]) - q
        share = max(some, apart[x])
        first[x] = fma(-coarse, change[x], fma(share, d, p))
        second[x] = fma(-coarse, other[x], fma(share, e, q))


@inner
def _as_light(y, u, v, clean, left, matrix, photon, root, bias, r, g, b):
    of_light, first, second, third = bias[0], bias[1], bias[2], bias[3]
    for x in range(r.size):
        taken = fma(-left[x], left[x], f32(1))
        own = S3 * fma(left[x], y[x] - clean[x], clean[x])
        d, e = S2 * u[x], S6 * v[x]
        own = fma(f32(0.5), e, own)
        p, q, s = own + (d + e), fma(f32(-2), e, own), own + (e - d)
        p = _restored(p, photon, root, fma(of_light, taken, first))
        q = _restored(q, photon, root, fma(of_light, taken, second))
        s = _restored(s, photon, root, fma(of_light, taken, third))
        r[x], g[x], b[x] = transform(matrix, p, q, s)
