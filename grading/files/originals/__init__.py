"""Originals, opened by what they contain. They are only ever read."""

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

from grading.errors import OriginalError
from grading.files.limits import MAX_PIXELS
from grading.files.metadata import dngtags
from grading.files.metadata.containers import JPEG_START, PNG_START
from grading.files.metadata.tifftags import read_chain
from grading.files.originals.decoders import overheard, undo_failed_imports
from grading.files.originals.raw import NotRaw, open_raw
from grading.files.originals.rendered import open_rendered
from grading.frame import DARK
from grading.regular_file import open_regular

_RENDERED = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG", ".tif": "TIFF", ".tiff": "TIFF"}

# OpenBLAS takes memory at its first use, and ends the process if it finds none: so use it while
# no original has been read.
np.linalg.inv(np.eye(3))


def open_frame(path, max_pixels=MAX_PIXELS, accept_dark=False):
    """Open an original: a raw file, a JPEG, a TIFF or a PNG.

    Parameters
    ----------
    path : path-like
        The original; it is opened for reading only.
    max_pixels : int
        A picture of more is refused before it is decoded.
    accept_dark : bool
        Whether a raw without a pixel of `grading.frame.DARK` is opened, with a warning.

    Returns
    -------
    Frame
        Facts, pixels and the EXIF directories for outputs.

    Raises
    ------
    OriginalError
        If there is no such file, it is damaged, empty, too large, of an unknown kind or nearly
        black, or there is not enough memory.
    """
    path = Path(path)
    try:
        return _open(path, max_pixels, accept_dark)
    except OriginalError as error:
        raise OriginalError(
            error.problem, place=path, allowed=error.allowed, remedy=error.remedy
        ) from None
    except MemoryError:
        undo_failed_imports()
        raise OriginalError("not enough memory to open it", place=path) from None
    except (ImportError, OSError, RuntimeError, SystemError) as error:
        undo_failed_imports()
        raise OriginalError(
            f"what decodes it does not work ({error})",
            place=path,
            remedy="if memory is short, free some; otherwise install this package again",
        ) from None


def _open(path, max_pixels, accept_dark):
    data = _read(path)
    with ThreadPoolExecutor(1) as beside:
        digest = beside.submit(hashlib.sha256, data)
        with overheard() as warnings:
            frame = _decode(path, data, max_pixels)
            warnings = (*frame.facts.warnings, *warnings(), *_check_light(frame.facts, accept_dark))
    facts = replace(
        frame.facts, size=len(data), sha256=digest.result().hexdigest(), warnings=warnings
    )
    return replace(frame, facts=facts)


def _read(path):
    if path.is_dir():
        raise OriginalError("a folder", allowed="a file")
    try:
        with open_regular(path) as file:
            data = _filled(file) if path.suffix.lower() == ".dng" else file.read()
    except OSError as error:
        raise OriginalError(f"cannot be read ({error.strerror})") from None
    if not data:
        raise OriginalError("an empty file", remedy="copy it again from the card")
    return data


def _filled(file):
    """A file of which LibRaw is not given the pixels, where NumPy has large pages for it.

    To have the system clear small ones takes twice as long as to read."""
    data = memoryview(np.empty(os.fstat(file.fileno()).st_size, np.uint8))
    return data[: file.readinto(data)].toreadonly()


def _decode(path, data, max_pixels):
    if bytes(data[:8]).startswith((JPEG_START, PNG_START)):
        return open_rendered(path, bytes(data), max_pixels)
    claim = _RENDERED.get(path.suffix.lower())
    if claim == "TIFF" and data[:2] in (b"II", b"MM"):
        chain = read_chain(data)
        opener = open_raw if chain and dngtags.is_dng(chain[0]) else open_rendered
        return opener(path, data, max_pixels)
    try:
        return open_raw(path, data, max_pixels)
    except NotRaw as error:
        raise _not_as_named(claim) if claim else error from None


def _check_light(facts, accept_dark):
    """Refuse a raw without light, and a nearly black one unless it was accepted, with a warning."""
    if facts.brightest is None:
        return []
    if facts.brightest <= 0:
        raise OriginalError(
            "every pixel is black: no picture", remedy="copy the file again from the card"
        )
    if not facts.dark:
        return []
    level = f"its brightest pixel is {facts.brightest:.2g} of the white level"
    if not accept_dark:
        raise OriginalError(
            f"nearly black: {level}",
            allowed=f"{DARK:g} or more",
            remedy="the lens cap was on, it was hardly exposed, or LibRaw does not decode its "
            "lossy compression (then convert it to a DNG that is not compressed); "
            "to open it as it is, state --accept-dark",
        )
    return [f"nearly black, and accepted: {level}"]


def _not_as_named(claim):
    return OriginalError(
        f"not a PNG, JPEG, TIFF or raw file: its name says {claim}, its first bytes do not",
        remedy="check that the file is whole, and what it is",
    )
