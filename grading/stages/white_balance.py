"""White balance: under which light the scene is to look neutral.

The light is stated in one of three ways: ``as_shot`` (the camera's own measure, also where nothing
is stated), ``kelvin`` with ``duv``, or ``neutral``, a place in the frame that should be grey.
Kelvin is the correlated colour temperature and Duv the distance from the Planckian locus (ANSI
C78.377), above 0 towards green. Without ``duv`` the light is daylight (CIE 015) above 5000 K,
incandescent below 4000 K, and goes over from one to the other in between. An as-shot white far from
all of these (a strongly coloured lamp) is taken as the camera saw it. Then, and below 2000 and
above 25000 K, a warning says that other colours than grey may be off. ``shift`` then makes the
result warmer or cooler, by mireds, the unit of conversion filters. Locally there is only ``shift``.

For a raw frame this is where camera RGB becomes the working light: the camera matrix,
interpolated between its calibration lights in reciprocal kelvin (DNG specification 1.6, chapter
6) and extrapolated towards bluer light (own rule), and adaptation of the light to D65 by CAT16
(Li et al., Color Res. Appl. 42:703, 2017).

``cameras`` names files that `grading calibrate` made of frames of a colour chart. Each is used for
the raw frames of its camera, in place of the matrices that they carry; a raw frame of a camera
that is not among them is an error. Frames that are no raws, or monochrome, need none.
"""

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from pydantic import AfterValidator, WithJsonSchema, model_validator

from grading import kernels
from grading.colour import adaptation, camera, far, spaces, white
from grading.errors import OriginalError
from grading.frame import Facts, Frame, Pixels
from grading.region import Region
from grading.signal import Signal
from grading.stages.calibrated import CalibratedCamera, of_frame, with_calibration
from grading.stages.stage import Model, Point, Stage, parameter

SAMPLE = 1 / 100
"""Side of the square sampled for a neutral, as a fraction of the long edge."""

CLIPPED = 0.98
"""Share of the raw's white level from which a sample no longer shows its colour."""

WHITES = (1000, 40000)
"""Kelvin of the lights that can be stated: from embers to the sky at the end of dusk."""

COLDEST = 20.0
"""Mired of the coldest white that a shift leads to: 50 000 K."""

_SHIFT_RANGE = dict(unit="mired", minimum=-200, maximum=200)


def _affirmed(value):
    if not value:
        raise ValueError("false says nothing; write true, or leave it out")
    return value


Affirmed = Annotated[bool, AfterValidator(_affirmed), WithJsonSchema({"const": True})]
"""True and nothing else."""


class WhiteBalance(Model):
    exclusive = (
        ("as_shot", "kelvin", "neutral"),
        ("as_shot", "duv", "neutral"),
        ("cameras", "calibrations"),
    )

    as_shot: Affirmed | None = parameter(None, "true: the light that the camera measured.")
    kelvin: float | None = parameter(
        None,
        "Correlated colour temperature of the light.",
        unit="kelvin",
        minimum=WHITES[0],
        maximum=WHITES[1],
    )
    duv: float | None = parameter(
        None,
        "Distance of the light from the Planckian locus; above 0 a greener light.",
        unit="Duv",
        minimum=-0.05,
        maximum=0.05,
    )
    neutral: Point | None = parameter(
        None,
        "[x, y]: a place that should be grey.",
        unit="fractions of the frame's width and height",
    )
    shift: float = parameter(0.0, "Warmer above 0, cooler below.", **_SHIFT_RANGE)
    cameras: list[str] | None = parameter(
        None,
        "Files of calibrated cameras, made by `grading calibrate`: paths relative to this recipe.",
        min_length=1,
    )
    calibrations: list[CalibratedCamera] | None = parameter(
        None, "What such files hold, written out as in a sidecar.", min_length=1
    )

    @model_validator(mode="after")
    def _kelvin_with_duv(self):
        if self.duv is not None and self.kelvin is None:
            raise ValueError("duv goes with kelvin: state both, or leave duv out")
        return self


class LocalWhiteBalance(Model):
    shift: float = parameter(0.0, "Warmer above 0, cooler below.", **_SHIFT_RANGE)


def resolve(parameters: WhiteBalance, frame: Frame) -> WhiteBalance:
    """The light in numbers, kelvin and Duv, in whichever of the three ways it is stated.

    An as-shot white that they cannot state remains as shot. Of calibrated cameras the one that made
    the frame stays.

    Parameters
    ----------
    parameters : WhiteBalance
        With its calibrations; `grading.recipe.load` has put those of files in the place of their
        names.
    frame : Frame

    Raises
    ------
    OriginalError
        Where the sampled place is clipped or black, or its chromaticity is not that of a light, or
        none of the calibrated cameras made the frame.
    """
    calibrations = of_frame(parameters.calibrations, frame.facts)
    if parameters.kelvin is not None:
        duv = parameters.duv
        duv = white.default_duv(parameters.kelvin) if duv is None else duv
        update = {"duv": float(duv), "calibrations": calibrations}
        return parameters.model_copy(update=update)
    facts = with_calibration(frame.facts, calibrations)
    sample = None if parameters.neutral is None else _sample(frame, parameters.neutral)
    try:
        kelvin, duv = (float(v) for v in white.xy_to_kelvin_duv(_illuminant(facts, sample)))
        if not (WHITES[0] <= kelvin <= WHITES[1] and abs(duv) <= white.DUV_LIMIT):
            raise ValueError(f"its white is {kelvin:.0f} K with Duv {duv:+.4f}")
    except ValueError as error:
        if sample is None and facts.camera is not None:
            return WhiteBalance(
                as_shot=True, shift=parameters.shift, calibrations=calibrations
            )
        raise _no_white(facts, error) from None
    return WhiteBalance(
        kelvin=kelvin, duv=duv, shift=parameters.shift, calibrations=calibrations
    )


