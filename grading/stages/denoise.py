"""Denoise: less noise in colours and in luminance, each by a share of what is there.

How noisy a raw is at every light, its own flat places tell; the sidecar has the numbers. 0 leaves
the noise of a kind, 1 takes as much as can be told from detail. Detail that stands above the noise
stays as sharp as it was.

``luminance`` is a share of the noise as it will be seen: the rest of the grade (exposure, lift,
local adjustments, the curve) is foreseen, and the noise falls most where it will be seen most. So
lifted shadows end about as quiet as the rest, and what is left is an even grain. Where the
luminance loses noise, colours are told from their noise with its help, which keeps more of their
detail.

Colour noise goes first where it is coarse (blotches that lie over many pixels), from ``colour`` 0.5
on there is none of that left. Where nothing is stated, colour noise is brought down about to that
of a quiet frame, such as one at a large sensor's lowest speed, and all of the luminance's noise
stays, as a grain. So frames of any speed look alike, and a quiet frame is left alone. ``denoise:
{colour: 0}`` leaves every frame alone. JPEG and TIFF originals, and raws whose noise cannot be
told, have none reduced.

In a local adjustment both shares are 0 unless stated. It reduces what the whole frame has left, as
if none had been reduced before; so state a kind of noise for the whole frame or for the places that
need it, rather than for both.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from grading import kernels
from grading.colour.spaces import MIDDLE_GREY
from grading.frame import Frame, Noise
from grading.pixels import block_means
from grading.region import Region
from grading.signal import Signal
from grading.stages.noise_seen import OfBoth, OfColours, is_known, of_both, of_colours
from grading.stages.stage import Model, Stage, parameter

QUIET = 4e-6
"""Variance at middle grey, white being 1, of a frame whose colours are left alone: that of 45 000
electrons at white."""

RISE = 0.45
"""Power of the variance with which the share of noise that is left falls; with 1/2 the noise that
is left would be the same for all, so it rises a little with the frame's own."""

LIGHTER = 0.01
"""By how much light is raised to see how the rest of a grade shows a difference; ours."""

SPARSE = 4
"""Every so many pixels of the reduced frame, each way, one is asked for the noise that it has."""

HIDDEN = 1e9
"""Multiple of what may be left of the noise, where none is to be left."""


