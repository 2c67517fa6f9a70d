"""What there is to know of a file format that is written."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO, NamedTuple

import numpy as np

from grading.colour.profiles import icc_profile


class Header(NamedTuple):
    """What the header of a file says of its picture.

    The space is the name of one of ours, or None; the XMP packet is as it stands, or None.
    """

    width: int
    height: int
    bits: int
    space: str | None
    xmp: bytes | None = None


@dataclass(frozen=True)
class Attached:
    """What a file carries beside its pixels.

    Attributes
    ----------
    space : str
        Name of the colour space of the codes.
    exif : tuple of dict, or None
        The main, EXIF and GPS directories, as `grading.files.metadata.exif.carried_exif` gives
        them, with what the label adds.
    xmp : bytes or None
        XMP packet.
    """

    space: str
    exif: tuple[dict, dict, dict] | None = None
    xmp: bytes | None = None

    @property
    def icc(self) -> bytes:
        """The space's ICC profile."""
        return icc_profile(self.space)

    @property
    def is_srgb(self) -> bool:
        """Whether the codes are sRGB, the one space that EXIF has a number for."""
        return self.space == "srgb"


@dataclass(frozen=True)
class Format:
    """A file format that is written.

    Attributes
    ----------
    name : str
        In the command line, in a sidecar and in messages.
    suffix : str
        Of the names of its files.
    bits : int
        Of a channel's codes, 8, 10 or 16.
    encode : callable
        Makes the bytes of a file: ``encode(codes, attached, quality, workers)``. The codes have the
        shape (H, W, 3), or (H, W) of grey, and reach up to 2 ** bits - 1. How the file carries what
        is `Attached` is known there alone.
    has_quality : bool
        Whether the quality makes a difference, so that a sidecar states it.
    read_header : callable
        The `Header` of an open file, or None if it is of another format.
    spaces : tuple of str
        The only spaces that the file can state; empty where it can state any.
    """

    name: str
    suffix: str
    bits: int
    encode: Callable[[np.ndarray, Attached, int, int | None], bytes]
    has_quality: bool
    read_header: Callable[[BinaryIO], Header | None]
    spaces: tuple[str, ...] = ()
