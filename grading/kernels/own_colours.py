"""Colours that go their own way: what of two planes at half size does not follow the luminance.

A colour that is farther from its line in the luminance than its noise is, and than the false
colours that demosaicing makes of diagonal detail (Gunturk et al., "Demosaicking: color filter array
interpolation", IEEE Signal Processing Magazine 22:44, 2005), is one of its own. Before `piloted` it
is judged with its noise, afterwards without. Texture that no pixel tells from noise, its place
does (`texture`).
"""

from grading.kernels.guided import mean3
from grading.kernels.primitives import aligned, between, borrowing, clamp, f32, fma, inner
from grading.kernels.texture import gather_row

APART, FADE = f32(7.7), f32(3)
"""Energy of both colours beside their lines, in variances of one's noise there, from which it
counts, and over how many times as much it comes to count fully; ours. Noise makes a mean of 2, and
exceeds this in one of a thousand places."""

FALSE = f32(2.1)
"""What `APART` rises by for each variance of a site's noise that diagonal detail has; ours."""

LIKELY, DOUBT = f32(3), f32(2.25)
"""The same of what is shown to `piloted`, which tells more of it from noise than its energy does:
from the first on, fully from twice as much; ours."""

SHOWN = f32(0.6)
"""Share that is shown where there is no diagonal detail; ours."""

LEFT, FULLY = f32(0.3), f32(1)
"""The same energy without noise: from where on, and up to where, a colour is more than its line;
ours."""

FOLLOWS = f32(0.5)
"""Share of the energy beside their lines that counts against these; ours."""

BACK = f32(0.5)
"""Share of what texture lost that it gets back; ours."""

NEVER = f32(1e-12)
"""Added to what is divided by, where it may be 0."""


@inner
def keep_apart(
    half, slopes, rest, spread, diagonal, excess, first, beside, odd, pilot, given, away, apart,
    blocks,
):  # fmt: skip
    """How surely both colours go their own way, 0..1, `apart`.

    `pilot` becomes their lines, or themselves where they are apart; what is `given` is what of them
    may be more than noise. `away` becomes their energy beside their lines, and `blocks` what
    texture is told by. `first` is the place in `excess` of the first pixel, `odd` how many rows and
    columns the first block lacks.
    """
    columns, shown, false = away.shape[1], aligned(away.shape), aligned(away.shape)
    energies(half, slopes, rest, beside, shown, away)
    mean3(diagonal, false)
    line, lines = aligned((columns,)), aligned((3, 2, columns))
    _judge_rows(
        half, slopes, rest, spread, away, false, excess, first, beside, odd, apart, shown, pilot,
        given, line, lines, aligned((2 * blocks.shape[2],)), blocks,
    )  # fmt: skip


@borrowing
def _judge_rows(
    half, slopes, rest, spread, away, false, excess, first, beside, odd, apart, shown, pilot, given,
    line, lines, wide, blocks,
):  # fmt: skip
    for y in range(away.shape[0]):
        _judge(away[y], false[y], apart[y], shown[y], lines[2, (y + odd[0]) % 2])
        gather_row(
            half, slopes, rest, spread[y], false[y], excess[first[0] + y, first[1] :], beside, y,
            odd, line, lines, wide, blocks,
        )  # fmt: skip
        for k in range(2):
            _take(
                half[0, y], half[1 + k, y], slopes[k, y], rest[k, y], apart[y], shown[y],
                pilot[k, y], given[k, y],
            )  # fmt: skip


@inner
def settle(
    noisy, quiet, lines, beside, away, pilot, texture, odd, lit, coarse, about, within, slopes, rest
):
    """What becomes of both colours once they have lost their noise.

    They become their lines but for what stands out and for texture, which gets back a share of what
    it lost. They stay as the pilot is where a lamp is: of a spot, all frequencies have little. A
    slope keeps the share of its energy that the luminance explains (the coefficient of
    determination), so that no more detail is brought to full size than follows the luminance.

    Parameters
    ----------
    noisy : ndarray, shape (3, rows, columns), float32
        The luminance and both colours, with their noise.
    quiet : ndarray, shape (3, rows, columns) of `about`, float32
        The same without it.
    lines : tuple of ndarray
        What `guided.follow` makes of them.
    beside : ndarray, shape (2,), float32
        Variance of each colour's noise beside its line.
    away, pilot : ndarray, float32
        From `keep_apart`.
    texture, odd
        From `grading.kernels.texture.find_texture`.
    lit, coarse : ndarray, shape (rows, columns) of `within`, float32
        How surely a lamp is there, 0..1, and the luminance that slopes meet at full size.
    about, within : tuple of int
        Regions of `away`: first row, row after the last, first column and column after the last.
    slopes, rest : ndarray, float32
        Are written in `within`.
    """
    room, left = aligned(lines[2].shape), aligned(lines[2].shape)
    energies(quiet, lines[0], lines[1], beside, room, left)
    _settle_rows(
        noisy, quiet, lines, beside, away, pilot, texture, odd, lit, coarse, about, within, room,
        left, slopes, rest,
    )  # fmt: skip