class Denoise(Model):
    luminance: float = parameter(
        0.0,
        "Share of the luminance's noise, its grain, that is taken away, as it will be seen in the"
        " picture.",
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


def resolve(parameters: Denoise, frame: Frame) -> Denoise:
    """Both shares in numbers; 0 for a frame whose noise is not known."""
    noise = frame.facts.noise
    if not is_known(noise):
        return Denoise(luminance=0.0, colour=0.0)
    if parameters.colour is not None:
        return parameters
    return parameters.model_copy(update={"colour": quieting(noise)})


def quieting(noise: Noise) -> float:
    """Share of the colour noise to take away so that about a quiet frame's is left.

    >>> quieting(Noise(2e-5, 0.0)), round(quieting(Noise(32e-5, 0.0)), 3)
    (0.0, 0.699)
    """
    return max(0.0, 1 - (QUIET / noise.variance(MIDDLE_GREY)) ** RISE)


def prepare(parameters: Denoise | LocalDenoise, signal: Signal) -> OfColours | OfBoth | None:
    """What the noise of the signal looks like here; None where none is to be reduced."""
    if not (parameters.colour or parameters.luminance) or not is_known(signal.noise):
        return None
    if parameters.luminance:
        return of_both(parameters.luminance, parameters.colour or 0.0, signal)
    return of_colours(parameters.colour, signal)


def guide(reduced: np.ndarray, constants: OfColours | OfBoth) -> np.ndarray:
    """The frame's coarse luminance and colours; or how its colours change, and `HIDDEN`."""
    c, (forward, colour, luminance, steps, further) = constants, constants.coarse
    means = block_means(reduced, further) if further > 1 else reduced
    clean = kernels.coarse_colour.coarse_colour(means, forward, colour, luminance, steps)
    if isinstance(c, OfColours):
        return clean
    back = np.float32(c.own.astype(float) @ np.linalg.inv(forward.astype(float)))
    changes = kernels.noise.coarse_changes(means, clean, c.own, back, c.photon, c.read)
    rows, columns = reduced.shape[1:]
    if further > 1:
        changes = kernels.base.interpolate(changes, further, 0, rows, 0, columns)
    return np.stack([*changes, np.full((rows, columns), HIDDEN, np.float32)])


def ahead(
    planes: np.ndarray,
    reduced: np.ndarray,
    constants: OfColours | OfBoth,
    onward: Callable[[np.ndarray], np.ndarray],
) -> np.ndarray:
    """The guide, with how visible noise will be in place of `HIDDEN`.

    The light that leaves the stage is graded twice, the second time a little lighter: the change
    of CIE lightness tells how much of a difference the grade shows at each place. What may be left
    is so chosen that the noise that will be seen, as a mean over the picture, falls by the share
    that is stated; so it falls where most of it is, and what is left is even.
    """
    c = constants
    if isinstance(c, OfColours) or c.share == 1:
        return planes
    with ThreadPoolExecutor(1) as beside:
        lighter = beside.submit(onward, reduced * np.float32(1 + LIGHTER))
        own = _lightness(onward(reduced))
    shown, (red, green, blue) = _lightness(lighter.result()) - own, c.own.mean(axis=0)
    level = red * reduced[0] + green * reduced[1] + blue * reduced[2]
    level = np.maximum(level, np.sqrt(c.read))
    shown = np.maximum(shown, 0) / np.cbrt(level)
    noise = np.sqrt(c.photon * level + c.read) / np.square(np.cbrt(level))
    most = max(_most((shown * noise)[::SPARSE, ::SPARSE], c.share), 1 / HIDDEN)
    return np.stack([*planes[:2], shown / most]).astype(np.float32)


def _lightness(lab):
    """CIE L* (ISO/CIE 11664-4) of a grey of that Oklab lightness, whose cube its luminance is."""
    root = lab[0]
    return np.where(root > 6 / 29, 116 * root - 16, 24389 / 27 * root**3)


def _most(noise, share):
    """The bound on noise by which its mean falls by a share.

    >>> _most(np.array([1.0, 1.0, 4.0]), 0.5), _most(np.array([1.0, 1.0, 4.0]), 0.75)
    (1.0, 0.5)
    """
    bounds = np.concatenate([[0], np.sort(noise, axis=None)])
    sums = np.cumsum(bounds)
    bounded = sums + bounds * np.arange(noise.size, -1, -1)
    return float(np.interp((1 - share) * sums[-1], bounded, bounds))


def reach(constants: OfColours | OfBoth) -> int:
    """Pixels that the kernel looks at."""
    kernel = kernels.colour_noise if isinstance(constants, OfColours) else kernels.noise
    return kernel.REACH


def apply(
    rgb: np.ndarray,
    constants: OfColours | OfBoth,
    here: Region,
    there: Region,
    planes: np.ndarray,
) -> np.ndarray:
    """Scene light with less noise."""
    c = constants
    if isinstance(c, OfColours):
        quiet = kernels.colour_noise.reduce_colour_noise(
            rgb, planes, c.coarse.forward, c.back, c.noise, c.details, c.photon, c.read, c.kept
        )
        return there.cut(quiet, here)
    top, left = there.place_in(here)
    rows, columns = there.shape
    return kernels.noise.reduce_noise(
        rgb, planes, here.top, here.left, (top, top + rows, left, left + columns), c.own, c.light,
        c.photon, c.read, c.limits, c.spectra, c.rises, c.sites, c.colour_limits, c.colour_spectrum,
        c.colours,
        c.beside, c.bias, c.kept,
    )  # fmt: skip


LOCAL = Stage(
    "denoise", ("scene",), "scene", LocalDenoise, prepare, apply, guide=guide, ahead=ahead,
    reach=reach, kernels=("colour_noise", "noise"),
)  # fmt: skip
STAGE = Stage(
    "denoise", ("scene",), "scene", Denoise, prepare, apply, resolve=resolve, guide=guide,
    ahead=ahead, reach=reach, kernels=("colour_noise", "noise"), local=LOCAL,
)  # fmt: skip
