"""What kind of file a graded frame becomes: format, colour space, size."""

from dataclasses import dataclass

from grading.colour import spaces
from grading.errors import OutputError
from grading.files.formats.registry import FORMATS

OUTPUT_SPACES = ("srgb", "display-p3", "bt2020")

LONG_EDGE = (16, 65500)
"""Least and most pixels of the longer side of an output that is made smaller."""


@dataclass(frozen=True)
class Output:
    """The file that a picture is to become: what is asked for, before there is a file.

    Attributes
    ----------
    format : {"jpeg", "tiff"}
        8-bit JPEG without chroma subsampling, or 16-bit TIFF.
    space : {"srgb", "display-p3", "bt2020"}
        Colour space, with its ICC profile in the file.
    long_edge : int or None
        Pixels; a smaller picture is not enlarged. None: as the original.
    quality : int
        Of a JPEG, 1 to 100.

    Raises
    ------
    OutputError
        For a value that is not among these.
    """

    format: str = "jpeg"
    space: str = "srgb"
    long_edge: int | None = None
    quality: int = 92

    def __post_init__(self):
        _one_of("format", self.format, FORMATS)
        _one_of("space", self.space, OUTPUT_SPACES)
        _within("quality", self.quality, 1, 100)
        if self.long_edge is not None:
            _within("long_edge", self.long_edge, *LONG_EDGE)

    @property
    def bits(self) -> int:
        """Bits a channel of the file."""
        return FORMATS[self.format].bits

    def size(self, width: int, height: int) -> tuple[int, int]:
        """(width, height) of the finished picture for those of the frame.

        >>> Output(long_edge=2048).size(6000, 4000)
        (2048, 1365)
        """
        if self.long_edge is None or self.long_edge >= max(width, height):
            return width, height
        share = self.long_edge / max(width, height)
        return max(1, round(width * share)), max(1, round(height * share))

    @property
    def curve(self) -> str:
        """Name of the space's transfer curve."""
        return spaces.SPACES[self.space].transfer


def _one_of(name, value, allowed):
    if value not in tuple(allowed):
        raise OutputError(f"{name} = {value!r}", allowed=", ".join(allowed))


def _within(name, value, low, high):
    if not (isinstance(value, int) and low <= value <= high):
        raise OutputError(f"{name} = {value!r}", allowed=f"a whole number, {low} to {high}")
