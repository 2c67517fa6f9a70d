"""Denoise: less noise in colours and in luminance, each by a share of what is there.

How noisy a raw is at every light, its own flat places tell; the sidecar has the numbers. 0 leaves
the noise of a kind, 1 takes as much as can be told from detail. Colour noise goes first where it
is coarse (blotches that lie over many pixels), from ``colour`` 0.5 on there is none of that left.
Detail that stands above the noise stays as sharp as it was.

Where nothing is stated, colour noise is brought down about to that of a quiet frame, such as one at
a large sensor's lowest speed, and all of the luminance's noise stays, as a grain. So frames of any
speed look alike, and a quiet frame is left alone. ``denoise: {colour: 0}`` leaves every frame
alone. JPEG and TIFF originals, and raws whose noise cannot be told, have none reduced.

In a local adjustment both shares are 0 unless stated. It reduces what the whole frame has left, as
if none had been reduced before; so state a kind of noise for the whole frame or for the places that
need it, rather than for both.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.colour.spaces import MIDDLE_GREY
from grading.frame import Frame, Noise
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

QUIET = 4e-6
"""Variance at middle grey, white being 1, of a frame whose colours are left alone: that of 45 000
electrons at white."""

RISE = 0.45
"""Power of the variance with which the share of noise that is left falls; with 1/2 the noise that
is left would be the same for all, so it rises a little with the frame's own."""

FINE, COARSE, BOTH = 0.37, 0.35, 0.28
"""Variance of the colour noise of single pixels: of what is finer than `kernels.colour_noise`'s
widest mean, of the rest, and what both have in common; measured on flat grey."""

DETAILS, OF_MEANS = (0.018, 0.028, 0.071), (0.64, 0.074, 0.030)
"""Variance of the three details of colour, the finest first, as a share of that of sites: of a
demosaiced picture, measured on flat grey, and of independent pixels, by the means' weights."""

SPECTRUM = np.array(
    [
        [0.25, 0.50, 0.58, 0.72, 0.74, 0.68, 0.54, 0.36],
        [0.50, 0.55, 0.73, 0.78, 0.79, 0.73, 0.54, 0.35],
        [0.58, 0.73, 0.83, 0.86, 0.88, 0.78, 0.58, 0.36],
        [0.72, 0.78, 0.86, 0.94, 0.92, 0.80, 0.62, 0.37],
        [0.74, 0.79, 0.88, 0.92, 0.92, 0.79, 0.58, 0.35],
        [0.68, 0.73, 0.78, 0.80, 0.79, 0.67, 0.49, 0.27],
        [0.54, 0.54, 0.58, 0.62, 0.58, 0.49, 0.29, 0.14],
        [0.36, 0.35, 0.36, 0.37, 0.35, 0.27, 0.14, 0.06],
    ]
)
"""Variance of luminance in a demosaiced picture by vertical and horizontal frequency, as a share of
the mean variance of all sites, each as bright as grey: above low frequencies luminance is what all
sites say alike (Alleysson, Suesstrunk and Herault, IEEE TIP 14(4), 2005). Measured on flat grey."""

LOW = 2.85, 0.38, 0.12
"""What low frequencies have besides, as a share of the variance of the sites that are mixed into
luminance: a exp(-b (u + v) - c u v), fitted to the same measurement."""

LIMIT = 2.9
"""Deviations of its noise that a frequency must exceed to count as detail; ours."""

SITES = np.array([1, 0.5, 1])
"""Variance of red, green and blue of means, relative to one site: green has two in four."""

REFERENCE = MIDDLE_GREY / 4
"""Grey whose noise parts the colours."""

FARTHEST = 128
"""Pixels of the original to which coarse colour is averaged; ours."""


class Denoise(Model):
    luminance: float = parameter(
        0.0,
        "Share of the luminance's noise, its grain, that is taken away.",
        unit="fraction",
        minimum=0,
        maximum=1,
    )
    colour: float | None = parameter(
        None,
        "Share of the colours' noise that is taken away; absent: what leaves about as much as a"
        " quiet frame has.",
        unit="fraction",
        minimum=0,
        maximum=1,
    )


class LocalDenoise(Model):
    luminance: float = parameter(
        0.0,
        "Share of the luminance's noise, its grain, that is taken away.",
        unit="fraction",
        minimum=0,
        maximum=1,
    )
    colour: float = parameter(
        0.0,
        "Share of the colours' noise that is taken away.",
        unit="fraction",
        minimum=0,
        maximum=1,
    )


class Constants(NamedTuple):
    """What the kernels are told.

    ``forward`` and ``back`` are matrices between light and luminance with two colour planes;
    ``photon`` and ``read`` are the variance of luminance for each unit of it and without light;
    ``coarse`` holds the variances and the steps of the coarse colour. ``kept`` is None where the
    colours, ``limits`` where the luminance keeps its noise.
    """

    forward: np.ndarray
    back: np.ndarray
    photon: np.float32
    read: np.float32
    coarse: tuple
    noise: np.ndarray
    details: np.ndarray
    kept: np.ndarray | None
    limits: np.ndarray | None
    bias: np.float32
    luminance: np.float32


