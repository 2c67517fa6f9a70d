"""What a decoded original is: its facts and its pixels.

This module sits below the stages, so that a stage can be resolved against a frame
without knowing what kind of file the frame came from.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import NamedTuple, Protocol

import numpy as np

from grading.colour.calibration import Calibration as Calibration
from grading.colour.calibration import Camera as Camera
from grading.lens.optics import Optics
from grading.region import Region


@dataclass(frozen=True)
class Capture:
    """The facts of capture; ``None`` where the file does not say.

    ``time`` is ISO 8601 (with offset where known), ``shutter`` seconds, ``aperture`` the
    f-number, ``iso`` the speed, ``focal_length`` millimetres, ``latitude`` and ``longitude``
    degrees (north and east positive). ``focal_length_full_frame`` is the one that gives the same
    angle of view on 36 x 24 mm. ``serial`` is the serial number of the camera's body.
    """

    make: str | None = None
    model: str | None = None
    lens: str | None = None
    time: str | None = None
    shutter: float | None = None
    aperture: float | None = None
    iso: float | None = None
    focal_length: float | None = None
    latitude: float | None = None
    longitude: float | None = None
    focal_length_full_frame: float | None = None
    serial: str | None = None

    @property
    def camera(self) -> str | None:
        """Make and model in one, without a make that the model begins with.

        >>> Capture(make="Invented", model="Invented One").camera
        'Invented One'
        """
        make, model = self.make or "", self.model or ""
        if model.casefold().startswith(make.casefold()):
            return model or None
        return f"{make} {model}".strip()


class Noise(NamedTuple):
    """The noise of a raw: variance = gain * signal + offset, with the signal 1 at white.

    >>> Noise(2e-4, 1e-6).variance(0.18)
    3.7e-05
    """

    gain: float
    offset: float

    def variance(self, signal: float) -> float:
        """Variance at a signal."""
        return self.gain * signal + self.offset

    def averaged(self, count: float) -> Noise:
        """The noise of the mean of so many pixels that are independent of each other."""
        return Noise(self.gain / count, self.offset / count)


DARK = 0.01
"""Of the white level, some 6.6 stops below it: a raw with no brighter pixel is opened only if the
person says so."""
class Measured(NamedTuple):
    """What a frame itself tells of its noise.

    Attributes
    ----------
    noise : Noise
        Where not `sure`, texture may have raised it.
    level : float
        Mean signal of the places that tell it.
    flat : float
        Share of these places that are as quiet as this noise; about 0.55 where there is no texture.
    sure : bool
        Whether enough of them are flat.
    """

    noise: Noise
    level: float
    flat: float
    sure: bool


class Shown(NamedTuple):
    """What other frames of the camera show its noise to be, and how many they are."""

    noise: Noise
    frames: int


@dataclass(frozen=True)
class NoiseSource:
    """Where the noise of a frame is known from.

    Attributes
    ----------
    name : str
        One of `STATED`, `MEASURED`, `SHOWN` and `BOUND`.
    measured : Measured or None
        What the frame itself tells; None where it has too few usable places.
    shown : Shown or None
        What other frames were taken to show.
    """

    STATED = "stated in the file"
    MEASURED = "measured in this frame"
    SHOWN = "shown by other frames of the camera"
    BOUND = "bound by the ISO speed"

    name: str
    measured: Measured | None = None
    shown: Shown | None = None

    @property
    def sure(self) -> bool:
        """Whether the frame or its file tells, so that no other frame is asked."""
        return self.name in (self.STATED, self.MEASURED)


@dataclass(frozen=True)
class Facts:
    """Everything known of a frame before a pixel is graded.

    ``width`` and ``height`` are those of the upright picture. ``camera`` is ``None`` for a
    rendered original, whose pixels are already in the working light, and for a monochrome raw,
    whose three equal channels are neutral in any light. ``decoder`` says which path made the
    pixels. ``noise`` is that of a raw's mosaic, and ``noise_source`` says where it is known from.
    ``warnings`` are sentences for a person. ``size`` and ``sha256`` are those of the bytes that
    were decoded. ``brightest`` is the brightest value of a raw, whose white level is 1.
    ``optics`` is what the file states of its lens. ``orientation`` is that of EXIF, 1 to 8: how
    the stored picture is to be turned.
    """

    path: Path
    width: int
    height: int
    decoder: str
    camera: Camera | None = None
    capture: Capture = Capture()
    noise: Noise | None = None
    noise_source: NoiseSource | None = None
    warnings: tuple[str, ...] = ()
    size: int = 0
    sha256: str = ""
    monochrome: bool = False
    brightest: float | None = None
    optics: Optics | None = None
    orientation: int = 1

    @property
    def dark(self) -> bool:
        """Whether a raw is so dark that it may be no picture at all."""
        return self.brightest is not None and self.brightest < DARK

    def factor_to(self, long_edge: int) -> int:
        """The least power of two by which it is to be reduced to keep to a long edge."""
        blocks = -(-max(self.width, self.height) // long_edge)
        return 1 << (blocks - 1).bit_length()


class Pixels(Protocol):
    """The pixels of a frame, read region by region; upright, linear, float32, planar.

    Raw originals give camera RGB (black 0, white level 1, not white-balanced), rendered ones
    the working light (linear ITU-R BT.2020, D65).
    """

    height: int
    width: int

    def read(self, region: Region) -> np.ndarray:
        """Pixels of a region, shape (3, rows, columns)."""

    def reduced(self, factor: int) -> np.ndarray:
        """Means of factor x factor blocks, shape (3, ceil(height/factor), ceil(width/factor))."""


@dataclass(frozen=True)
class Frame:
    """A decoded original, or a smaller version of one.

    Attributes
    ----------
    facts : Facts
    pixels : Pixels
    exif : tuple of dict, or None
        What outputs carry on of its EXIF: the main, EXIF and GPS directories, as
        `grading.files.metadata.exif.carried_exif` gives them.
    scale : int
        How many pixels of the original, each way, make one of these; 1 for the original itself.
    """

    facts: Facts
    pixels: Pixels
    exif: tuple[dict, dict, dict] | None = field(default=None, repr=False)
    scale: int = 1
    _reductions: dict = field(default_factory=dict, init=False, repr=False, compare=False)
    _lock: Lock = field(default_factory=Lock, init=False, repr=False, compare=False)

    @property
    def region(self) -> Region:
        """All of the frame."""
        return Region.whole(self.facts.height, self.facts.width)

    def factor_to(self, long_edge: int) -> int:
        """The least power of two by which the frame is to be reduced to keep to a long edge."""
        return self.facts.factor_to(long_edge)

    def reduced(self, factor: int) -> np.ndarray:
        """Means of factor x factor blocks, as `Pixels.reduced` gives them; computed once.

        The array is shared by all who ask for it, and not to be changed.
        """
        with self._lock:
            if factor not in self._reductions:
                self._reductions[factor] = self.pixels.reduced(factor)
            return self._reductions[factor]
