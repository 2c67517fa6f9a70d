"""What an original says about its capture, and the EXIF block that outputs carry on.

Tag codes and meanings: Exif 2.32 (CIPA DC-008), tables 3 to 15.
"""

import mmap
import os
from datetime import datetime

from grading.errors import OriginalError
from grading.files.metadata import tifftags
from grading.files.metadata.containers import LONGEST_EXIF, exif_blocks
from grading.files.metadata.tifftags import ASCII, LONG, SHORT, UNDEFINED, Tag
from grading.frame import Capture
from grading.regular_file import open_regular

MAKE, MODEL, ORIENTATION, DATE_TIME = 271, 272, 274, 306
EXPOSURE_TIME, F_NUMBER, ISO_SPEED, FOCAL_LENGTH, LENS_MODEL = 33434, 33437, 34855, 37386, 42036
FOCAL_LENGTH_FULL_FRAME = 41989
BODY_SERIAL_NUMBER, CAMERA_SERIAL_NUMBER = 42033, 50735
"""The first of Exif 2.32, the other in the main directory of a DNG (DNG specification 1.6)."""
DATE_ORIGINAL, OFFSET_ORIGINAL, SUBSECONDS_ORIGINAL = 36867, 36881, 37521
EXIF_VERSION, COLOUR_SPACE, WIDTH, HEIGHT = 36864, 40961, 40962, 40963
SRGB, UNCALIBRATED = 1, 65535

_MAIN_KEPT = {270, MAKE, MODEL, DATE_TIME, 315, 33432}  # 270 description, 315 artist, copyright
_EXIF_KEPT = {
    EXPOSURE_TIME, F_NUMBER, 34850, ISO_SPEED, 34864, 34865, 34866,  # programme, sensitivity
    DATE_ORIGINAL, 36868, 36880, OFFSET_ORIGINAL, 36882, 37520, SUBSECONDS_ORIGINAL, 37522,
    37377, 37378, 37379, 37380, 37381, 37382, 37383, 37384, 37385, FOCAL_LENGTH,  # APEX … focal
    41486, 41487, 41488, 41495, 41986, 41987, 41988, 41989, 41990,  # focal plane … scene type
    42034, 42035, LENS_MODEL,
}  # fmt: skip
_SHORTEST_ISO_DATE = "0000:00:00 00:00:00"


def read_exif(data):
    """Read the main, EXIF and GPS directories of an original.

    Parameters
    ----------
    data : bytes-like
        The whole file, or an EXIF block from its TIFF header.

    Returns
    -------
    main, exif, gps : dict
        Empty where the file has none.
    """
    main, exif, gps = {}, {}, {}
    separate = (main, exif, gps)
    for block, directory in zip(exif_blocks(data), separate, strict=False):
        chain = tifftags.read_chain(block)
        if not chain:
            continue
        directory.update(chain[0])
        for pointer, child in ((tifftags.EXIF_DIRECTORY, exif), (tifftags.GPS_DIRECTORY, gps)):
            for found in tifftags.read_children(block, chain[0], pointer):
                child.update(found)
    return separate


def read_capture(path):
    """Facts of capture of an original, read without decoding it.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Capture

    Raises
    ------
    OriginalError
        If the file cannot be read.
    """
    try:
        with open_regular(path) as file:
            if not os.fstat(file.fileno()).st_size:
                return Capture()
            with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
                return capture_facts(read_exif(data))
    except OSError as error:
        raise OriginalError(f"cannot be read ({error.strerror})", place=path) from None


def capture_facts(directories):
    """Facts of capture from the directories of :func:`read_exif`, as a Capture."""
    main, exif, gps = directories
    return Capture(
        make=_text(main, MAKE),
        model=_text(main, MODEL),
        lens=_text(exif, LENS_MODEL),
        time=_time(main, exif),
        shutter=_positive(exif, EXPOSURE_TIME),
        aperture=_positive(exif, F_NUMBER),
        iso=_positive(exif, ISO_SPEED),
        focal_length=_positive(exif, FOCAL_LENGTH),
        latitude=_degrees(gps, reference=1, value=2, negative="S", limit=90),
        longitude=_degrees(gps, reference=3, value=4, negative="W", limit=180),
        focal_length_full_frame=_positive(exif, FOCAL_LENGTH_FULL_FRAME),
        serial=_text(exif, BODY_SERIAL_NUMBER) or _text(main, CAMERA_SERIAL_NUMBER),
    )


