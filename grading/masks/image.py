"""A mask from a picture."""

from functools import lru_cache

import numpy as np

from grading import kernels
from grading.errors import RecipeError
from grading.grey_image import read_grey
from grading.masks.shape import Ground, Mask, Shape
from grading.region import Region
from grading.stages.stage import Model, parameter


class Image(Model):
    """A grey picture laid over the whole frame, whatever its size: black is nothing, white all."""

    file: str = parameter(
        ..., "A PNG or TIFF in grey, of 8 or 16 bit: a path relative to this recipe."
    )
    sha256: str | None = parameter(
        None, "SHA-256 of the file, 64 digits: another one is refused. Sidecars state it."
    )


def mask(parameters: Image, ground: Ground) -> Mask:
    """The mask of a picture; codes are weights, evenly from the lowest to the highest."""
    codes = _codes(parameters.file, parameters.sha256)
    top = np.float32(np.iinfo(codes.dtype).max)
    planes = _not_much_larger(codes, ground)
    return lambda region, light: _sampled(planes, region, ground) / top


@lru_cache(4)
def _codes(file, sha256):
    codes, digest = read_grey(file)
    if digest != sha256:
        raise RecipeError(
            "this mask is not the file that the recipe was settled with",
            place=file,
            allowed=f"SHA-256 {sha256}",
            remedy="put that file back, or render again from the recipe",
        )
    return codes


def _not_much_larger(codes, ground):
    """Codes, or means of blocks of them where a pixel of the frame would skip some."""
    block = min(codes.shape[0] // ground.height, codes.shape[1] // ground.width)
    if block < 2:
        return codes
    sums = np.add.reduceat(codes, np.arange(0, codes.shape[0], block), axis=0, dtype=np.float64)
    sums = np.add.reduceat(sums, np.arange(0, codes.shape[1], block), axis=1)
    sizes = (np.minimum(block, edge - np.arange(0, edge, block)) for edge in codes.shape)
    return (sums / np.outer(*sizes)).astype(np.float32)


def _sampled(planes, region: Region, ground):
    """Values at the pixels of a region, in between linearly."""
    top, rows = _places(region.top, region.bottom, ground.height, planes.shape[0])
    left, columns = _places(region.left, region.right, ground.width, planes.shape[1])
    part = planes[top : top + rows[1][-1] + 1, left : left + columns[1][-1] + 1]
    part = np.ascontiguousarray(part, np.float32)
    return kernels.base.between_blocks(part[None], rows, columns)[0]


def _places(start, stop, wide, size):
    """The first entry that pixels lie on; entries before and after each pixel, from there, and the
    share of the latter."""
    place = np.clip((np.arange(start, stop) + 0.5) * (size / wide) - 0.5, 0, size - 1)
    before = place.astype(np.int64)
    after = np.minimum(before + 1, size - 1)
    first = before[0]
    return first, (before - first, after - first, (place - before).astype(np.float32))


SHAPE = Shape("image", Image, mask, ("grown",))
