"""From a Bayer mosaic to planar camera RGB, tile by tile.

A tile and its halo are unwoven into four half-size planes, one for each site of the 2x2 block.
Hot sites are repaired in them, and clipped ones rebuilt; missing colours are interpolated, in small
saturated lights once more, and all is woven together.  A pixel's value depends on the mosaic within
`HALO` pixels and on nothing else (but for the guide to what clipped): tiles of any size give the
same bits.
"""

import numpy as np

from grading.kernels.primitives import CACHE_LINE, aligned
from grading.kernels.raw.hotpixels import repair_hot_pixels
from grading.kernels.raw.lights import mend_lights
from grading.kernels.raw.mosaic import unweave, weave
from grading.kernels.raw.rebuild import rebuild_sites
from grading.kernels.raw.sites import (
    MARGIN,
    find_colour,
    find_differences,
    find_green,
    find_lines,
    find_weights,
)

HALO = 2 * (MARGIN + 1) + 1
"""Pixels in each direction that a pixel depends on; fewer where nothing clips."""


def demosaic_tile(mosaic, y0, y1, x0, x1, sensor, balance, highlights=None):
    """Develop rows ``y0:y1`` and columns ``x0:x1`` of a mosaic.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts, C-contiguous.
    y0, y1, x0, x1 : int
        The tile, inside the frame.
    sensor : Sensor
        Phase, levels and noise.
    balance : array_like, shape (3,)
        White-balance gains of the light of the scene, green 1.  Edges are interpolated in
        balanced colour; the gains are taken out of the result again.
    highlights : ndarray or None
        From `grading.kernels.raw.highlights.highlight_guide`; None leaves what clipped as it is.

    Returns
    -------
    ndarray, shape (3, y1 - y0, x1 - x0), float32
        Camera RGB, black 0, white 1, neither balanced nor clipped.
    """
    out = aligned((3, y1 - y0, x1 - x0))
    gains = np.asarray(balance, np.float32)
    planes, top, left = unwoven(mosaic, y0, y1, x0, x1, sensor, gains, highlights)
    green, colours = missing_colours(planes, gains)
    mend_lights(planes, sensor.noise, gains, green, colours)
    weave(planes, green, colours, y0 - top, x0 - left, out)
    return out


def unwoven(mosaic, y0, y1, x0, x1, sensor, gains, highlights=None):
    """The sites of a tile and its halo, hot ones repaired and clipped ones rebuilt; and the frame's
    row and column of the first."""
    margin = MARGIN + (highlights is not None)
    top = y0 - 2 * margin - ((y0 - sensor.phase[0]) & 1)
    left = x0 - 2 * margin - ((x0 - sensor.phase[1]) & 1)
    columns = (x1 - left + 1) // 2 + margin
    columns += -columns % (CACHE_LINE // 4)
    planes = aligned((4, (y1 - top + 1) // 2 + margin, columns))
    unweave(mosaic, top, left, sensor, gains, planes)
    repair_hot_pixels(planes, sensor.noise, gains)
    if highlights is not None:
        rebuild_sites(planes, top, left, sensor, highlights, gains)
    return planes, top, left


def missing_colours(planes, gains):
    """Green at red (0) and blue (1) sites; red (0) and blue (1) at all four kinds of site."""
    rows, columns = planes.shape[1:]
    sites = planes.reshape(4, rows * columns)
    scratch = aligned((6, sites.shape[1]))
    difference, weight = aligned((2, 4, sites.shape[1])), aligned((2, 2, sites.shape[1]))
    for axis in range(2):
        find_differences(sites, axis, columns, difference[axis])
        find_weights(difference[axis], axis, columns, scratch, weight)
    green = aligned((2, sites.shape[1]))
    for k in range(2):
        find_green(sites, difference, weight[k], k, columns, scratch, green[k])
    lines, colours = weight, difference  # whose memory they take over while it is in the cache
    for k in range(2):
        inverse = np.float32(1) / gains[2 * k]
        find_lines(sites[3 * k], green[k], inverse, columns, scratch, lines[k])
        find_colour(sites, green, lines[k], k, columns, colours[k])
    return green.reshape(2, rows, columns), colours.reshape(2, 4, rows, columns)
