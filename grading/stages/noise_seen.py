"""What `denoise` tells its kernels of a signal's noise: where it is alike, and its size."""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.colour.spaces import MIDDLE_GREY
from grading.frame import Noise
from grading.signal import Signal

FINE, COARSE, BOTH = 0.37, 0.35, 0.28
"""Variance of the colour noise of single pixels: of what is finer than `kernels.colour_noise`'s
widest mean, of the rest, and what both have in common; measured on flat grey."""

DETAILS, OF_MEANS = (0.018, 0.028, 0.071), (0.64, 0.074, 0.030)
"""Variance of the three details of colour, the finest first, as a share of that of sites: of a
demosaiced picture, measured on flat grey, and of independent pixels, by the means' weights."""

WAVES = np.array(
    [
        [3.02, 2.99, 3.00, 3.00, 2.97, 2.81, 2.37, 1.74],
        [2.99, 2.92, 2.94, 2.97, 2.82, 2.60, 2.09, 1.43],
        [3.00, 2.94, 2.91, 2.92, 2.79, 2.50, 1.94, 1.26],
        [3.00, 2.97, 2.92, 2.89, 2.75, 2.39, 1.84, 1.15],
        [2.97, 2.82, 2.79, 2.75, 2.64, 2.25, 1.70, 1.03],
        [2.81, 2.60, 2.50, 2.39, 2.25, 1.88, 1.31, 0.74],
        [2.37, 2.09, 1.94, 1.84, 1.70, 1.31, 0.78, 0.40],
        [1.74, 1.43, 1.26, 1.15, 1.03, 0.74, 0.40, 0.15],
    ]
)
"""Variance of the luminance of a demosaiced picture by vertical and horizontal frequency, where the
noise of all sites has variance 1. Measured on flat grey. It depends little on frequency, since
demosaicing gives all channels the same detail."""

PARTS = np.array([0.194, 0.612, 0.194])
"""Parts that the sites of red, green and blue have in it, measured likewise."""

RISES = np.array(
    [
        [0.16, 0.22, 0.27, 0.36, 0.38, 0.27, 0.13, 0.08],
        [0.22, 0.34, 0.41, 0.51, 0.62, 0.52, 0.39, 0.26],
        [0.27, 0.41, 0.55, 0.68, 0.78, 0.75, 0.66, 0.55],
        [0.36, 0.51, 0.68, 0.84, 0.97, 1.03, 0.98, 0.95],
        [0.38, 0.62, 0.78, 0.97, 1.06, 1.15, 1.15, 1.18],
        [0.27, 0.52, 0.75, 1.03, 1.15, 1.19, 1.22, 1.25],
        [0.13, 0.39, 0.66, 0.98, 1.15, 1.22, 1.28, 1.29],
        [0.08, 0.26, 0.55, 0.95, 1.18, 1.25, 1.29, 1.30],
    ]
)
"""By how much these rise with what `kernels.excess` foretells of colours, as a share of it: most
where demosaicing gives a channel the detail of others. Measured on flat colours."""

COLOURS = np.array([[0.36, 0.02, 0.36], [0.11, 0.23, 0.11]])
"""Variance of the two colours at half size, after two means of 3x3, at the lowest frequency, for
each variance of the sites of red, green and blue. Measured on flat grey."""

BESIDE, BESIDE_OF_MEANS = 0.117, 0.833
"""Variance of a colour at half size beside its line in the luminance, for each that it has at the
lowest frequency: of a demosaiced picture, measured on flat grey, and of independent pixels, by the
weights of the means."""

COLOUR_WAVES = np.array([1, 0.585, 0.277, 0.08, 0.01, 0.003, 0.003, 0.003])
"""How that falls with the frequency along each axis."""

COLOUR_SPECTRUM = np.array(
    [
        [1.25, 1.02, 0.82, 0.58, 0.40, 0.27, 0.18, 0.13],
        [1.02, 0.85, 0.64, 0.45, 0.30, 0.19, 0.13, 0.09],
        [0.82, 0.64, 0.50, 0.33, 0.21, 0.13, 0.08, 0.06],
        [0.58, 0.45, 0.33, 0.21, 0.12, 0.07, 0.04, 0.03],
        [0.40, 0.30, 0.21, 0.12, 0.068, 0.036, 0.021, 0.014],
        [0.27, 0.19, 0.13, 0.07, 0.036, 0.019, 0.011, 0.008],
        [0.18, 0.13, 0.08, 0.04, 0.021, 0.011, 0.007, 0.005],
        [0.13, 0.09, 0.06, 0.03, 0.014, 0.008, 0.005, 0.004],
    ]
)
"""Variance of a colour at half size by frequency, before any mean, in that of `COLOURS`. Measured
on flat grey, where both are alike within a fifth in all that has much."""

