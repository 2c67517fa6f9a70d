"""How noisy a frame is, read from its quietest places so that texture does not count as noise.

The green sites are taken in small patches (`grading.kernels.raw.patches`).  Patches of like
brightness make a bin; of each bin the quietest are kept, by all but their finest detail, and the
variance of that detail is the bin's noise (as Ponomarenko et al., IGARSS 2007, with the bins of
Colom and Buades, IPOL 3:173, 2013).  White noise has no more of the one for having less of the
other, so choosing does not bias.  Texture only adds, so the line of the Poisson-Gaussian model
(Foi, Trimeche, Katkovnik and Egiazarian, IEEE TIP 17, 2008) touches the bins from below.

A bin is flat where its quiet patches have no more of bends than of their finest detail: noise is
white, and texture has less of the finest (Field, JOSA A 4:2379, 1987).  Slopes, which even skies
have, do not count among the bends.  Only flat bins count, and where there are none that agree, the
frame cannot tell.  What no single frame can tell is texture that is white to the pixel; it gives
itself away only where its variance rises with the square of the signal.  The constants are ours,
set on the scenes of `tests/truth/textures.py` and on the demo set.
"""

from typing import NamedTuple

import numpy as np

from grading.frame import Measured, Noise
from grading.kernels.raw.patches import SIDE, green_patches

PATCHES = 200_000
NEAR_WHITE = 0.9
BINS = 24
KEYS = 4
"""To a count, by which patches are sorted."""
QUIET, LEAST = 0.02, 60
"""Share of a bin that is kept, and how many patches at least; smaller bins do not count."""
HOT = 40
"""Squares are held to so many medians; the mean of Gaussian ones is 2.2 medians."""
MEDIAN_OF_TWO, MEDIAN_OF_FOUR = 0.693, 0.839
"""Medians of the mean of two and of four squares of white noise (chi-square)."""
LEAST_BENT, MOST_BENT, CHANCE = 0.7, 1.16, 2.0
"""How much of its bends a flat bin may have for its finest detail; less where a camera has smoothed
its noise. The ratio is off by chance by about 1.5 over the root of the number of patches; where the
most does not lie further away, a bin counts for the line, but not for being sure of it."""
FROM_BELOW, AGREE = 0.05, 0.25
"""The quantile of the bins that the first line goes through, and how far bins of the last lie."""
SPREAD = 0.05
"""Of a bin's variance."""
STEEP, SIGNIFICANT = 0.3, 4.0
"""How much faster than the model the variance may rise, and in how many deviations to be sure."""
DOUBT = 0.15
"""Deviation of the variance at the mean of a frame, as a share of it, that one may be sure with."""
LOOSE = 2.0
"""Deviation of the usual offset, as a multiple of it."""
ROUNDS, STEPS = 15, (2 * AGREE, 2 * AGREE, AGREE, AGREE, AGREE)
NINE_HALVES = np.float32(9 / 2)
LEAST_GAIN, LEAST_VARIANCE, LEAST_SIGNAL = 1e-9, 1e-12, 1e-3


class Bin(NamedTuple):
    """Signal and noise variance of a bin, and how much of its bends it has for its finest detail.

    Also how many of its patches are quiet, how many it has, and the sum of their signals.
    """

    signal: float
    variance: float
    bent: float
    quiet: int
    patches: int
    total: float


def usual_offset(gain):
    """Offset of a sensor that reads with 2.4 electrons, and about 1/7000 of white behind its gain.

    Both are typical values, from memory.

    >>> usual_offset(1e-4)
    8e-08
    """
    return 6 * gain**2 + 2e-8


def _most_offset(gain):
    """Offset that is taken for possible: 10 electrons, and 1/1000 of white."""
    return 100 * gain**2 + 1e-6


