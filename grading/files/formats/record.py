"""What there is to know of a file format that is written."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO, NamedTuple


class Header(NamedTuple):
    """What the header of a file says of its picture; the space is an ICC profile, or None."""

    width: int
    height: int
    space: bytes | None


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
        Of a channel's codes, 8 or 16.
    encode : callable
        Makes the bytes of a file: ``encode(codes, icc, exif, quality, srgb, workers)``. The codes
        have the shape (H, W, 3), the profile is that of the codes, and the EXIF directories are
        what `grading.files.metadata.exif.carried_exif` gives, or None. How the file carries both
        is known there alone.
    has_quality : bool
        Whether the quality makes a difference, so that a sidecar states it.
    pillow : str
        What Pillow calls it, which reads the header.
    """

    name: str
    suffix: str
    bits: int
    encode: Callable[..., bytes]
    has_quality: bool
    pillow: str

    def read_header(self, file: BinaryIO) -> Header | None:
        """The header of an open file; None if it is of another format."""
        from PIL import Image

        Image.MAX_IMAGE_PIXELS = None
        try:
            with Image.open(file, formats=[self.pillow]) as picture:
                return Header(*picture.size, picture.info.get("icc_profile"))
        except OSError:
            return None
