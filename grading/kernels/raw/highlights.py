"""Clipped channels rebuilt from the ones that are not.

The light about a place is looked up in a guide of the frame at a small fraction of its size: its
colour, which goes on smoothly from the bright, unclipped surroundings into the clipped places (also
by what two channels tell where the third clips), and fades to neutral far from all that is known;
and its level where all channels clip, which goes on in value and slope from the rim, like a thin
plate, and never lies below what clipping tells (`survey` reads the mosaic, `relax` fills the guide).
At a site, what is not clipped about it gives the level, the guide's colour gives the clipped
channels, and a clipped channel is never taken below where it clipped (after Zhang and Brainard,
"Estimation of saturated pixel values in digital color imaging", JOSA A 21, 2004, and Masood, Zhu
and Tappen, "Automatic correction of saturated regions in photographs using cross-channel
correlation", CGF 28, 2009). Sites are rebuilt before colours are interpolated, so that the edge of
what clips is interpolated between values that go on.
"""

import numpy as np

from grading.kernels.primitives import clamp, compiled, exp2, inner, log2, smooth
from grading.kernels.raw.relax import colours, plate
from grading.kernels.raw.survey import (
    BLOCKS,
    BRIGHT,
    BURNT,
    CELL,
    FLOW,
    RATIO,
    RATIO_WEIGHT,
    SIGNAL,
    SIGNAL_WEIGHT,
    survey,
)

ONSET, CLIP = np.float32(0.9), np.float32(0.985)
TINY = np.float32(1e-6)
PUREST = np.float32(5 / np.log(2))
"""How many stops a guide's colour may have between green and red or blue."""

LYING = np.float32(0.3)
"""Share of a cell's blocks that clip in every channel from which its level lies on the floor."""

NOWHERE = np.float32(-20)

SHARES = (
    (np.float32(1), np.float32(1 / 4), np.float32(1 / 4)),
    (np.float32(1 / 2), np.float32(1 / 2), np.float32(1 / 8)),
)
"""What a site, each of those beside it, and each of those at its corners count: of a red or blue
site, and of a green one."""


def highlight_guide(mosaic, sensor, balance):
    """Colour and level of the light around clipped places.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts, C-contiguous.
    sensor : Sensor
        Phase and levels.
    balance : array_like, shape (3,)
        White-balance gains, green 1.

    Returns
    -------
    ndarray, shape (4, cells down, cells across), float32, or None
        Of each cell of 8x8 pixels, of which the first begins at the first red site or a pixel
        before the frame: balanced red, green and blue, and their sum times the light where all
        clip. Their own sum says how much the cell counts where it is looked up beside others.
        None where the frame has nothing clipped.
    """
    brightest = (float(mosaic.max()) - sensor.black.min()) * sensor.scale.max()
    if brightest < CLIP:
        return None
    gains = np.asarray(balance, np.float32)
    cells = survey(mosaic, sensor, gains)
    ratios, weights = cells[RATIO:RATIO_WEIGHT], cells[RATIO_WEIGHT:SIGNAL]
    hue = np.clip(colours(ratios, weights, cells[FLOW]), -PUREST, PUREST)
    level, weight, floor = np.empty((3, *hue.shape[1:]), np.float32)
    _find_level(cells, hue, gains, level, weight, floor)
    level = plate(level, weight, floor, cells[FLOW])
    guide = np.empty((4, *hue.shape[1:]), np.float32)
    _to_light(hue, level, cells[BRIGHT], guide)
    return guide


@compiled
def _find_level(cells, hue, gains, level, weight, floor):
    """The level of green, in stops, that a cell's known channels tell, and what this weighs; and
    the least level at which all channels clip."""
    one, lowest = np.float32(1), TINY
    stops = (log2(gains[0]), log2(gains[1]), log2(gains[2]))
    for i in range(level.shape[0]):
        for j in range(level.shape[1]):
            red, blue = exp2(hue[0, i, j]), exp2(hue[1, i, j])
            signal = gains[0] * cells[SIGNAL, i, j] + gains[1] * cells[SIGNAL + 1, i, j]
            signal = signal + gains[2] * cells[SIGNAL + 2, i, j]
            share = cells[SIGNAL_WEIGHT, i, j] * red + cells[SIGNAL_WEIGHT + 1, i, j]
            share = share + cells[SIGNAL_WEIGHT + 2, i, j] * blue
            level[i, j] = log2(max(signal, lowest * share + lowest)) - log2(share + lowest)
            burnt = cells[BURNT, i, j]
            known = cells[SIGNAL_WEIGHT, i, j] + cells[SIGNAL_WEIGHT + 1, i, j]
            known = known + cells[SIGNAL_WEIGHT + 2, i, j]
            weight[i, j] = known * (one - burnt) * (one - burnt)
            least = max(max(stops[0] - hue[0, i, j], stops[1]), stops[2] - hue[1, i, j])
            floor[i, j] = least if burnt > LYING else NOWHERE