CHANNELS = np.array([[0.50, 0.26, 0.12], [0.12, 0.55, 0.12], [0.12, 0.26, 0.50]])
"""Variance of each channel of a demosaiced picture, for each variance of the sites of red, green
and blue. Measured on flat grey."""

COLOUR_LIMIT = 2.55
"""Deviations of its noise that a frequency of colour must exceed to count as detail; ours."""

SURE, COARSE_SURE, COLOUR_SURE = 1.4, 2.0, 0.75
"""Multiples of its noise by which a frequency is weighed, of luminance at full and at half size and
of colour; ours."""

SITES = np.array([1, 0.5, 1])
"""Variance of red, green and blue of means, relative to one site: green has two in four."""

REFERENCE = MIDDLE_GREY / 4
"""Grey whose noise parts the colours."""

FARTHEST, NEAREST = 128, 8
"""Pixels of the original to which coarse colour is averaged, and from which; ours."""


class Coarse(NamedTuple):
    """What `kernels.coarse_colour` is told: a matrix from light to luminance and two colours, the
    variances of a colour and of luminance there, its steps; and by how much the reduced frame is
    reduced further before."""

    forward: np.ndarray
    colour: np.ndarray
    luminance: np.ndarray
    steps: int
    further: int


class OfColours(NamedTuple):
    """What `kernels.colour_noise` is told."""

    coarse: Coarse
    back: np.ndarray
    noise: np.ndarray
    details: np.ndarray
    photon: np.float32
    read: np.float32
    kept: np.ndarray


class OfBoth(NamedTuple):
    """What `kernels.noise` is told, and the share of the luminance's noise that is taken away."""

    coarse: Coarse
    own: np.ndarray
    light: np.ndarray
    photon: np.float32
    read: np.float32
    limits: np.ndarray
    spectra: np.ndarray
    rises: np.ndarray
    sites: np.ndarray
    colour_limits: np.ndarray
    colour_spectrum: np.ndarray
    colours: np.ndarray
    beside: np.ndarray
    bias: np.ndarray
    kept: np.ndarray
    share: float


def of_colours(colour: float, signal: Signal) -> OfColours:
    """Constants for a share of the colours' noise, the luminance's being kept."""
    mixing = np.array(signal.mixing)
    forward = _planes(mixing, signal.noise)
    back = np.linalg.inv(forward)
    variances = [_variance(rows, mixing, signal.noise) for rows in (forward[1:], forward[:1])]
    light = variances[1]
    return OfColours(
        _coarse(forward, back, variances, signal, 1),
        np.float32(back),
        np.float32(_on_planes(variances[0], back)),
        np.float32(DETAILS if signal.scale == 1 else OF_MEANS),
        np.float32(light[1:].sum()),
        np.float32(light[0]),
        _kept(colour, signal.scale),
    )


