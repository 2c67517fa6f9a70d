"""Clipped sites and pixels rebuilt by the guide that `highlights` makes of a frame.

What is not clipped about a place gives the level of the light, the guide's colour gives the clipped
channels, and none is taken below where it clipped (after Zhang and Brainard, "Estimation of
saturated pixel values in digital color imaging", JOSA A 21, 2004, and Masood, Zhu and Tappen,
"Automatic correction of saturated regions in photographs using cross-channel correlation", CGF 28,
2009). Where nothing is left, the guide gives the level, too. Beside an edge, what is known lies on
its darker side; so what clips there counts in the level as the guide has it.
"""

import numpy as np

from grading.kernels.primitives import aligned, compiled, inner, smooth
from grading.kernels.raw.survey import BLOCKS, CELL

ONSET, CLIP = np.float32(0.9), np.float32(0.985)
"""Signal from which a channel counts less, and from which on not at all."""

TINY = np.float32(1e-6)
MOST = np.float32(4)

PART = 64
"""Blocks of a row that are looked at together."""


@inner
def _any_above(values, limit):
    count = np.int32(0)
    for x in range(values.size):
        count += np.int32(1) if values[x] > limit else np.int32(0)
    return count > 0


@inner
def _clipped_part(signal):
    return smooth((signal - ONSET) / (CLIP - ONSET))


@inner
def _cells_about(place, size):
    """The two cells around a place, from the first one's centre on; and the second's share."""
    place = min(max(place, np.float32(0)), np.float32(size - 1))
    first = int(place)
    return first, min(first + 1, size - 1), place - np.float32(first)


@inner
def _blend(guide, row, blended):
    """The guide at a row, which is a place in cells."""
    above, below, part = _cells_about(row, guide.shape[1])
    for k in range(4):
        first, second, line = guide[k, above], guide[k, below], blended[k]
        for j in range(line.size):
            line[j] = first[j] + part * (second[j] - first[j])


@inner
def _look_up(blended, start, step, gains, lights):
    """Red, green, blue of unit sum, the whole light, and that where all clip, along a row.

    `start` is the place of the first value in cells, `step` is that from one value to the next.
    Where all clip, the light is no less than clipping tells, unless its colour were so pure that
    one channel had to be `MOST` times where it clips.
    """
    red, green, blue, light, burnt = lights
    for x in range(light.size):
        left, right, part = _cells_about(start + np.float32(x) * step, blended.shape[1])
        red[x] = blended[0, left] + part * (blended[0, right] - blended[0, left])
        green[x] = blended[1, left] + part * (blended[1, right] - blended[1, left])
        blue[x] = blended[2, left] + part * (blended[2, right] - blended[2, left])
        light[x] = blended[3, left] + part * (blended[3, right] - blended[3, left])
    most = MOST * max(max(gains[0], gains[1]), gains[2])
    for x in range(light.size):
        share = np.float32(1) / (red[x] + green[x] + blue[x])
        r, g, b = red[x] * share, green[x] * share, blue[x] * share
        clipping = max(max(gains[0] / r, gains[1] / g), gains[2] / b)
        clipping = min(clipping, most / max(max(r, g), b))
        red[x], green[x], blue[x], light[x] = r, g, b, light[x] * share
        burnt[x] = max(light[x], clipping)


@inner
def _five(light, start, end):
    """Of five rows the values from one place to before another."""
    return (
        light[0, start:end], light[1, start:end], light[2, start:end], light[3, start:end],
        light[4, start:end],
    )  # fmt: skip


def rebuild_sites(planes, top, left, sensor, guide, gains):
    """Rebuild the clipped sites of a tile, in place.

    Parameters
    ----------
    planes : ndarray, shape (4, rows, columns), float32
        Balanced signal of red, green beside red, green beside blue and blue sites, clipping at the
        gains. The outermost rows and columns are only looked at.
    top, left : int
        The frame's row and column of the first red site.
    sensor : Sensor
    guide : ndarray
        From `highlight_guide`.
    gains : ndarray, shape (3,), float32
        The balance that is in `planes`.
    """
    first = (top + sensor.phase[0]) // 2, (left + sensor.phase[1]) // 2
    _rebuild_sites(planes, first[0], first[1], guide, gains)