@compiled
def _to_light(hue, level, bright, guide):
    """Colours and levels times what their cells count: bright ones far more than dark ones, so that
    there is no colour of a hill in the sky before it."""
    one = np.float32(1)
    for i in range(level.shape[0]):
        for j in range(level.shape[1]):
            red, blue = exp2(hue[0, i, j]), exp2(hue[1, i, j])
            square = max(bright[i, j], np.float32(0.01)) * max(bright[i, j], np.float32(0.01))
            sixth = square * square * square
            total = red + one + blue
            share = sixth * sixth / total
            guide[0, i, j], guide[1, i, j], guide[2, i, j] = share * red, share, share * blue
            guide[3, i, j] = sixth * sixth * exp2(clamp(level[i, j], NOWHERE, -NOWHERE)) * total


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
    """The two cells around a place, in cells from the first one's centre; and the second's share."""
    place = min(max(place, np.float32(0)), np.float32(size - 1))
    first = int(place)
    return first, min(first + 1, size - 1), place - np.float32(first)


@inner
def _look_up(guide, row, start, step, blended, out):
    """Red, green, blue of unit sum, and the whole light where all clip, along a row.

    `row` and `start` are the places of the row and of its first value in cells, `step` is that from
    one value to the next.
    """
    above, below, part = _cells_about(row, guide.shape[1])
    for k in range(4):
        first, second, line = guide[k, above], guide[k, below], blended[k]
        for j in range(line.size):
            line[j] = first[j] + part * (second[j] - first[j])
    for x in range(out.shape[1]):
        left, right, part = _cells_about(start + np.float32(x) * step, guide.shape[2])
        for k in range(4):
            out[k, x] = blended[k, left] + part * (blended[k, right] - blended[k, left])
    red, green, blue, light = out[0], out[1], out[2], out[3]
    for x in range(light.size):
        total = red[x] + green[x] + blue[x]
        share = np.float32(1) / total
        red[x], green[x], blue[x], light[x] = (
            red[x] * share,
            green[x] * share,
            blue[x] * share,
            light[x] * share,
        )


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
    if not _any_clipped(planes.reshape(4, rows * columns), gains):
        return
    known = np.empty(planes.shape, np.float32)
    for site in range(4):
        for i in range(rows):
            _part_known(planes[site, i], gains[(site + 1) // 2], known[site, i])
    filled = planes.copy()
    blended, light = np.empty((4, guide.shape[2]), np.float32), np.empty((4, columns), np.float32)
    step, half = np.float32(1 / BLOCKS), np.float32(0.5)
    start = (np.float32(first_column) + half) * step - half
    for i in range(rows):
        if not _any_clipped(planes[:, i], gains):
            continue
        row = (np.float32(first_row + i) + half) * step - half
        _look_up(guide, row, start, step, blended, light)
        for site in range(4):
            colour = (site + 1) // 2
            _fill(planes[site, i], known[site, i], light[colour], light[3], gains[colour], filled[site, i])
    sums = np.empty((4, columns), np.float32)
    for i in range(1, rows - 1):
        if not _any_clipped(planes[:, i], gains):
            continue
        row = (np.float32(first_row + i) + half) * step - half
        _look_up(guide, row, start, step, blended, light)
        for site in range(4):
            r, c = site // 2, site & 1
            across, along, corner = 2 * r + 1 - c, 2 - 2 * r + c, 3 - site
            for k, part in enumerate((known, filled)):
                _add_rows(part[along, i - 1 + r], part[along, i + r], sums[2 * k])
                _add_rows(part[corner, i - 1 + r], part[corner, i + r], sums[2 * k + 1])
            _rebuild_row(
                planes[site, i], (known[site, i], filled[site, i]),
                (known[across, i, c:], filled[across, i, c:]), sums, c,
                (light[(site + 1) // 2], light[(across + 1) // 2], light[(along + 1) // 2],
                 light[(corner + 1) // 2]), light[3], (r + c) & 1,
            )  # fmt: skip


@inner
def _any_clipped(sites, gains):
    return (
        _any_above(sites[0], ONSET * gains[0])
        or _any_above(sites[1], ONSET * gains[1])
        or _any_above(sites[2], ONSET * gains[1])
        or _any_above(sites[3], ONSET * gains[2])
    )


@inner
def _part_known(values, gain, known):
    inverse = np.float32(1) / gain
    for x in range(values.size):
        known[x] = np.float32(1) - _clipped_part(values[x] * inverse)


@inner
def _fill(values, known, lights, burnt, gain, filled):
    """What clips becomes the light where all clip, which is no less than clipping tells."""
    for x in range(values.size):
        light = max(burnt[x] * lights[x], max(values[x], gain))
        filled[x] = light + known[x] * (values[x] - light)


@inner
def _add_rows(first, second, total):
    for x in range(total.size):
        total[x] = first[x] + second[x]


@inner
def _rebuild_row(values, own, across, sums, c, colours, burnt, green):
    """Sites of one kind in a row of blocks, from the nine about each, weighted 1, 2, 1 both ways.

    All three colours have the same share in these. `own` and `across` are what is known and told at
    the sites themselves and beside them, `sums` what the rows above and below have together.
    """
    known, told = own
    known_across, told_across = across
    known_along, known_corner, told_along, told_corner = sums[0], sums[1, c:], sums[2], sums[3, c:]
    lights, lights_across, lights_along, lights_corner = colours
    one, half, quarter = np.float32(1), np.float32(0.5), np.float32(0.25)
    if green:
        for x in range(1, values.size - 1):
            a = half * (known_across[x - 1] + known_across[x])
            b = half * known_along[x]
            d = half * (known[x] + quarter * (known_corner[x - 1] + known_corner[x]))
            signal = a * half * (told_across[x - 1] + told_across[x]) + b * half * told_along[x]
            signal += d * half * (told[x] + quarter * (told_corner[x - 1] + told_corner[x]))
            share = a * lights_across[x] + b * lights_along[x] + d * lights[x]
            rest = (one - a) * (one - b) * (one - d)
            level = signal / (share + TINY)
            light = (level + rest * max(burnt[x] - level, np.float32(0))) * lights[x]
            values[x] = values[x] + (one - known[x]) * max(light - values[x], np.float32(0))
    else:
        for x in range(1, values.size - 1):
            a = quarter * (known_across[x - 1] + known_across[x] + known_along[x])
            b = quarter * (known_corner[x - 1] + known_corner[x])
            d = known[x]
            signal = a * quarter * (told_across[x - 1] + told_across[x] + told_along[x])
            signal += b * quarter * (told_corner[x - 1] + told_corner[x]) + d * told[x]
            share = a * lights_across[x] + b * lights_corner[x] + d * lights[x]
            rest = (one - a) * (one - b) * (one - d)
            level = signal / (share + TINY)
            light = (level + rest * max(burnt[x] - level, np.float32(0))) * lights[x]
            values[x] = values[x] + (one - known[x]) * max(light - values[x], np.float32(0))


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
    light = np.empty((4, tile.shape[2]), np.float32)
    for y in range(tile.shape[1]):
        clipped = _any_above(tile[0, y], ONSET) or _any_above(tile[1, y], ONSET)
        if not (clipped or _any_above(tile[2, y], ONSET)):
            continue
        _look_up(guide, top + np.float32(y) * step, left, step, blended, light)
        _rebuild_pixels(tile[0, y], tile[1, y], tile[2, y], light, gains)


@inner
def _rebuild_pixels(red, green, blue, light, gains):
    one = np.float32(1)
    lights_red, lights_green, lights_blue, burnt = light[0], light[1], light[2], light[3]
    for x in range(red.size):
        r, g, b = red[x] * gains[0], green[x] * gains[1], blue[x] * gains[2]
        known_r = one - _clipped_part(red[x])
        known_g = one - _clipped_part(green[x])
        known_b = one - _clipped_part(blue[x])
        signal = known_r * r + known_g * g + known_b * b
        share = known_r * lights_red[x] + known_g * lights_green[x] + known_b * lights_blue[x]
        rest = smooth(one - (known_r + known_g + known_b))
        level = signal / (share + TINY)
        level = level + rest * max(burnt[x] - level, np.float32(0))
        red[x] += (one - known_r) * max(level * lights_red[x] - r, np.float32(0)) / gains[0]
        green[x] += (one - known_g) * max(level * lights_green[x] - g, np.float32(0)) / gains[1]
        blue[x] += (one - known_b) * max(level * lights_blue[x] - b, np.float32(0)) / gains[2]