def resolve(parameters: Denoise, frame: Frame) -> Denoise:
    """Both shares in numbers; 0 for a frame whose noise is not known."""
    noise = frame.facts.noise
    if not _is_known(noise):
        return Denoise(luminance=0.0, colour=0.0)
    if parameters.colour is not None:
        return parameters
    return parameters.model_copy(update={"colour": quieting(noise)})


def _is_known(noise):
    return noise is not None and noise.variance(MIDDLE_GREY) > 0


def quieting(noise: Noise) -> float:
    """Share of the colour noise to take away so that about a quiet frame's is left.

    >>> quieting(Noise(2e-5, 0.0)), round(quieting(Noise(32e-5, 0.0)), 3)
    (0.0, 0.699)
    """
    return max(0.0, 1 - (QUIET / noise.variance(MIDDLE_GREY)) ** RISE)


def prepare(parameters: Denoise | LocalDenoise, signal: Signal) -> Constants | None:
    """What the noise of the signal looks like here; None where none is to be reduced."""
    if not (parameters.colour or parameters.luminance) or not _is_known(signal.noise):
        return None
    mixing, factor = np.array(signal.mixing), signal.guide_factor
    forward = _planes(mixing, signal.noise)
    back = np.linalg.inv(forward)
    colour, light = (_variance(rows, mixing, signal.noise) for rows in (forward[1:], forward[:1]))
    averaged = 4 / factor**2 if factor > 1 else 1
    steps = int(np.log2(FARTHEST / (factor * signal.scale))) + 1
    whole = signal.scale == 1
    kept = _kept(parameters.colour, signal.scale) if parameters.colour else None
    spectrum = _spectrum(mixing, signal.noise) if whole else np.ones((8, 8))
    limits = _limits(spectrum) if parameters.luminance else None
    return Constants(
        np.float32(forward), np.float32(back), np.float32(light[1:].sum()), np.float32(light[0]),
        (
            np.float32(averaged * _on_planes(colour, back)),
            np.float32(averaged * _on_planes(light, back)),
            min(max(steps, 1), kernels.coarse_colour.MOST_STEPS),
        ),
        np.float32(_on_planes(colour, back)), np.float32(DETAILS if whole else OF_MEANS),
        kept, limits, np.float32(spectrum.mean() / 4),
        np.float32(parameters.luminance),
    )  # fmt: skip


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


def _spectrum(mixing, noise):
    """Variance of luminance by frequency, where `_variance` is 1."""
    seen = np.maximum(np.linalg.solve(mixing, np.full(3, REFERENCE)), 1e-3 * REFERENCE)
    sites = _site_variance(noise, seen)
    mixed = np.square(kernels.base.LUMINANCE @ mixing) @ sites
    balanced = np.array([1, 2, 1]) / 4 @ (sites / SITES * np.square(REFERENCE / seen))
    u, v = np.indices(SPECTRUM.shape)
    size, alone, together = LOW
    return size * np.exp(-alone * (u + v) - together * u * v) + SPECTRUM * balanced / mixed


def _limits(spectrum):
    limits = LIMIT * np.sqrt(spectrum)
    limits[0, 0] = 0
    return np.float32(limits)


def guide(reduced: np.ndarray, constants: Constants) -> np.ndarray:
    """The frame's coarse luminance and colour planes."""
    return kernels.coarse_colour.coarse_colour(reduced, constants.forward, *constants.coarse)


def reach(constants: Constants) -> int:
    """Pixels that the two reductions look at, one after the other."""
    colour, luminance = kernels.colour_noise.REACH, kernels.luminance_noise.REACH
    return colour * (constants.kept is not None) + luminance * (constants.limits is not None)


def apply(rgb: np.ndarray, constants: Constants, planes: np.ndarray) -> np.ndarray:
    """Scene light with less noise."""
    c = constants
    if c.kept is not None:
        rgb = kernels.colour_noise.reduce_colour_noise(
            rgb, planes, c.forward, c.back, c.noise, c.details, c.photon, c.read, c.kept
        )
    if c.limits is not None:
        rgb = kernels.luminance_noise.reduce_luminance_noise(
            rgb, c.forward[0], c.photon, c.read, c.limits, c.bias, c.luminance
        )
    return rgb


LOCAL = Stage(
    "denoise", ("scene",), "scene", LocalDenoise, prepare, apply, guide=guide, reach=reach,
    kernels=("colour_noise", "luminance_noise"),
)  # fmt: skip
STAGE = Stage(
    "denoise", ("scene",), "scene", Denoise, prepare, apply, resolve=resolve, guide=guide,
    reach=reach, kernels=("colour_noise", "luminance_noise"), local=LOCAL,
)  # fmt: skip
