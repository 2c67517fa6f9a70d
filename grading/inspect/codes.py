"""What the codes of a finished picture show: how they are distributed, and where they clip."""

import numpy as np


def histogram(codes: np.ndarray, bins: int = 64) -> np.ndarray:
    """Shares of pixels over the scale of each channel.

    Parameters
    ----------
    codes : ndarray, shape (rows, columns, 3), uint8 or uint16
    bins : int
        A power of two, at most 256.

    Returns
    -------
    ndarray, shape (3, bins), float64
        Each row sums to 1.
    """
    narrow = np.iinfo(codes.dtype).bits - (bins.bit_length() - 1)
    counts = [np.bincount((c >> narrow).ravel(), minlength=bins) for c in np.moveaxis(codes, -1, 0)]
    return np.array(counts) / codes[..., 0].size


def clipped(codes: np.ndarray, factor: int = 1) -> np.ndarray:
    """Where a channel is at its lowest or at its highest code.

    Parameters
    ----------
    codes : ndarray, shape (rows, columns, 3), uint8 or uint16
    factor : int
        The answer is made smaller: a place counts if any of its factor x factor pixels does.

    Returns
    -------
    ndarray, shape (2, ceil(rows / factor), ceil(columns / factor)), bool
        At black, at white.
    """
    ends = (0, np.iinfo(codes.dtype).max)
    return np.stack([_reduced(_any_channel(codes, end), factor) for end in ends])


def _any_channel(codes, end):
    red, green, blue = np.moveaxis(codes, -1, 0)
    return (red == end) | (green == end) | (blue == end)


def _reduced(marks, factor):
    rows = np.logical_or.reduceat(marks, np.arange(0, marks.shape[0], factor), axis=0)
    return np.logical_or.reduceat(rows, np.arange(0, marks.shape[1], factor), axis=1)
