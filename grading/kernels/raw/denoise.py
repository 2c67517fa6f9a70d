"""Light noise reduction on a Bayer mosaic, before it is demosaiced.

Each 2x2 block becomes a weighted mean of itself and the twelve blocks within two steps of it; the
weight is by how alike their surroundings are (non-local means: Buades, Coll and Morel, "A
non-local algorithm for image denoising", CVPR 2005; on blocks of a mosaic, as in Zhang, Lukac, Wu
and Zhang, "PCA-based spatially adaptive denoising of CFA images", IEEE TIP 18(4), 2009).  Blocks
are compared on a scale where noise has the same deviation at every level (Anscombe, "The
transformation of Poisson, binomial and negative-binomial data", Biometrika 35, 1948, generalised
to read noise by Murtagh, Starck and Bijaoui, A&A Suppl. 112, 1995), so the frame's own noise model
tells what is alike.  They are averaged on the linear scale, so that no inverse brings a bias.  The
weight is the biweight of Beaton and Tukey (Technometrics 16, 1974), exactly 0 for blocks that
differ by more than noise does.  Whole blocks are averaged, so no colour is mixed with another.

Of what this takes away, most of the luminance is given back: the mosaic's low frequencies, which
hold no colour (Alleysson, Suesstrunk and Herault, "Linear demosaicing inspired by the human visual
system", IEEE TIP 14(4), 2005).  So colour noise goes first, and texture and a fine grain stay.
The two greens of a block, whose difference would weave a grid into flat places, are drawn together
as far as noise explains how they differ.  The constants, and joining the three, are ours.
"""

import numpy as np

from grading.colour.spaces import MIDDLE_GREY
from grading.kernels.primitives import aligned, compiled, fma, inner

REACH = 4
"""Blocks in each direction that a block depends on."""
LEAST_VARIANCE = 4e-6
"""A frame whose noise has less variance at middle grey, white being 1, is left as it is."""
WINDOW = ((0, 1), (0, 2), (1, -1), (1, 0), (1, 1), (2, 0))
"""Rows and columns to half of the twelve blocks; the others are opposite."""
BAND = 16
"""Rows of blocks that are averaged at a time, for the cache."""
FARTHEST, FARTHEST_ALONE = 6, 8
"""Distance at which a weight is 0: of the 3x3 blocks around, and of the two blocks alone.

Noise by itself makes a mean distance of 1.  The second keeps what is as small as a site, which the
blocks around would outvote.
"""
AROUND, ALONE = np.float32(1 / (16 * 8 * FARTHEST)), np.float32(1 / (8 * FARTHEST_ALONE))
"""Their inverses for sums of squares: of four sites, each of twice the variance, times 16."""
LUMINANCE = np.float32(0.7 / 16)
"""The share of the luminance that is given back, for a sum with weights of 16."""
GREEN_NOISE = np.float32(2)
"""How far the greens are drawn together: times the variance of half their difference."""
ANSCOMBE, TINY = np.float32(3 / 8), np.float32(1e-20)
ZERO, HALF, ONE, TWO = np.float32(0), np.float32(0.5), np.float32(1), np.float32(2)


def is_noisy(noise):
    """Whether a frame of this gain and offset has noise worth reducing."""
    return noise[0] * MIDDLE_GREY + noise[1] >= LEAST_VARIANCE


@compiled
def reduce_noise(planes, noise, gains):
    """The sites of a mosaic with less noise, without `REACH` rows at the top and at the bottom.

    Parameters
    ----------
    planes : ndarray, shape (4, rows, columns), float32
        Balanced signal of red, green beside red, green beside blue and blue sites.
    noise : tuple of float
        Gain and offset of the variance of the unbalanced signal, not both 0.
    gains : ndarray, shape (3,), float32
        The balance that is in `planes`.

    Returns
    -------
    ndarray, shape (4, rows - 2 * REACH, columns), float32
        The outermost `REACH` columns are not to be used.
    """
    rows, columns = planes.shape[1:]
    sites = planes.reshape(4, rows * columns)
    stable, mean = aligned(sites.shape), aligned(sites.shape)
    weight = aligned((sites.shape[1],))
    for site in range(4):
        balance = gains[(site + 1) // 2]
        slope, floor = balance * np.float32(noise[0]), balance * balance * np.float32(noise[1])
        _stabilise(sites[site], slope, floor, stable[site])
    scratch = aligned((3, (BAND + 4) * columns + 4))
    edge = (REACH - 1) * (columns + 1)
    for start in range(edge, weight.size - edge, BAND * columns):
        stop = min(start + BAND * columns, weight.size - edge)
        _average(sites, stable, start, stop, columns, scratch, mean, weight)
    slope, floor = gains[1] * np.float32(noise[0]), gains[1] * gains[1] * np.float32(noise[1])
    _match_greens(mean[1], mean[2], weight, slope, floor)
    return _with_grain(sites, mean, stable, columns)


@inner
def _stabilise(signal, slope, floor, out):
    """Generalised Anscombe transformation, moved to 0 for 0: noise of deviation 1 at any signal.

    Written so that the slope may be 0; where no signal can be, it goes on as a line.
    """
    floor = floor + ANSCOMBE * slope * slope
    root = np.sqrt(floor)
    for x in range(out.size):
        variance = fma(slope, signal[x], floor)
        out[x] = TWO * signal[x] / (np.sqrt(variance if variance > ZERO else ZERO) + root)


@inner
def _average(sites, stable, start, stop, columns, scratch, mean, weight):
    """Weighted means, and the sums of their weights, of blocks `start` to `stop`."""
    total = weight[start:stop]
    for x in range(total.size):
        total[x] = ONE
    for site in range(4):
        _copy(sites[site, start:stop], mean[site, start:stop])
    for row, column in WINDOW:
        step = row * columns + column
        before = _likeness(stable, start - step, stop, step, columns, scratch)
        after = before[step:]
        _add_both(before, after, total)
        for site in range(4):
            own = sites[site]
            _add_weighted(
                before, own[start - step :], after, own[start + step :], mean[site, start:stop]
            )
    for site in range(4):
        _divide(mean[site, start:stop], total)


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]


