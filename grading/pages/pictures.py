"""Pictures for pages, as data URIs: photographs, the map of differences, marks of clipping."""

import base64
import io

import numpy as np

from grading.colour import oklab, spaces, transfer
from grading.colour.profiles import icc_profile
from grading.files.formats.jpeg import encode_jpeg

MAP_TOP = 40.0
"""CIEDE2000 at and above which the map is at its lightest."""

WHITE_MARK = (214, 31, 214)
BLACK_MARK = (196, 222, 0)
"""sRGB codes of the marks; the stripes also lean to opposite sides."""


def photograph(codes: np.ndarray, quality: int = 90) -> str:
    """A picture of 8-bit sRGB codes as the data URI of a JPEG with its profile."""
    return _uri("jpeg", encode_jpeg(codes, icc_profile("srgb"), None, quality))


def light_jpeg(codes: np.ndarray) -> bytes:
    """A small picture of 8-bit sRGB codes in few bytes, for pages that hold hundreds.

    Chroma has half the resolution, and there is no profile: what states none is sRGB (W3C CSS
    Color 4, 2).
    """
    import imagecodecs

    return imagecodecs.jpeg8_encode(codes, level=75, subsampling="420", optimize=True)


def in_page(jpeg: bytes) -> str:
    """The data URI of a JPEG file."""
    return _uri("jpeg", jpeg)


def scale_of_map() -> np.ndarray:
    """sRGB codes of the map, shape (256, 3), from no difference to `MAP_TOP`.

    Lightness rises evenly, so the map also reads without colour; hue turns from violet to yellow.
    """
    t = np.linspace(0, 1, 256)
    hue = np.radians(300 - 200 * t)
    chroma = 0.04 + 0.1 * np.sin(np.pi * t)
    return srgb_codes(
        np.stack([0.2 + 0.77 * t, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
    )


def srgb_codes(lab: np.ndarray) -> np.ndarray:
    """8-bit sRGB codes of colours in Oklab, shape (..., 3); what sRGB cannot show is clipped."""
    srgb = spaces.SPACES["srgb"]
    light = np.clip(oklab.oklab_to_xyz(lab) @ spaces.xyz_to_rgb(srgb).T, 0, 1)
    return np.round(255 * transfer.encode(srgb.transfer, light)).astype(np.uint8)


def place_in_map(delta_e: np.ndarray | float) -> np.ndarray | float:
    """Where differences lie on the scale of the map, 0..1: by their root, so that those that can
    just be seen and those between two moods both show.

    >>> float(place_in_map(10.0))
    0.5
    """
    return np.sqrt(np.minimum(delta_e / MAP_TOP, 1))


def difference_map(delta_e: np.ndarray) -> str:
    """The map of differences as the data URI of a PNG."""
    index = np.round(place_in_map(delta_e) * 255).astype(np.uint8)
    return _png(index, scale_of_map())


def clipping_marks(clipped: np.ndarray) -> str:
    """Stripes where a picture ends in black or white, clear elsewhere, as the URI of a PNG.

    Parameters
    ----------
    clipped : ndarray, shape (2, rows, columns), bool
        From `grading.inspect.codes.clipped`.
    """
    black, white = clipped
    y, x = np.indices(black.shape, sparse=True)
    index = np.zeros(black.shape, np.uint8)
    index[black & ((x + y) % 6 < 3)] = 1
    index[white & ((x - y) % 6 < 3)] = 2
    return _png(index, np.array([(0, 0, 0), BLACK_MARK, WHITE_MARK], np.uint8), transparency=0)


def cover(weights: np.ndarray) -> str:
    """Weights 0..1 as the data URI of a PNG: white, the less clear the higher the weight."""
    from PIL import Image

    alpha = Image.fromarray(np.round(255 * np.clip(weights, 0, 1)).astype(np.uint8), "L")
    image = Image.merge("LA", (Image.new("L", alpha.size, 255), alpha))
    data = io.BytesIO()
    image.save(data, "PNG")
    return _uri("png", data.getvalue())


def _png(index, palette, **options):
    from PIL import Image

    image = Image.fromarray(index, "P")
    image.putpalette(palette.tobytes())
    data = io.BytesIO()
    image.save(data, "PNG", **options)
    return _uri("png", data.getvalue())


def _uri(kind, data):
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"