def measure_noise(mosaic, phase, black, white):
    """Gain and offset of the noise variance, ``variance = gain * signal + offset``.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts.
    phase : tuple of int
        Row and column of the red site in the frame's first 2x2 block.
    black : array_like, shape (4,)
        Levels in counts of red, green beside red, green beside blue, blue.
    white : float
        The count that is white.

    Returns
    -------
    Measured or None
        In units of the signal with black at 0 and white at 1; None where the frame has too few
        usable patches to tell.
    """
    step = max(SIDE, 2 * int(np.ceil(np.sqrt(mosaic.size / PATCHES) / 2)))
    greens = float(black[1]), float(black[2])
    highest = int(min(greens) + NEAR_WHITE * (white - min(greens)))
    corner = phase[0], SIDE + 1 - phase[1]
    patches = green_patches(mosaic, corner, step, greens, 0, highest)
    scale = 1 / (white - greens[0])
    bins = _bins(patches.reshape(len(patches), -1), greens[0], scale)
    if len(bins) < 2:
        return None
    return _measured(bins, scale * scale / 12)


def _bins(patches, black, scale):
    """Patches by signal, those of each bin about equally many; the unusable are left out."""
    usable = patches[0] >= 0
    keys = (KEYS * patches[0, usable]).astype(np.int32)
    counts = np.bincount(keys)
    bin_of_key = (np.cumsum(counts) - counts) * BINS // max(keys.size, 1)
    order = np.full(usable.size, BINS, np.uint8)
    order[usable] = bin_of_key[keys]
    places = np.split(np.argsort(order, kind="stable"), np.cumsum(np.bincount(order))[:-1])
    return [
        _bin(patches[:, place], black, scale) for place in places[:BINS] if place.size >= LEAST
    ]


def _bin(patches, black, scale):
    level, bends, rest = patches[:3]
    energies = bends + NINE_HALVES * rest
    count = max(int(QUIET * energies.size), LEAST)
    quietest = energies <= np.partition(energies, count - 1)[count - 1]
    finest = patches[3:].astype(float)
    finest -= finest[:, quietest].mean(1, keepdims=True)  # the greens may differ evenly
    finest *= finest
    held = np.minimum(finest[:, quietest], HOT * np.median(finest[:, quietest]))
    variance = held.mean()
    quiet = rest < variance
    bent = _bent(bends[quiet], finest[:, quiet].mean(0))
    signal = max(scale * (level[quietest].mean(dtype=float) - black), 0.0)
    total = scale * (level.sum(dtype=float) - level.size * black)
    return Bin(signal, scale**2 * variance, bent, int(quiet.sum()), level.size, total)


def _bent(bends, finest):
    """How much patches have of their bends for their finest detail; 1 in white noise."""
    fine = np.median(finest) / MEDIAN_OF_FOUR if bends.size >= LEAST else 0.0
    return np.median(bends) / MEDIAN_OF_TWO / fine if fine > 0 else np.inf


def _measured(bins, least_offset):
    signal, variance, bent, quiet, patches, total = map(np.array, zip(*bins, strict=True))
    even = (bent >= LEAST_BENT) & (bent <= MOST_BENT)
    flat = even & (bent * (1 + CHANCE / np.sqrt(np.maximum(quiet, 1))) <= MOST_BENT)
    known = even if flat.sum() >= 2 else np.ones_like(even)
    noise = _line_from_below(signal[known], variance[known], least_offset)
    for reach in STEPS:
        used = known & (np.abs(_excess(signal, variance, noise)) < reach)
        if not used.any():
            break
        noise = _line(signal, variance, used, noise, least_offset)
    excess = _excess(signal, variance, noise)
    agreeing, quieter = np.abs(excess) < AGREE, excess <= -AGREE
    steep = _is_steep(signal[flat], excess[flat])
    used, mean = even & agreeing, total.sum() / patches.sum()
    doubt = _doubt(signal, flat & agreeing, noise, mean)
    sure = (flat & agreeing).sum() >= 2 and (flat & quieter).sum() < 2 and not steep
    level = total[used].sum() / patches[used].sum() if used.any() else mean
    share = quiet[used].sum() / patches.sum()
    return Measured(noise, max(float(level), 0.0), float(share), bool(sure and doubt < DOUBT))


