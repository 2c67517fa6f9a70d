"""Mosaics with a known truth."""

import numpy as np

from grading.kernels.mosaic import Sensor

WHITE, BLACK = 60512, 512


def sensor(shape, phase=(0, 0), black=BLACK, white=WHITE, noise=(0.0, 0.0)):
    """Equal levels at all sites, nothing special about any row or column."""
    return Sensor(
        phase,
        np.full(4, black, np.float32),
        np.full(4, 1 / (white - black), np.float32),
        np.zeros(shape[0], np.float32),
        np.zeros(shape[1], np.float32),
        noise,
    )


def sample(rgb, phase=(0, 0)):
    """What each site sees of a planar picture, in signal."""
    rows, columns = np.indices(rgb.shape[1:])
    red_row, red_column = (rows - phase[0]) % 2 == 0, (columns - phase[1]) % 2 == 0
    return np.where(red_row & red_column, rgb[0], np.where(red_row | red_column, rgb[1], rgb[2]))


def counts(signal, black=BLACK, white=WHITE):
    """Counts of a sensor that clips at `white`."""
    return np.clip(np.rint(signal * (white - black) + black), 0, white).astype(np.uint16)
