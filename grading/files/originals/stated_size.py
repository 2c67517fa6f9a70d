"""How large an original is by its header alone."""

from __future__ import annotations

import os
from pathlib import Path

from grading.develop.libraw import libraw
from grading.files.metadata.containers import JPEG_START, PNG_START
from grading.regular_file import open_regular

_BEGINNINGS = {JPEG_START: "JPEG", PNG_START: "PNG"}


def stated_size(path: Path) -> tuple[int, int] | None:
    """Width and height of an original as its header states them, for estimates.

    Parameters
    ----------
    path : Path

    Returns
    -------
    (int, int) or None
        As the sensor lies, or as the pixels are stored: either side may be the upright one. None
        where the header cannot be read; opening the file says why.
    """
    rawpy = libraw()
    try:
        with open_regular(path) as file:
            start = file.read(16)
            file.seek(0)
            kind = _rendered(path, start)
            if kind:
                return _by_pillow(file, kind)
        with rawpy.imread(os.fspath(path)) as raw:  # from a path, it reads no pixels
            return raw.sizes.width, raw.sizes.height
    except (OSError, ValueError, rawpy.LibRawError):
        return None


def _rendered(path, start):
    """What Pillow calls the format of a rendered original; None for a raw file."""
    for beginning, kind in _BEGINNINGS.items():
        if start.startswith(beginning):
            return kind
    return "TIFF" if path.suffix.lower() in (".tif", ".tiff") else None


def _by_pillow(file, kind):
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None
    with Image.open(file, formats=[kind]) as picture:
        return picture.size
