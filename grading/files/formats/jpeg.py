"""JPEG of 8 bit; EXIF and XMP in a segment each, the profile in as many as it needs."""

import struct
from functools import partial

from grading.colour.profiles import space_of_profile
from grading.errors import OutputError
from grading.files.formats.jpegstrips import encode_in_strips
from grading.files.formats.record import Format, Header
from grading.files.metadata.containers import (
    JPEG_START,
    LONGEST_EXIF,
    add_to_jpeg,
    jpeg_profile,
    jpeg_segments,
    jpeg_xmp,
)
from grading.files.metadata.exif import exif_block
from grading.files.metadata.label import density

_LONGEST = 65500
"""Side of a JPEG that common decoders take; the format has room for 65535."""

_FRAMES = (0xC0, 0xC1, 0xC2)


def encode_jpeg(codes, icc, exif, quality, srgb=False, workers=None, xmp=None):
    """Encode a baseline JPEG without chroma subsampling.

    Parameters
    ----------
    codes : ndarray, shape (H, W, 3) or (H, W), uint8
        Picture, C-contiguous.
    icc : bytes
        Profile that the codes are meant in.
    exif : tuple of dict, or None
        From `grading.files.metadata.exif.carried_exif`; text is shortened where a JPEG has no room
        for it. A density that it states goes into the JFIF header too.
    quality : int
        1 to 100, the scale of the Independent JPEG Group's quantisation tables.
    srgb : bool
        Whether the codes are sRGB, which EXIF then says too.
    workers : int, optional
        Threads.
    xmp : bytes, optional
        XMP packet.

    Returns
    -------
    bytes

    Raises
    ------
    OutputError
        If a side is longer than decoders take, or the packet than a JPEG has room for.
    """
    import imagecodecs

    height, width = codes.shape[:2]
    if max(height, width) > _LONGEST:
        raise OutputError(
            f"a JPEG of {width} x {height} pixels",
            allowed=f"sides of up to {_LONGEST} pixels",
            remedy="deliver a smaller size, or TIFF",
        )
    encode = partial(imagecodecs.jpeg8_encode, level=quality, subsampling="444")
    block = exif_block(exif, width, height, srgb, LONGEST_EXIF) if exif else None
    return add_to_jpeg(encode_in_strips(codes, encode, workers), block, icc, xmp, density(exif))


def _encode(codes, attached, quality, workers=None):
    of_file = attached.icc, attached.exif, quality, attached.is_srgb, workers, attached.xmp
    return encode_jpeg(codes, *of_file)


def _read_header(file):
    data = file.read()
    if not data.startswith(JPEG_START):
        return None
    segments = jpeg_segments(data)
    frame = next((each.payload for each in segments if each.marker in _FRAMES), b"")
    if len(frame) < 5:
        return None
    bits, height, width = struct.unpack_from(">BHH", frame)
    space = space_of_profile(jpeg_profile(segments))
    return Header(width, height, bits, space, jpeg_xmp(segments))


FORMAT = Format("jpeg", ".jpg", 8, _encode, True, _read_header)
