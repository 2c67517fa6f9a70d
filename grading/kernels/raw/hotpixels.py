"""Repair of hot sites: single sites far brighter than everything around them.

A site is hot where it stands above all eight neighbours of its own colour by more than noise and
texture allow, and the four sites beside it, which are of other colours, know nothing of it.  Light
that passed a lens is never that narrow: a star or a lamp lifts the sites beside its centre too, and
even a pure red one by more than noise and the texture of a dark place do.
The thresholds are ours; common practice, no source.
"""

import numpy as np

from grading.kernels.primitives import compiled, inner

REACH = 2
RUN = 512
"""Sites that are looked through at a time."""

NOISE_STEPS = np.float32(6)
CONTRAST = np.float32(1.2)
SPREAD = np.float32(0.15)
"""Share of what stands out that no rise beside a hot site reaches."""
UNSEEN, TEXTURE = np.float32(0.02), np.float32(0.3)
"""Rise beside a site that tells of no light: the same share, and a share of the light there."""


@compiled
def repair_hot_pixels(planes, noise, gains):
    """Replace hot sites by the median of their eight neighbours of the same colour, in place.

    Parameters
    ----------
    planes : ndarray, shape (4, rows, columns), float32
        Balanced signal of red, green beside red, green beside blue and blue sites.  The outermost
        `REACH` rows and columns are only looked at.
    noise : tuple of float
        Gain and offset of the variance of the unbalanced signal.
    gains : ndarray, shape (3,), float32
        The balance that is in `planes`.
    """
    rows, columns = planes.shape[1:]
    found, peaks = np.empty((planes.size // 4 + 1, 3), np.int32), np.empty(RUN, np.bool_)
    repaired = np.empty(planes.size // 4 + 1, np.float32)
    count = 0
    for site in range(4):
        balance = gains[(site + 1) // 2]
        slope = NOISE_STEPS * NOISE_STEPS * balance * np.float32(noise[0])
        floor = NOISE_STEPS * NOISE_STEPS * balance * balance * np.float32(noise[1])
        plane = planes[site]
        flat, outer = plane.ravel(), REACH * columns
        for start in range(outer, flat.size - outer, RUN):
            stop = min(start + RUN, flat.size - outer)
            if not _find_peaks(
                flat[start - columns :], flat[start - 1 :], flat[start:stop], flat[start + 1 :],
                flat[start + columns :], slope, floor, peaks,
            ):
                continue
            for place in range(start, stop):
                if not peaks[place - start]:
                    continue
                y, x = place // columns, place % columns
                if not REACH <= x < columns - REACH:
                    continue
                ring = _ring_maximum(plane[y - 1], plane[y], plane[y + 1], x)
                if _is_peak(flat[place], ring, slope, floor) and _stands_alone(
                    planes, site, y, x, flat[place] - ring, slope, floor
                ):
                    found[count, 0], found[count, 1], found[count, 2] = site, y, x
                    repaired[count] = _ring_median(plane, y, x)
                    count += 1
    for k in range(count):
        planes[found[k, 0], found[k, 1], found[k, 2]] = repaired[k]


@inner
def _ring_maximum(above, row, below, x):
    up = max(max(above[x - 1], above[x]), above[x + 1])
    down = max(max(below[x - 1], below[x]), below[x + 1])
    return max(max(row[x - 1], row[x + 1]), max(up, down))


@inner
def _is_peak(value, around, slope, floor):
    level = max(around, np.float32(0))
    excess = max(value - CONTRAST * level, np.float32(0))
    return excess * excess > slope * level + floor


@inner
def _find_peaks(above, before, row, after, below, slope, floor, peaks):
    """Which sites of a run stand above their four nearest neighbours; whether any does."""
    count = np.int32(0)
    for x in range(row.size):
        cross = max(max(above[x], below[x]), max(before[x], after[x]))
        peaks[x] = _is_peak(row[x], cross, slope, floor)
        count += np.int32(1) if peaks[x] else np.int32(0)
    return count > 0


@inner
def _stands_alone(planes, site, y, x, excess, slope, floor):
    """Whether none of the four sites beside a peak rises towards it as light would."""
    r, c = site // 2, site % 2
    across, along = planes[2 * r + 1 - c, y], planes[2 - 2 * r + c, :, x]
    west, east, north, south = x - 1 + c, x + c, y - 1 + r, y + r
    rise = max(
        max(across[west] - across[west - 1], across[east] - across[east + 1]),
        max(along[north] - along[north - 1], along[south] - along[south + 1]),
    )
    beyond = (across[west - 1] + across[east + 1]) + (along[north - 1] + along[south + 1])
    level = max(np.float32(0.25) * beyond, np.float32(0))
    unseen = max(max(UNSEEN * excess, TEXTURE * level), np.sqrt(slope * level + floor))
    return rise < min(unseen, SPREAD * excess)


@inner
def _ring_median(plane, y, x):
    """Median of the eight around a peak: as the ninth is the highest, its rank is the last."""
    total = np.float32(0)
    for i in range(9):
        value = plane[y + i // 3 - 1, x + i % 3 - 1]
        rank = 0
        for j in range(9):
            other = plane[y + j // 3 - 1, x + j % 3 - 1]
            rank += other < value or (other == value and j < i)
        total += value if rank == 3 or rank == 4 else np.float32(0)
    return np.float32(0.5) * total
