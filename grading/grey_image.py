"""Grey pictures that a mask is read from: PNG and TIFF of 8 or 16 bit."""

from __future__ import annotations

import hashlib
import io
import struct
from os import PathLike

import numpy as np

from grading.errors import RecipeError
from grading.regular_file import open_regular

LARGEST_FILE = 256 << 20
"""Bytes."""

MOST_PIXELS = 200_000_000

_MOST_PIXELS_A_BYTE = 1032
"""What Deflate reaches at best (zlib, technical details)."""

_PNG = b"\x89PNG\r\n\x1a\n"
_KIND = "a PNG or TIFF in grey, of 8 or 16 bit, without transparency"
_AS_GREY = "save it in grey, without transparency"


def read_grey(path: str | PathLike[str]) -> tuple[np.ndarray, str]:
    """The codes of a grey picture.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    ndarray, shape (rows, columns), uint8 or uint16
    str
        SHA-256 of the file, 64 digits.

    Raises
    ------
    RecipeError
        If there is no such file, it is too large or damaged, or no grey picture.
    """
    try:
        with open_regular(path) as file:
            data = file.read(LARGEST_FILE + 1)
    except OSError as error:
        missing = isinstance(error, FileNotFoundError)
        problem = "there is no such file" if missing else f"cannot be read ({error.strerror})"
        raise RecipeError(problem, place=str(path), remedy="put the picture there") from None
    if len(data) > LARGEST_FILE:
        raise RecipeError(
            "the file is too large", place=str(path), allowed=f"up to {LARGEST_FILE >> 20} MiB"
        )
    return (_png if data.startswith(_PNG) else _tiff)(data, path), hashlib.sha256(data).hexdigest()


def _png(data, path):
    import imagecodecs

    width, height, bits, colour = struct.unpack_from(">IIBB", data.ljust(26, b"\0"), 16)
    if colour != 0 or bits not in (8, 16):
        raise _unfit(path)
    _check_size(width, height, len(data), path)
    try:
        return imagecodecs.png_decode(data)
    except (RuntimeError, ValueError) as error:
        raise _damaged(path, error) from None


def _tiff(data, path):
    import imagecodecs  # noqa: F401 - first, as tifffile takes a poor stand-in where it fails
    import tifffile

    try:
        with tifffile.TiffFile(io.BytesIO(data)) as file:
            page = file.pages[0]
            grey = page.photometric == tifffile.PHOTOMETRIC.MINISBLACK
            if not grey or page.samplesperpixel != 1 or page.dtype not in (np.uint8, np.uint16):
                raise _unfit(path)
            _check_size(page.imagewidth, page.imagelength, len(data), path)
            codes = page.asarray()
    except (RecipeError, ImportError, MemoryError):
        raise
    except tifffile.TiffFileError:
        raise _unfit(path) from None
    except Exception as error:  # what tifffile raises on damaged tags has no common root
        raise _damaged(path, error) from None
    if codes.ndim != 2:
        raise _unfit(path)
    return codes


def _check_size(width, height, size, path):
    if width < 1 or height < 1 or width * height > _MOST_PIXELS_A_BYTE * size:
        raise _damaged(path, f"it cannot hold {width} x {height} pixels")
    if width * height > MOST_PIXELS:
        raise RecipeError(
            f"a mask of {width} x {height} pixels",
            place=str(path),
            allowed=f"up to {MOST_PIXELS / 1e6:g} million pixels",
            remedy="save it smaller: it is fitted to the frame",
        )


def _unfit(path):
    return RecipeError(
        "this picture cannot be a mask", place=str(path), allowed=_KIND, remedy=_AS_GREY
    )


def _damaged(path, error):
    return RecipeError(
        f"the picture cannot be decoded ({error})", place=str(path), remedy="save it again"
    )