def of_both(luminance: float, colour: float, signal: Signal) -> OfBoth:
    """Constants for shares of the luminance's and of the colours' noise."""
    mixing, noise = np.array(signal.mixing), signal.noise
    forward = _planes(mixing, noise)
    back = np.linalg.inv(forward)
    variances = [_variance(rows, mixing, noise) for rows in (forward[1:], forward[:1])]
    further = max(1, NEAREST // (signal.guide_factor * signal.scale))
    seen = np.linalg.solve(mixing, np.ones(3))
    seen = np.maximum(seen, 1e-3 * seen.max())
    own = np.linalg.inv(mixing) / seen[:, None]
    photon = noise.gain / seen[1]
    parts = PARTS * seen[1] / seen
    waves, colours, beside, waning, channels = _at_sites(seen[1] / seen, signal.scale == 1)
    limits = kernels.noise.LIMIT * np.sqrt(waves)
    colour_limits = COLOUR_LIMIT * np.outer(waning, waning)
    of_halves = np.full((8, 8), waves[:4, :4].mean() / 4)
    spectra = np.stack([SURE * waves, COARSE_SURE * of_halves])
    colour_limits[0, 0] = 0
    return OfBoth(
        _coarse(forward, back, variances, signal, further),
        np.float32(own),
        np.float32(np.linalg.inv(own)),
        np.float32(photon),
        np.float32(noise.offset / seen[1] ** 2 + 3 / 8 * photon**2),
        np.float32(limits),
        np.float32(spectra),
        np.float32(RISES if signal.scale == 1 else np.zeros((8, 8))),
        np.float32(parts / parts.sum()),
        np.float32(colour_limits),
        np.float32(COLOUR_SURE * (COLOUR_SPECTRUM if signal.scale == 1 else np.ones((8, 8)))),
        np.float32(np.sqrt(colours)),
        np.float32(beside),
        np.float32(_bias(waves.mean() / 3, channels, colour)),
        _kept(colour, signal.scale) if colour else np.ones(2, np.float32),
        luminance,
    )


def _at_sites(balance, whole):
    """Variances by that of the sites of each channel, in green's: of luminance by frequency, of
    colours at half size and beside their lines, and of the channels. Pixels that are means are
    independent."""
    if whole:
        colours, channels = COLOURS @ balance, CHANNELS @ balance
        waning = np.sqrt(COLOUR_WAVES)
        return PARTS @ balance * WAVES, colours, BESIDE * colours, waning, channels
    each = balance * SITES
    passed = np.square((1 + 2 * np.cos(np.pi * np.arange(8) / 8)) / 3)
    colours = np.array([[1 / 8, 0, 1 / 8], [1 / 24, 1 / 6, 1 / 24]]) @ each
    light = np.full((8, 8), 3 / 16 * (each @ [1, 4, 1]))
    return light, colours, BESIDE_OF_MEANS * colours, np.maximum(passed, 0.05), each


def _bias(of_light, channels, colour):
    """What the root takes from the means: by luminance, and by colour where its noise goes."""
    gone = 1 - (1 - colour) ** 2
    return np.array([of_light, *(gone * np.maximum(channels - of_light, 0))]) / 4


def _coarse(forward, back, variances, signal, further):
    factor = signal.guide_factor * further
    averaged = 4 / factor**2 if factor > 1 else 1
    steps = int(np.log2(FARTHEST / (factor * signal.scale))) + 1
    colour, light = (np.float32(averaged * _on_planes(each, back)) for each in variances)
    steps = min(max(steps, 1), kernels.coarse_colour.MOST_STEPS)
    return Coarse(np.float32(forward), colour, light, steps, further)


def _site_variance(noise, seen):
    """Of red, green and blue sites; without light, what the root of photons takes for it besides
    (Anscombe, Biometrika 35, 1948), so that it is never 0."""
    return SITES * (noise.gain * seen + noise.offset + 3 / 8 * noise.gain**2)


def _planes(mixing, noise):
    """Matrix from light to luminance and two colour planes, whose noise is independent at the
    reference grey and of variance 1."""
    luminance = np.array(kernels.base.LUMINANCE, np.float64)
    colours = np.eye(3)[::2] - luminance
    seen = np.linalg.solve(mixing, np.full(3, REFERENCE))
    of_light = (mixing * _site_variance(noise, np.maximum(seen, 0))) @ mixing.T
    root = np.linalg.cholesky(colours @ of_light @ colours.T)
    return np.vstack([luminance, np.linalg.solve(root, colours)])


def _variance(rows, mixing, noise):
    """Mean variance of some planes: a constant, and factors on the channels of light."""
    weights = np.square(rows @ mixing).mean(axis=0)
    by_light = weights * SITES * noise.gain @ np.linalg.inv(mixing)
    return np.array([weights @ _site_variance(noise, 0), *by_light])


def _on_planes(variance, back):
    return np.array([variance[0], *(variance[1:] @ back)])


def _kept(colour, scale):
    """Shares of fine and of coarse noise that are left, the coarse gone first, so that the
    deviation of both together is 1 - colour; of a smaller version, most of the noise is coarse."""
    left, coarse = 1 - colour, max(0, 1 - 2 * colour)
    half = BOTH * coarse / 2
    fine = (np.sqrt(half**2 + FINE * (left**2 - COARSE * coarse**2)) - half) / FINE
    return np.float32([coarse + (fine - coarse) / scale, coarse])


def is_known(noise: Noise | None) -> bool:
    """Whether there is noise, and it is known how much."""
    return noise is not None and noise.variance(MIDDLE_GREY) > 0
