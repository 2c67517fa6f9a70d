"""How noisy a frame is, read from its own flat places."""

import numpy as np

BLOCK = 16
BLOCKS_ACROSS = 36
NEAR_WHITE = 0.9
BINS = 24
LOW_QUANTILE = 0.2
ROUNDS = 12
LEAST_RUN = 1e-20  # where all levels are alike, there is no slope
# Relative standard deviation of one flat block's variance: the residual's autocorrelation,
# squared and summed over its lags, is 35/18 along each axis.
SCATTER = np.sqrt(2 * (35 / 18) ** 2 / (BLOCK - 2) ** 2)


def estimate_noise(mosaic, phase, black, white):
    """Gain and offset of the noise variance, ``variance = gain * signal + offset``.

    Pairs of mean and variance are taken from blocks of sites of one colour, the variance from a
    residual that ignores slopes and bends (Immerkaer, "Fast noise variance estimation", CVIU 64,
    1996).  The line of the Poisson-Gaussian model (Foi, Trimeche, Katkovnik and Egiazarian,
    "Practical Poissonian-Gaussian noise modeling and fitting for single-image raw-data", IEEE TIP
    17, 2008) is fitted to the blocks that agree with it; texture only ever adds variance, so the
    fit starts from the quietest blocks.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts.
    phase : tuple of int
        Row and column of the red site in the frame's first 2x2 block.
    black, white : array_like, shape (4,)
        Levels in counts of red, green beside red, green beside blue, blue.

    Returns
    -------
    tuple of float
        Gain and offset, in units of the signal with black at 0 and white at 1; ``(0, 0)`` where
        the frame has too few usable blocks to tell.
    """
    pairs = [
        _pairs(mosaic[(r + phase[0]) % 2 :: 2, (c + phase[1]) % 2 :: 2], black[site], white[site])
        for site, (r, c) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1)))
    ]
    mean, variance = np.concatenate(pairs, axis=1)
    if mean.size < 2 * BINS:
        return 0.0, 0.0
    return _fit(mean, variance)


def _pairs(plane, black, white):
    """Means and noise variances of sampled blocks that neither clip nor touch zero."""
    rows, columns = (_block_indices(size) for size in plane.shape)
    counts = plane[np.ix_(rows, columns)]
    counts = counts.reshape(rows.size // BLOCK, BLOCK, columns.size // BLOCK, BLOCK)
    lowest, highest = counts.min(1).min(2), counts.max(1).max(2)  # faster than both axes at once
    usable = (lowest > 0) & (highest < black + NEAR_WHITE * (white - black))
    signal = (counts.astype(np.float32) - np.float32(black)) / np.float32(white - black)
    bend = signal[:, :-2] - 2 * signal[:, 1:-1] + signal[:, 2:]
    bend = bend[..., :-2] - 2 * bend[..., 1:-1] + bend[..., 2:]
    variance = np.square(bend).mean((1, 3)) / 36
    return np.stack((signal.mean((1, 3))[usable], variance[usable])).astype(float)


def _block_indices(size):
    """Indices of evenly spread whole blocks along one axis."""
    blocks = size // BLOCK
    chosen = np.unique(np.linspace(0, blocks - 1, min(blocks, BLOCKS_ACROSS)).astype(int))
    return (BLOCK * chosen[:, None] + np.arange(BLOCK)).ravel()


def _fit(mean, variance):
    bins = np.array_split(np.argsort(mean), BINS)
    level = np.array([mean[b].mean() for b in bins])
    quiet = np.array([np.quantile(variance[b], LOW_QUANTILE) for b in bins])
    gain, offset = _line(level, quiet, np.maximum(quiet, 1e-12))
    for _ in range(ROUNDS):
        model = np.maximum(gain * mean + offset, 1e-12)
        flat = np.abs(variance / model - 1) < 2 * SCATTER
        if flat.sum() < BINS:
            break
        gain, offset = _line(mean[flat], variance[flat], model[flat])
    return gain, offset


def _line(x, y, spread):
    """Least squares with both coefficients at least zero.

    Pixels depend on it, so it is written as sums: the last digits that a linear algebra library
    gives depend on the processor.
    """
    weight = 1 / np.square(spread)
    weight /= weight.sum()
    middle, height = (weight * x).sum(), (weight * y).sum()
    run = x - middle
    gain = (weight * run * y).sum() / max((weight * run * run).sum(), LEAST_RUN)
    offset = height - gain * middle
    if offset < 0:
        gain, offset = (weight * x * y).sum() / (weight * x * x).sum(), 0.0
    elif gain < 0:
        gain, offset = 0.0, height
    return float(gain), float(offset)