@compiled
def _rebuild_sites(planes, first_row, first_column, guide, gains):
    rows, columns = planes.shape[1:]
    if not _any_clipped(planes.reshape(4, 1, rows * columns), gains, 0, 0, rows * columns):
        return
    known, filled = np.ones(planes.shape, np.float32), planes.copy()
    blended, light = np.empty((4, guide.shape[2]), np.float32), aligned((rows, 5, columns))
    sums, clipped = aligned((4, PART + 2)), np.zeros((rows, -(-columns // PART)), np.bool_)
    step, half = np.float32(1 / BLOCKS), np.float32(0.5)
    left = (np.float32(first_column) + half) * step - half
    for i in range(rows):
        if _any_clipped(planes, gains, i, 0, columns):
            _blend(guide, (np.float32(first_row + i) + half) * step - half, blended)
            for n in range(clipped.shape[1]):
                start, end = n * PART, min((n + 1) * PART, columns)
                clipped[i, n] = _any_clipped(planes, gains, i, start, end)
                if clipped[i, n]:
                    place, lights = left + np.float32(start) * step, _five(light[i], start, end)
                    _look_up(blended, place, step, gains, lights)
                    for site in range(4):
                        k = (site + 1) // 2
                        _fill(
                            planes[site, i, start:end], lights[k], lights[3], gains[k],
                            known[site, i, start:end], filled[site, i, start:end],
                        )
    for i in range(1, rows - 1):
        for n in range(clipped.shape[1]):
            if clipped[i, n]:
                start, end = max(n * PART - 1, 0), min((n + 1) * PART + 1, columns)
                for site in range(4):
                    _rebuild_part(planes, known, filled, light[i], site, i, start, end, sums)


@inner
def _rebuild_part(planes, known, filled, light, site, i, start, end, sums):
    """Sites of one kind in a part of a row of blocks, all but the outermost, from the nine about
    each, weighted 1, 2, 1 both ways.

    All three colours have the same share in these: of a green site, those beside it, those above
    and below it, and itself with its corners; of another, itself, its corners, and the other four.
    """
    r, c = site // 2, site & 1
    across, along, corner = 2 * r + 1 - c, 2 - 2 * r + c, 3 - site
    size, first = end - start, start + c
    for k, part in enumerate((known, filled)):
        for j, other in enumerate((along, corner)):
            above, below = part[other, i - 1 + r, start:end], part[other, i + r, start:end]
            _add_rows(above, below, sums[2 * k + j, :size])
    about = (
        (known[site, i, start:end], filled[site, i, start:end]),
        (known[across, i, first:end], filled[across, i, first:end]),
        (sums[0, :size], sums[2, :size]), (sums[1, c:size], sums[3, c:size]),
    )  # fmt: skip
    lights = (
        light[(site + 1) // 2, start:end], light[(across + 1) // 2, start:end],
        light[(along + 1) // 2, start:end], light[(corner + 1) // 2, start:end],
    )  # fmt: skip
    if r + c == 1:
        _rebuild_green(planes[site, i, start:end], about, lights, light[4, start:end])
    else:
        _rebuild_colour(planes[site, i, start:end], about, lights, light[4, start:end])


@inner
def _rebuild_green(values, about, lights, burnt):
    own, across, along, corner = about
    half, quarter = np.float32(0.5), np.float32(0.25)
    for x in range(1, values.size - 1):
        a = half * (across[0][x - 1] + across[0][x])
        b = half * along[0][x]
        d = half * (own[0][x] + quarter * (corner[0][x - 1] + corner[0][x]))
        signal = a * half * (across[1][x - 1] + across[1][x]) + b * half * along[1][x]
        signal += d * half * (own[1][x] + quarter * (corner[1][x - 1] + corner[1][x]))
        share = a * lights[1][x] + b * lights[2][x] + d * lights[0][x]
        light = _light(signal, share, (a, b, d), burnt[x]) * lights[0][x]
        values[x] = _risen(values[x], own[0][x], light)


@inner
def _rebuild_colour(values, about, lights, burnt):
    own, across, along, corner = about
    quarter = np.float32(0.25)
    for x in range(1, values.size - 1):
        a = quarter * (across[0][x - 1] + across[0][x] + along[0][x])
        b = quarter * (corner[0][x - 1] + corner[0][x])
        d = own[0][x]
        signal = a * quarter * (across[1][x - 1] + across[1][x] + along[1][x])
        signal += b * quarter * (corner[1][x - 1] + corner[1][x]) + d * own[1][x]
        share = a * lights[1][x] + b * lights[3][x] + d * lights[0][x]
        light = _light(signal, share, (a, b, d), burnt[x]) * lights[0][x]
        values[x] = _risen(values[x], d, light)


@inner
def _light(signal, share, known, burnt):
    """The whole light, by what is known of each channel and, as far as none is, where all clip.

    What is known of a channel is below its clipping, so the light is below that at which all clip.
    """
    one = np.float32(1)
    level = min(signal / (share + TINY), burnt)
    rest = (one - known[0]) * (one - known[1]) * (one - known[2])
    return level + rest * max(burnt - level, np.float32(0))


@inner
def _risen(value, known, light):
    return value + (np.float32(1) - known) * max(light - value, np.float32(0))


@inner
def _any_clipped(planes, gains, i, start, end):
    return (
        _any_above(planes[0, i, start:end], ONSET * gains[0])
        or _any_above(planes[1, i, start:end], ONSET * gains[1])
        or _any_above(planes[2, i, start:end], ONSET * gains[1])
        or _any_above(planes[3, i, start:end], ONSET * gains[2])
    )


@inner
def _fill(values, lights, light, gain, known, filled):
    """How far values are known; the rest is filled up with the guide's light, which is no less than
    clipping tells."""
    one, inverse = np.float32(1), np.float32(1) / gain
    for x in range(values.size):
        known[x] = one - _clipped_part(values[x] * inverse)
        told = max(light[x] * lights[x], max(values[x], gain))
        filled[x] = values[x] + (one - known[x]) * (told - values[x])


@inner
def _add_rows(first, second, total):
    for x in range(total.size):
        total[x] = first[x] + second[x]


def rebuild_highlights(tile, y0, x0, guide, sensor, balance, factor):
    """Rebuild the clipped channels of a tile at reduced size, in place.

    Parameters
    ----------
    tile : ndarray, shape (3, rows, columns), float32
        Camera RGB, black 0, clipping at 1, not balanced.
    y0, x0 : int
        Where the tile starts in the reduced frame.
    guide : ndarray
        From `highlight_guide`.
    sensor : Sensor
    balance : array_like, shape (3,)
        The gains given to `highlight_guide`.
    factor : int
        By how much the frame is reduced.
    """
    first = [
        ((start + 0.5) * factor + shift) / CELL - 0.5
        for start, shift in zip((y0, x0), sensor.phase, strict=True)
    ]
    gains, step = np.asarray(balance, np.float32), np.float32(factor / CELL)
    _rebuild(tile, np.float32(first[0]), np.float32(first[1]), step, guide, gains)


@compiled
def _rebuild(tile, top, left, step, guide, gains):
    blended = np.empty((4, guide.shape[2]), np.float32)
    light = np.empty((5, tile.shape[2]), np.float32)
    lights = _five(light, 0, tile.shape[2])
    for y in range(tile.shape[1]):
        clipped = _any_above(tile[0, y], ONSET) or _any_above(tile[1, y], ONSET)
        if clipped or _any_above(tile[2, y], ONSET):
            _blend(guide, top + np.float32(y) * step, blended)
            _look_up(blended, left, step, gains, lights)
            _rebuild_pixels(tile[0, y], tile[1, y], tile[2, y], light, gains)


@inner
def _rebuild_pixels(red, green, blue, light, gains):
    one = np.float32(1)
    lights_red, lights_green, lights_blue, burnt = light[0], light[1], light[2], light[4]
    for x in range(red.size):
        r, g, b = red[x] * gains[0], green[x] * gains[1], blue[x] * gains[2]
        known_r = one - _clipped_part(red[x])
        known_g = one - _clipped_part(green[x])
        known_b = one - _clipped_part(blue[x])
        signal = known_r * r + known_g * g + known_b * b
        share = known_r * lights_red[x] + known_g * lights_green[x] + known_b * lights_blue[x]
        whole = _light(signal, share, (known_r, known_g, known_b), burnt[x])
        red[x] = _risen(red[x], known_r, whole * lights_red[x] / gains[0])
        green[x] = _risen(green[x], known_g, whole * lights_green[x] / gains[1])
        blue[x] = _risen(blue[x], known_b, whole * lights_blue[x] / gains[2])