def warn(parameters: WhiteBalance, facts: Facts) -> list[str]:
    """Sentences about a stated light far from those that the frame's camera is calibrated under."""
    if parameters.kelvin is None or facts.camera is None:
        return []
    light = (parameters.kelvin, parameters.duv or 0.0)
    return far.warn_of_white(facts.camera, light, "the light that the recipe states")


def _no_white(facts, problem, allowed="a white of 1000 to 40000 K, Duv -0.05 to 0.05"):
    return OriginalError(
        str(problem),
        place=str(facts.path),
        allowed=allowed,
        remedy="state white_balance kelvin, or neutral with a place that is grey",
    )


def _illuminant(facts, sample):
    """Chromaticity of the light that makes a sample neutral, or the as-shot one."""
    if facts.camera is not None:
        return camera.neutral_to_xy(
            facts.camera, facts.camera.neutral if sample is None else sample
        )
    if sample is None:
        return spaces.D65
    return spaces.xyz_to_xy(spaces.rgb_to_xyz(spaces.WORKING) @ sample)


def square(pixels: Pixels, point: Sequence[float]) -> Region:
    """The region that is sampled about a place: 5 pixels a side or more unless the frame ends.

    Parameters
    ----------
    pixels : grading.frame.Pixels
    point : sequence of two float
        [x, y] in fractions of the frame.
    """
    half = max(2, round(SAMPLE * max(pixels.width, pixels.height) / 2))
    x = min(int(point[0] * pixels.width), pixels.width - 1)
    y = min(int(point[1] * pixels.height), pixels.height - 1)
    whole = Region.whole(pixels.height, pixels.width)
    return Region(y, y + 1, x, x + 1).grown(half, whole)


def _sample(frame, point):
    patch = frame.pixels.read(square(frame.pixels, point))
    mean = patch.mean(axis=(1, 2), dtype=np.float64)
    if mean.min() <= 0 or patch.max() >= CLIPPED:
        raise OriginalError(
            f"the place white_balance.neutral {list(point)} reads {np.round(mean, 4).tolist()} "
            f"on average and {patch.max():.2f} at its brightest",
            place=str(frame.facts.path),
            allowed=f"averages above 0, and no pixel at {CLIPPED:g} of white or above",
            remedy="choose a grey place that is neither black nor clipped",
        )
    return mean


def prepare(parameters: WhiteBalance, signal: Signal) -> np.ndarray | None:
    """The (3, 3) matrix to the working light, float32, from resolved parameters.

    From camera RGB for a raw frame; from the working light itself for a rendered one, and None
    where that would leave it as it is. To a monochrome frame every light is neutral, and only
    the shift counts.
    """
    facts = with_calibration(signal.facts, parameters.calibrations)
    if facts.camera is not None:
        matrix = _from_camera(parameters, facts)
    else:
        stated = white.kelvin_duv_to_xy(parameters.kelvin, parameters.duv)
        matrix = _adapt(spaces.D65 if facts.monochrome else stated, spaces.D65)
    matrix = _adaptation_to_shift(parameters.shift) @ matrix
    if facts.camera is None and np.allclose(matrix, np.eye(3), rtol=0, atol=1e-6):
        return None
    return matrix.astype(np.float32)


def _from_camera(parameters, facts):
    try:
        if parameters.kelvin is None:
            return far.neutral_to_working(facts.camera, facts.camera.neutral)
        xy = white.kelvin_duv_to_xy(parameters.kelvin, parameters.duv)
        return camera.camera_to_working(facts.camera, xy)
    except ValueError as error:
        raise _no_white(facts, error, "a light in which every channel sees something") from None


def prepare_shift(parameters: LocalWhiteBalance, signal: Signal) -> np.ndarray | None:
    """The (3, 3) matrix of a shift in the working light, float32; None at 0 mired."""
    if parameters.shift == 0:
        return None
    return _adaptation_to_shift(parameters.shift).astype(np.float32)


def _adaptation_to_shift(mired):
    """Adaptation of D65 to a white that lies so many mireds from it, at the same Duv."""
    kelvin, duv = white.xy_to_kelvin_duv(spaces.D65)
    shifted = max(white.kelvin_to_mired(kelvin) + mired, COLDEST)
    return _adapt(spaces.D65, white.kelvin_duv_to_xy(white.mired_to_kelvin(shifted), duv))


def _adapt(source, target):
    """Adaptation between two whites, as a matrix on the working light."""
    to_xyz = spaces.rgb_to_xyz(spaces.WORKING)
    matrix = adaptation.cat16(spaces.xy_to_xyz(source), spaces.xy_to_xyz(target))
    return np.linalg.solve(to_xyz, matrix @ to_xyz)


def apply(rgb: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """Linear light times the matrix."""
    return kernels.light.mix(rgb, matrix)


def affine(matrix: np.ndarray) -> np.ndarray:
    """The matrix with no offset, shape (3, 4)."""
    return np.hstack([matrix.astype(np.float64), np.zeros((3, 1))])


LOCAL = Stage(
    "white_balance", ("scene",), "scene", LocalWhiteBalance, prepare_shift, apply,
    amplify=Signal.amplified, kernels=("mix",),
)  # fmt: skip
STAGE = Stage(
    "white_balance", ("camera", "scene"), "scene", WhiteBalance, prepare, apply,
    resolve=resolve, warn=warn, amplify=Signal.amplified, affine=affine, kernels=("mix",),
    local=LOCAL,
)  # fmt: skip