@borrowing
def _settle_rows(
    noisy, quiet, lines, beside, away, pilot, texture, odd, lit, coarse, about, within, room, left,
    slopes, rest,
):  # fmt: skip
    own, level, spread = lines
    one, two = f32(1) / beside[0], f32(1) / beside[1]
    first, low, high = within[0], within[2], within[3]
    skip = low - about[2]
    for y in range(first, within[1]):
        row = y - about[0]
        _explain(
            own[0, row, skip:], own[1, row, skip:], spread[row, skip:], one, two,
            away[y, low:high], room[row],
        )  # fmt: skip
        for k in range(2):
            _settle_row(
                quiet[0, row, skip:], quiet[1 + k, row, skip:], own[k, row, skip:],
                level[k, row, skip:], left[row, skip:], room[row], noisy[1 + k, y, low:],
                pilot[k, y, low:], texture[k, (y - first + odd[0]) // 2, odd[1] :], lit[y - first],
                coarse[y - first], slopes[k, y, low:], rest[k, y, low:],
            )  # fmt: skip


@inner
def energies(half, slopes, rest, beside, room, out):
    """Means over 3x3 of what both colours have beside their lines, in variances of the noise."""
    one, two = f32(1) / beside[0], f32(1) / beside[1]
    _energy_apart(
        half[0].ravel(), half[1].ravel(), half[2].ravel(), slopes[0].ravel(), slopes[1].ravel(),
        rest[0].ravel(), rest[1].ravel(), one, two, room.ravel(),
    )  # fmt: skip
    mean3(room, out)


@inner
def _energy_apart(light, first, second, slope, steep, rest, offset, one, two, out):
    for x in range(out.size):
        d = first[x] - fma(slope[x], light[x], rest[x])
        e = second[x] - fma(steep[x], light[x], offset[x])
        out[x] = fma(d * d, one, e * e * two)


@inner
def _judge(away, false, apart, shown, unseen):
    for x in range(away.size):
        least, likely = fma(FALSE, false[x], APART), f32(1) / fma(DOUBT, false[x], LIKELY)
        surely = clamp((away[x] - least) / (FADE * least), f32(0), f32(1))
        seen = clamp(fma(away[x], likely, f32(-1)), f32(0), f32(1))
        seen = max(seen, surely)
        apart[x], unseen[x] = surely, f32(1) - seen
        shown[x] = max(seen, SHOWN * LIKELY * likely)


@inner
def _take(light, colour, slope, rest, apart, shown, pilot, given):
    for x in range(colour.size):
        led = fma(slope[x], light[x], rest[x])
        away = colour[x] - led
        pilot[x] = fma(apart[x], away, led)
        given[x] = fma(shown[x], away, led)


@inner
def _explain(slope, steep, spread, one, two, away, out):
    for x in range(away.size):
        explained = fma(slope[x] * slope[x], one, steep[x] * steep[x] * two) * spread[x]
        out[x] = explained / (fma(FOLLOWS, away[x], explained) + NEVER)


@inner
def _settle_row(
    light, colour, slope, level, left, told, noisy, pilot, texture, lit, coarse, out, rest
):
    for x in range(lit.size):
        led = fma(slope[x], light[x], level[x])
        share = clamp((left[x] - LEFT) * (f32(1) / (FULLY - LEFT)), f32(0), f32(1))
        own = between(led, colour[x], max(share, texture[x]))
        own = fma(BACK * texture[x], noisy[x] - colour[x], own)
        own = between(own, pilot[x], lit[x])
        follows = told[x] * slope[x]
        out[x] = follows
        rest[x] = fma(-follows, coarse[x], own)