def _line_from_below(signal, variance, least_offset):
    """The line below all but a few bins: quantile regression by weights that follow the signs."""
    gain = max(np.min(variance / np.maximum(signal, LEAST_SIGNAL)), LEAST_GAIN)
    noise, weight = Noise(gain, 0.0), np.ones_like(variance)
    for _ in range(ROUNDS):
        noise = _line(signal, variance, weight, noise, least_offset)
        excess = _excess(signal, variance, noise)
        side = np.where(excess > 0, FROM_BELOW, 1 - FROM_BELOW)
        weight = side / np.maximum(np.abs(excess), SPREAD)
    return noise


def _line(signal, variance, weight, noise, least_offset):
    """Weighted least squares about a model, its offset within what is possible.

    The line is a sum of ``signal`` and ``signal + most``, neither negative. One more observation,
    of the usual offset, settles what no dark bin does.

    Pixels depend on it, so it is written as sums: the last digits that a linear algebra library
    gives depend on the processor.
    """
    a, b, unit, most = _rows(signal, weight, noise)
    y = np.append(np.maximum(variance - least_offset, 0) * unit, 1 / LOOSE)
    x, z = _two_not_negative(a, b, y)
    return Noise(x + z, z * most + least_offset)


def _rows(signal, weight, noise):
    """Columns of the two lines, the unit of the variances, and what `most` is."""
    gain = max(noise.gain, LEAST_GAIN)
    most = _most_offset(gain) / gain
    unit = np.sqrt(weight) / (SPREAD * np.maximum(noise.variance(signal), LEAST_VARIANCE))
    prior = most / (LOOSE * usual_offset(gain))
    return np.append(signal * unit, 0.0), np.append((signal + most) * unit, prior), unit, most


def _doubt(signal, weight, noise, level):
    """Relative deviation of the variance that a line gives at a level: large far from its bins."""
    a, b, _, most = _rows(signal, weight, noise)
    aa, ab, bb = (float((u * v).sum()) for u, v in ((a, a), (a, b), (b, b)))
    free, above = aa * bb - ab * ab, level + most
    if free <= 0:
        return np.inf
    square = (bb * level**2 - 2 * ab * level * above + aa * above**2) / free
    return max(square, 0.0) ** 0.5 / max(noise.variance(level), LEAST_VARIANCE)


def _two_not_negative(a, b, y):
    """Factors of `a` and of `b`, neither negative, whose sum is nearest to `y`."""
    aa, ab, bb, ay, by = (float((u * v).sum()) for u, v in ((a, a), (a, b), (b, b), (a, y), (b, y)))
    free = aa * bb - ab * ab
    x, z = (bb * ay - ab * by, aa * by - ab * ay) if free > 0 else (-1.0, -1.0)
    if x >= 0 and z >= 0:
        return x / free, z / free
    only_a, only_b = max(ay / aa, 0.0) if aa else 0.0, max(by / bb, 0.0)
    return (only_a, 0.0) if only_a * ay > only_b * by else (0.0, only_b)


def _excess(signal, variance, noise):
    """By what share of the model the variance of bins lies above it."""
    return variance / np.maximum(noise.variance(signal), LEAST_VARIANCE) - 1


def _is_steep(signal, excess):
    """Whether the variance of bins rises faster than the signal, as that of texture does."""
    if signal.size < 2:
        return False
    run = signal / max(signal.mean(), LEAST_SIGNAL)
    run = run - run.mean()
    squares, slope = float((run * run).sum()), float((run * excess).sum())
    return slope > STEEP * squares and slope > SIGNIFICANT * SPREAD * squares**0.5
