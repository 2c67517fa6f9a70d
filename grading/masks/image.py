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
    codes = read_known(parameters.file, parameters.sha256)
    top = np.float32(np.iinfo(codes.dtype).max)
    block = max(1, min(codes.shape[0] // ground.height, codes.shape[1] // ground.width))
    means = codes if block == 1 else _block_means(codes, block)
    steps = np.array(codes.shape) / block / (ground.height, ground.width)
    return lambda region, light: _sampled(means, region, steps) / top


@lru_cache(4)
def read_known(file: str, sha256: str) -> np.ndarray:
    """The codes of the picture with a digest; kept, so that a batch reads it once.

    Raises
    ------
    RecipeError
        If the file cannot be read, or is another one.
    """
    codes, digest = read_grey(file)
    if digest != sha256:
        raise RecipeError(
            "this mask is not the file that the recipe was settled with",
            place=file,
            allowed=f"SHA-256 {sha256}",
            remedy="put that file back, or render again from the recipe",
        )
    return codes


def _block_means(codes, block):
    """Means of blocks, where a pixel of the frame would skip some of the codes."""
    sums = np.add.reduceat(codes, np.arange(0, codes.shape[0], block), axis=0, dtype=np.float64)
    sums = np.add.reduceat(sums, np.arange(0, codes.shape[1], block), axis=1)
    sizes = (np.minimum(block, edge - np.arange(0, edge, block)) for edge in codes.shape)
    return (sums / np.outer(*sizes)).astype(np.float32)


def _sampled(plane, region: Region, steps):
    """Values at the pixels of a region, a step of the plane apart, in between linearly."""
    top, rows = _places(region.top, region.bottom, steps[0], plane.shape[0])
    left, columns = _places(region.left, region.right, steps[1], plane.shape[1])
    part = plane[top : top + rows[1][-1] + 1, left : left + columns[1][-1] + 1]
    part = np.ascontiguousarray(part, np.float32)
    return kernels.base.between_blocks(part[None], rows, columns)[0]


def _places(start, stop, step, size):
    """The first entry that pixels lie on; entries before and after each pixel, from there, and the
    share of the latter."""
    place = np.clip((np.arange(start, stop) + 0.5) * step - 0.5, 0, size - 1)
    before = place.astype(np.int64)
    after = np.minimum(before + 1, size - 1)
    first = before[0]
    return first, (before - first, after - first, (place - before).astype(np.float32))


SHAPE = Shape("image", Image, mask, ("grown",))
