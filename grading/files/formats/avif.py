"""AVIF of 10 bit without chroma subsampling; the colour is stated by code points (ITU-T H.273).

AVIF: AV1 Image File Format 1.1; colr, ispe and pixi boxes: ISO/IEC 23008-12, 6.5.
"""

import struct

from grading.colour.profiles import CODE_POINTS, GREY
from grading.errors import OutputError
from grading.files.formats.record import Format, Header
from grading.files.metadata.boxes import add_items, boxes, content_of, inside_meta, item
from grading.files.metadata.exif import exif_block

_LONGEST = 65536
_SPEED = 8
"""Of the encoder, 0 to 10."""

_MATRIX = 6
"""From RGB to brightness and two colour differences: ITU-R BT.601, as that of sYCC."""

_POINTS = CODE_POINTS | {GREY: CODE_POINTS["srgb"]}


def encode_avif(codes, attached, quality, workers=None):
    """Encode an AVIF.

    Parameters
    ----------
    codes : ndarray, shape (H, W, 3) or (H, W), uint16
        0 to 1023.
    attached : Attached
    quality : int
        1 to 100; at 100 some codes are off by one. Grey is coded without loss at any quality, as
        the encoder at hand does it.
    workers : int, optional
        Has no effect: the bytes would depend on it.

    Returns
    -------
    bytes

    Raises
    ------
    OutputError
        If a side is longer than AV1 has room for.
    """
    import imagecodecs

    height, width = codes.shape[:2]
    if max(height, width) > _LONGEST:
        raise OutputError(
            f"an AVIF of {width} x {height} pixels",
            allowed=f"sides of up to {_LONGEST} pixels",
            remedy="deliver a smaller size, or TIFF",
        )
    primaries, transfer = _POINTS[attached.space]
    data = imagecodecs.avif_encode(
        codes, quality, speed=_SPEED, bitspersample=10, pixelformat="444", primaries=primaries,
        transfer=transfer, matrix=_MATRIX, numthreads=1,
    )  # fmt: skip
    exif = attached.exif
    block = exif_block(exif, width, height, attached.is_srgb) if exif else None
    return add_items(bytes(data), block, attached.xmp)


def _read_header(file):
    data = file.read()
    if content_of(boxes(data), b"ftyp")[:4] != b"avif":
        return None
    properties = boxes(content_of(boxes(content_of(inside_meta(data), b"iprp")), b"ipco"))
    size, depth, colour = (content_of(properties, name) for name in (b"ispe", b"pixi", b"colr"))
    if len(size) < 12 or len(depth) < 6:
        return None
    width, height = struct.unpack_from(">II", size, 4)
    space = _space(colour, channels=depth[4])
    return Header(width, height, depth[5], space, item(data, b"mime"))


def _space(colour, channels):
    """Name of the space of a colr box with code points and the full range of codes."""
    if colour[:4] != b"nclx" or len(colour) != 11 or not colour[10] & 0x80:
        return None
    points = struct.unpack_from(">HH", colour, 4)
    names = [GREY] if channels == 1 else list(CODE_POINTS)
    return next((name for name in names if _POINTS[name] == points), None)


FORMAT = Format("avif", ".avif", 10, encode_avif, True, _read_header, tuple(_POINTS))
