"""What kind of file a graded frame becomes: format, colour space, size."""

from dataclasses import dataclass

from grading.colour import spaces
from grading.colour.profiles import GREY
from grading.errors import OutputError
from grading.files.formats.registry import FORMATS

RGB_SPACES = tuple(spaces.SPACES)
OUTPUT_SPACES = (*RGB_SPACES, GREY)

SIDES = (16, 65500)
"""Least and most pixels of a side that an output is fitted to."""

SHARPEN_SMALLER = 0.25
"""Share of the softness that is taken back where a size is stated and nothing else; ours: from
6000 pixels to 2048 and to 1080, contrast at a quarter of the pixels' frequency is 96 and 104 %."""


@dataclass(frozen=True)
class Output:
    """The file that a picture is to become: what is asked for, before there is a file.

    At most one of ``long_edge``, ``short_edge`` and ``box`` is stated. A picture is never
    enlarged, and keeps its proportions.

    Attributes
    ----------
    format : str
        A key of `grading.files.formats.registry.FORMATS`.
    space : {"srgb", "display-p3", "bt2020", "oprgb", "grey"}
        Colour space, which the file states; grey is one channel on the curve of sRGB.
    long_edge : int or None
        Pixels of the longer side. None: as the original.
    quality : int
        Of a format that loses something, 1 to 100.
    short_edge : int or None
        Pixels of the shorter side.
    box : (int, int) or None
        Width and height in pixels that the picture fits into.
    sharpen : float
        Share of the softness of one pixel's width that is taken back at the end, 0..1. Unless
        stated `SHARPEN_SMALLER` where a size is asked for, else 0. A picture that is no larger than
        the size asked for is not sharpened.

    Raises
    ------
    OutputError
        For a value that is not among these, or a space that the format cannot state.
    """

    format: str = "jpeg"
    space: str = "srgb"
    long_edge: int | None = None
    quality: int = 92
    short_edge: int | None = None
    box: tuple[int, int] | None = None
    sharpen: float | None = None

    def __post_init__(self):
        _one_of("format", self.format, FORMATS)
        _one_of("space", self.space, OUTPUT_SPACES)
        _within("quality", self.quality, 1, 100)
        stated = [name for name in ("long_edge", "short_edge", "box") if getattr(self, name)]
        if len(stated) > 1:
            problem = f"{' and '.join(stated)} are stated together"
            raise OutputError(problem, allowed="one of long_edge, short_edge and box")
        for name in ("long_edge", "short_edge"):
            if getattr(self, name) is not None:
                _within(name, getattr(self, name), *SIDES)
        if self.box is not None:
            object.__setattr__(self, "box", _box(self.box))
        if self.sharpen is None:
            object.__setattr__(self, "sharpen", SHARPEN_SMALLER if self.resizes else 0.0)
        if not (isinstance(self.sharpen, (int, float)) and 0 <= self.sharpen <= 1):
            raise OutputError(f"sharpen = {self.sharpen!r}", allowed="a number, 0 to 1")
        able = FORMATS[self.format].spaces
        if able and self.space not in able:
            problem = f"{self.format} has no way to state the space {self.space}"
            raise OutputError(problem, allowed=", ".join(able), remedy="choose another format")

    @property
    def bits(self) -> int:
        """Bits a channel of the file."""
        return FORMATS[self.format].bits

    @property
    def resizes(self) -> bool:
        """Whether a size is asked for."""
        return any((self.long_edge, self.short_edge, self.box))

    def size(self, width: int, height: int) -> tuple[int, int]:
        """(width, height) of the finished picture for those of the frame.

        >>> Output(long_edge=2048).size(6000, 4000)
        (2048, 1365)
        >>> Output(box=(1920, 1080)).size(6000, 4000)
        (1620, 1080)
        """
        share = self._share(width, height)
        if share >= 1:
            return width, height
        return max(1, round(width * share)), max(1, round(height * share))

    def _share(self, width, height):
        if self.long_edge:
            return self.long_edge / max(width, height)
        if self.short_edge:
            return self.short_edge / min(width, height)
        return min(self.box[0] / width, self.box[1] / height) if self.box else 1

    @property
    def is_grey(self) -> bool:
        """Whether the file has one channel."""
        return self.space == GREY

    @property
    def rgb_space(self) -> str:
        """The RGB space whose neutral colours, or all of whose colours, the file holds."""
        return "srgb" if self.is_grey else self.space

    @property
    def curve(self) -> str:
        """Name of the space's transfer curve."""
        return spaces.SPACES[self.rgb_space].transfer


def _one_of(name, value, allowed):
    if value not in tuple(allowed):
        raise OutputError(f"{name} = {value!r}", allowed=", ".join(allowed))


def _within(name, value, low, high):
    if not (isinstance(value, int) and low <= value <= high):
        raise OutputError(f"{name} = {value!r}", allowed=f"a whole number, {low} to {high}")


def _box(box):
    if not (isinstance(box, (list, tuple)) and len(box) == 2):
        raise OutputError(f"box = {box!r}", allowed="width and height in pixels")
    for side in box:
        _within("box", side, *SIDES)
    return tuple(box)
