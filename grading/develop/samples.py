"""Codes of every colour at each pixel, which become camera light where they are read."""

from functools import partial

import numpy as np

from grading.develop.clipped_channels import raise_clipped_channels
from grading.pixels import StoredPixels, upright


def sampled(codes, black, scale, colours, orientation):
    """Pixels of codes, and the brightest value of them.

    Parameters
    ----------
    codes : ndarray, shape (rows, columns, n), uint16
        As the file stores them.
    black, scale : ndarray, shape (n,), float64
        What to subtract from a channel's codes, and the factor to white level 1.
    colours : Colours
    orientation : int
        EXIF orientation, 1 to 8.

    Returns
    -------
    StoredPixels
    float
        The white level is 1.
    """
    black, scale = (np.float32(each)[:, None, None] for each in (black, scale))
    peaks = codes.max(axis=(0, 1))[:, None, None]
    brightest = float(((peaks - black) * scale).max())
    to_light = partial(camera_light, black=black, scale=scale, colours=colours)
    return StoredPixels(upright(codes, orientation), to_light), brightest


def camera_light(codes, black, scale, colours):
    """Camera RGB of code values, with clipped channels recovered.

    Parameters
    ----------
    codes : ndarray, shape (n, h, w), uint16
    black, scale : ndarray, shape (n, 1, 1), float32
        What to subtract from code values, and the factor to the raw scale.
    colours : Colours

    Returns
    -------
    ndarray, shape (3, h, w), float32
        White level 1; recovered highlights exceed it.
    """
    light = raise_clipped_channels((codes - black) * scale, colours.neutral)
    if colours.reduction is None:
        return light
    planes = colours.reduction.T.astype(np.float32)[:, :, None, None] * light[:, None]
    return planes.sum(axis=0)
