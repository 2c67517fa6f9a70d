"""Small pictures through the whole engine: frames in memory, recipes, and codes back to light."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from grading.colour import transfer
from grading.colour.oklab import oklab_to_working, xyz_to_oklab
from grading.colour.spaces import SPACES, rgb_to_xyz
from grading.engine.execute import render
from grading.engine.output import Output
from grading.frame import Facts, Frame
from grading.recipe.load import recipe_from_mapping
from grading.region import Region


@dataclass(frozen=True)
class ArrayPixels:
    """A picture in memory as `grading.frame.Pixels`; light has shape (3, height, width)."""

    light: np.ndarray

    @property
    def height(self):
        return self.light.shape[1]

    @property
    def width(self):
        return self.light.shape[2]

    def read(self, region):
        return region.cut(np.array(self.light, np.float32), Region.whole(self.height, self.width))

    def reduced(self, factor):
        assert factor == 1
        return self.light


def frame_of(rgb):
    """A rendered original of linear ITU-R BT.2020, shape (rows, columns, 3)."""
    light = np.ascontiguousarray(np.moveaxis(rgb, -1, 0), dtype=np.float32)
    _, height, width = light.shape
    return Frame(Facts(Path("in memory"), width, height, "array"), ArrayPixels(light))


def recipe(**stages):
    """A recipe of the stages' parameters; the others leave alone."""
    return recipe_from_mapping({"grading": 1, **stages}, "truth")


def linear(codes, space):
    """Linear light of an output's codes, float64."""
    return transfer.decode(SPACES[space].transfer, codes / np.iinfo(codes.dtype).max)


def xyz_of(codes, space):
    """CIE 1931 XYZ (D65) of an output's codes."""
    return linear(codes, space) @ rgb_to_xyz(SPACES[space]).T


def shown(lab, space, **stages):
    """Oklab of a picture after a recipe, read back from the 16-bit codes of the output.

    Parameters
    ----------
    lab : ndarray, shape (rows, columns, 3)
        The original in Oklab.
    """
    frame = frame_of(oklab_to_working(lab))
    picture = render(frame, recipe(**stages), Output("tiff", space), workers=1)
    return xyz_to_oklab(xyz_of(picture.array, space))
