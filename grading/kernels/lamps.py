"""Small lamps and stars in a noisy luminance: where they are, and what keeps their light.

What limits frequencies spreads a point of light, and on a root's scale light that is spread is
less light. A point is where a mean of 3x3 pixels exceeds all eight of such means around it; along
an edge or a line one of them is as bright. In texture they differ by as much among themselves.
"""

from grading.kernels.guided import mean_row
from grading.kernels.primitives import aligned, borrowing, clamp, f32, fma, inner

AROUND, WITHIN = 4, 2
"""Pixels from a point to the means around it, and those about it that are its own."""

REACH = 1 + AROUND + WITHIN

FROM, FADE = f32(2.4), f32(2)
"""Deviations of a mean by which it exceeds the largest of those around it by more than they differ,
which noise alone hardly ever does, and over how many more a point comes to count fully; ours."""

CORE = f32(1.5)
"""Deviations from which what a pixel of a lamp lost is the lamp's and not noise, fully so from one
more; ours."""


@inner
def find_lamps(plane, tile, wanted, deviation, out):
    """How surely each pixel belongs to a point of light, 0..1.

    Rows are read one after the other; what is still needed of them lies in rings.

    Parameters
    ----------
    plane : ndarray, shape (rows, columns), float32
        The luminance.
    tile, wanted : tuple of int
        What of it there is, and what is asked for: first row, row after the last, first column
        and column after the last.
    deviation : float32
        Of the noise of means of 3x3 pixels.
    out : ndarray, float32
        What is wanted.
    """
    top, bottom = max(wanted[0] - REACH, tile[0]), min(wanted[1] + REACH, tile[1])
    left, right = max(wanted[2] - REACH, tile[2]), min(wanted[3] + REACH, tile[3])
    scale, columns = f32(1) / (FADE * deviation), right - left
    line, points = aligned((columns + 2,)), aligned((columns + 2 * AROUND,))
    wide, across = aligned((16, columns + 2 * AROUND)), aligned((8, columns))
    _find(plane, (top, bottom, left, right), wanted, scale, line, points, wide, across, out)


@borrowing
def _find(plane, region, wanted, scale, line, points, wide, across, out):
    top, bottom, left, right = region
    columns, before = right - left, wanted[2] - left
    for y in range(top, bottom + AROUND + WITHIN):
        if y < bottom:
            up, low = plane[max(y - 1, top), left:right], plane[min(y + 1, bottom - 1), left:right]
            mean_row(up, plane[y, left:right], low, line, wide[y % 16, AROUND : AROUND + columns])
            _widen(wide[y % 16])
        here, done = y - AROUND, y - AROUND - WITHIN
        if top <= here < bottom:
            up, low = wide[max(here - AROUND, top) % 16], wide[min(y, bottom - 1) % 16]
            _points(up, wide[here % 16], low, scale, points[AROUND:])
            _widen(points)
            near = points[AROUND - WITHIN :]
            _largest(near, near[1:], near[2:], near[3:], near[4:], across[here % 8])
        if wanted[0] <= done < wanted[1]:
            _largest(
                across[max(done - 2, top) % 8, before:], across[max(done - 1, top) % 8, before:],
                across[done % 8, before:], across[min(done + 1, bottom - 1) % 8, before:],
                across[min(done + 2, bottom - 1) % 8, before:], out[done - wanted[0]],
            )  # fmt: skip


@inner
def _widen(row):
    """Repeat the outermost values of a row in its margins."""
    last = row.size - AROUND - 1
    for x in range(AROUND):
        row[x], row[last + 1 + x] = row[AROUND], row[last]


@inner
def _points(up, here, low, scale, out):
    a, b, c = up, up[AROUND:], up[2 * AROUND :]
    d, own, e = here, here[AROUND:], here[2 * AROUND :]
    g, h, i = low, low[AROUND:], low[2 * AROUND :]
    for x in range(here.size - 2 * AROUND):
        most = max(max(max(a[x], b[x]), max(c[x], d[x])), max(max(e[x], g[x]), max(h[x], i[x])))
        least = min(min(min(a[x], b[x]), min(c[x], d[x])), min(min(e[x], g[x]), min(h[x], i[x])))
        above = (own[x] - most) - (most - least)
        out[x] = clamp(above * scale - FROM / FADE, f32(0), f32(1))


@inner
def _largest(a, b, c, d, e, out):
    """The largest of five, those `WITHIN` reach."""
    for x in range(out.size):
        out[x] = max(max(max(a[x], b[x]), max(c[x], d[x])), e[x])


@borrowing
def take_off(clean, region, plane):
    """Leave in a region of a plane what it loses, in place."""
    for y in range(region[0], region[1]):
        _take_off(clean[y, region[2] : region[3]], plane[y, region[2] : region[3]])


@inner
def _take_off(values, row):
    for x in range(row.size):
        row[x] = row[x] - values[x]


@borrowing
def keep_lamps(lost, y, low, region, lamps, deviation, left, line, means, out):
    """What of a row's luminance is kept beside that without noise: some noise, and lamps' light.

    A lamp's light is what stands out of the noise, and of the rest a mean, which has little noise.

    Parameters
    ----------
    lost : ndarray, float32
        What the luminance loses, in a region.
    y, low : int
        The row, and its first column that is asked for.
    region : tuple of int
        One pixel more on each side than is asked for, where there is one.
    lamps : ndarray, float32
        How surely a pixel belongs to a lamp.
    deviation : float32
        Of the noise of a pixel.
    left : ndarray, float32
        Shares of the noise that are kept.
    line, means : ndarray, shape (columns of the region and two, or as many), float32
        Room.
    out : ndarray, shape (columns,), float32
    """
    top, bottom, first, last = region
    up, under = lost[max(y - 1, top), first:last], lost[min(y + 1, bottom - 1), first:last]
    mean_row(up, lost[y, first:last], under, line, means)
    _keep(lost[y, low:], means[low - first :], lamps, deviation, left, out)


@inner
def _keep(rest, means, lamps, deviation, left, out):
    scale = f32(1) / deviation
    for x in range(out.size):
        core = clamp(fma(scale, abs(rest[x]), -CORE), f32(0), f32(1))
        light = lamps[x] * fma(core, rest[x] - means[x], means[x])
        out[x] = fma(left[x], rest[x] - light, light)
