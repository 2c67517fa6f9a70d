"""Originals, opened by what they contain. They are only ever read."""

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from grading.errors import OriginalError
from grading.files import dngtags
from grading.files.containers import JPEG_START, PNG_START
from grading.files.raw import open_raw
from grading.files.rendered import open_rendered
from grading.files.tiff import read_chain

_TIFF_SUFFIXES = (".tif", ".tiff")


def open_frame(path):
    """Open an original: a raw file, a JPEG, a TIFF or a PNG.

    Parameters
    ----------
    path : path-like
        The original; it is opened for reading only.

    Returns
    -------
    Frame
        Facts, pixels and the EXIF block for outputs.

    Raises
    ------
    OriginalError
        If there is no such file, or it is damaged, empty or of an unknown kind.
    """
    path = Path(path)
    data = _read(path)
    with ThreadPoolExecutor(1) as beside:
        digest = beside.submit(hashlib.sha256, data)
        frame = _decode(path, data)
    facts = replace(frame.facts, size=len(data), sha256=digest.result().hexdigest())
    return replace(frame, facts=facts)


def _decode(path, data):
    try:
        return _opener(path, data)(path, data)
    except OriginalError as error:
        raise OriginalError(
            error.problem, place=path, allowed=error.allowed, remedy=error.remedy
        ) from None
    except MemoryError:
        raise OriginalError("not enough memory to open it", place=path) from None


def _read(path):
    try:
        data = path.read_bytes()
    except IsADirectoryError:
        raise OriginalError("a folder", place=path, allowed="a file") from None
    except OSError as error:
        raise OriginalError(f"cannot be read ({error.strerror})", place=path) from None
    if not data:
        raise OriginalError("an empty file", place=path, remedy="copy it again from the card")
    return data


def _opener(path, data):
    if data.startswith((JPEG_START, PNG_START)):
        return open_rendered
    if path.suffix.lower() in _TIFF_SUFFIXES and data[:2] in (b"II", b"MM"):
        chain = read_chain(data)
        return open_raw if chain and dngtags.is_dng(chain[0]) else open_rendered
    return open_raw