@inner
def _likeness(stable, first, last, step, columns, scratch):
    """Weight that blocks `first` to `last` and those a step further have for each other."""
    begin, end = first - columns - 1, last + columns + 1
    change, blurred, weight = scratch[0, : end - begin], scratch[1], scratch[2, : last - first]
    _changes(
        stable[0, begin:end], stable[1, begin:end], stable[2, begin:end], stable[3, begin:end],
        stable[0, begin + step :], stable[1, begin + step :],
        stable[2, begin + step :], stable[3, begin + step :], change,
    )
    _blur(change, change[columns:], change[2 * columns :], blurred[: weight.size + 2])
    _biweight(blurred, blurred[1:], blurred[2:], change[columns + 1 :], weight)
    return weight


@inner
def _changes(a0, a1, a2, a3, b0, b1, b2, b3, out):
    for x in range(out.size):
        d0, d1, d2, d3 = a0[x] - b0[x], a1[x] - b1[x], a2[x] - b2[x], a3[x] - b3[x]
        out[x] = fma(d0, d0, d1 * d1) + fma(d2, d2, d3 * d3)


@inner
def _blur(a, b, c, out):
    for x in range(out.size):
        out[x] = fma(TWO, b[x], a[x] + c[x])


@inner
def _biweight(before, here, after, own, out):
    for x in range(out.size):
        around = AROUND * fma(TWO, here[x], before[x] + after[x])
        alone = ALONE * own[x]
        near = ONE - (around if around > alone else alone)
        near = near if near > ZERO else ZERO
        out[x] = near * near


@inner
def _add_both(before, after, total):
    for x in range(total.size):
        total[x] = total[x] + (before[x] + after[x])


@inner
def _add_weighted(weight0, signal0, weight1, signal1, total):
    for x in range(total.size):
        total[x] = fma(weight0[x], signal0[x], fma(weight1[x], signal1[x], total[x]))


@inner
def _divide(total, weight):
    for x in range(total.size):
        total[x] = total[x] / weight[x]


@inner
def _match_greens(green0, green1, weight, slope, floor):
    for x in range(weight.size):
        middle, half = HALF * (green0[x] + green1[x]), HALF * (green0[x] - green1[x])
        variance = HALF * (slope * (middle if middle > ZERO else ZERO) + floor) / weight[x]
        square = half * half
        half = half * (square / (square + GREEN_NOISE * variance + TINY))
        green0[x] = middle + half
        green1[x] = middle - half


@inner
def _with_grain(sites, mean, across, columns):
    """Means and a share of the luminance of what they left out, without `REACH` rows; by way of
    `across`, which is overwritten."""
    for site in range(4):
        r, c = site // 2, site % 2
        beside = 2 * r + 1 - c
        _left_out_across(
            sites[beside, c:], sites[site, 1:], sites[beside, 1 + c :],
            mean[beside, c:], mean[site, 1:], mean[beside, 1 + c :], across[site, 1:-1],
        )
    out = aligned((4, sites.shape[1] - 2 * REACH * columns))
    for site in range(4):
        r, c = site // 2, site % 2
        along, here = across[2 - 2 * r + c], REACH * columns
        above = here + (r - 1) * columns
        _add_grain(
            mean[site, here:], along[above:], across[site, here:], along[above + columns :],
            out[site],
        )
    return out.reshape((4, out.shape[1] // columns, columns))


@inner
def _left_out_across(before, own, after, mean_before, mean_own, mean_after, out):
    for x in range(out.size):
        sides = (before[x] - mean_before[x]) + (after[x] - mean_after[x])
        out[x] = fma(TWO, own[x] - mean_own[x], sides)


@inner
def _add_grain(mean, above, own, below, out):
    for x in range(out.size):
        out[x] = fma(LUMINANCE, fma(TWO, own[x], above[x] + below[x]), mean[x])