def carried_exif(directories):
    """What outputs carry on of an original: the facts of capture.

    Maker notes, thumbnails, serial numbers and everything else that describes the original file
    rather than the capture stay behind.

    Parameters
    ----------
    directories : tuple of dict
        From :func:`read_exif`.

    Returns
    -------
    tuple of dict
        The main, EXIF and GPS directories.
    list of str
        Warnings about them.
    """
    main, exif, gps = directories
    carried = (
        {code: tag for code, tag in main.items() if code in _MAIN_KEPT},
        {code: tag for code, tag in exif.items() if code in _EXIF_KEPT},
        {code: tag for code, tag in gps.items() if code <= 31},
    )
    if tifftags.block_size(*output_directories(carried, 1, 1)) <= LONGEST_EXIF:
        return carried, []
    return carried, ["its EXIF text is longer than a JPEG can carry; in a JPEG it is shortened"]


def output_directories(carried, width, height, srgb=False):
    """What an output says of itself, added to what it carries on.

    Parameters
    ----------
    carried : tuple of dict
        From :func:`carried_exif`.
    width, height : int
        Size of the picture in pixels; it is upright.
    srgb : bool
        Whether its codes are sRGB, the one space that EXIF has a number for (Exif 2.32, 4.6.5).

    Returns
    -------
    main : dict
    children : dict
        The EXIF and GPS directories by the code of the tag that points to each.
    """
    main, exif, gps = carried
    stated = {
        EXIF_VERSION: Tag(UNDEFINED, b"0232"),
        COLOUR_SPACE: Tag(SHORT, (SRGB if srgb else UNCALIBRATED,)),
        WIDTH: Tag(LONG, (width,)),
        HEIGHT: Tag(LONG, (height,)),
    }
    children = {tifftags.EXIF_DIRECTORY: exif | stated, tifftags.GPS_DIRECTORY: dict(gps)}
    return main | {ORIENTATION: Tag(SHORT, (1,))}, children


def exif_block(carried, width, height, srgb=False, longest=None):
    """The EXIF block of an output.

    Parameters
    ----------
    carried, width, height, srgb
        As :func:`output_directories` takes them.
    longest : int, optional
        Bytes that there is room for; the longest values are shortened to fit.

    Returns
    -------
    bytes
        Little-endian, from its TIFF header ``II*\0`` (no ``Exif\0\0`` before it).
    """
    main, children = output_directories(carried, width, height, srgb)
    while longest and (excess := tifftags.block_size(main, children) - longest) > 0:
        _shorten_longest((main, *children.values()), excess)
    return tifftags.write_block(main, children)


def _shorten_longest(directories, excess):
    """Cut the longest text by the excess, or by half if that is less; another value goes."""
    values = [(tag.size, code, d) for d in directories for code, tag in d.items()]
    size, code, directory = max(values, key=lambda value: value[:2])
    tag = directory.pop(code)
    if tag.kind == ASCII:
        kept = tag.values.encode("utf-8")[: max(size // 2, size - excess) - 1]
        directory[code] = Tag(ASCII, kept.decode("utf-8", "ignore"))


def orientation(directories):
    """EXIF orientation, 1 to 8; 1 where the file does not say or says something else."""
    value = _positive(directories[0], ORIENTATION)
    return int(value) if value in range(1, 9) else 1


def says_srgb(directories):
    """Whether the EXIF colour space is sRGB."""
    return _positive(directories[1], COLOUR_SPACE) == SRGB


def _text(directory, code):
    return (directory[code].text or None) if code in directory else None


def _positive(directory, code):
    values = tifftags.numbers(directory, code)
    return values[0] if values and values[0] > 0 else None


def _time(main, exif):
    """Capture time in ISO 8601, or ``None``; files write ``0000:…`` or blanks for unknown."""
    text = _text(exif, DATE_ORIGINAL) or _text(main, DATE_TIME) or ""
    try:
        time = datetime.strptime(text[: len(_SHORTEST_ISO_DATE)], "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    subseconds = _text(exif, SUBSECONDS_ORIGINAL) or ""
    fraction = f".{subseconds}" if subseconds.isdecimal() else ""
    stated = f"{time.isoformat()}{fraction}{_text(exif, OFFSET_ORIGINAL) or ''}"
    try:
        datetime.fromisoformat(stated)
    except ValueError:
        return time.isoformat()
    return stated


def _degrees(gps, *, reference, value, negative, limit):
    """Signed degrees from degrees, minutes and seconds, or ``None``."""
    parts = tifftags.numbers(gps, value)
    sign = _text(gps, reference)
    if len(parts) != 3 or sign is None:
        return None
    degrees = parts[0] + parts[1] / 60 + parts[2] / 3600
    if not 0 <= degrees <= limit:
        return None
    return -degrees if sign.upper().startswith(negative) else degrees
