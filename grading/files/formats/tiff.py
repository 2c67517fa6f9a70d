"""TIFF of 8 and 16 bit; what EXIF and XMP say, and the profile, are tags of its own directory."""

import struct
from functools import partial

import numpy as np

from grading.colour.profiles import space_of_profile
from grading.errors import OutputError
from grading.files.formats.record import Format, Header
from grading.files.metadata import tifftags
from grading.files.metadata.exif import output_directories
from grading.files.metadata.tifftags import BYTE, LONG, SHORT, UNDEFINED, Tag, write_directories

_HEADER = 8
_LARGEST = (1 << 32) - (1 << 20)
_WIDTH, _HEIGHT, _BITS, _XMP, _PROFILE = 256, 257, 258, 700, 34675


def encode_tiff(codes, icc, exif, quality=None, srgb=False, workers=None, xmp=None):
    """Encode a TIFF, not compressed.

    Deflate with horizontal differences saved 17 % on a photograph and took forty times as long
    as none at its fastest level, longer than the grading itself.

    Parameters
    ----------
    codes : ndarray, shape (H, W, 3) or (H, W), uint8 or uint16
        Picture.
    icc : bytes
        Profile that the codes are meant in.
    exif : tuple of dict, or None
        From `grading.files.metadata.exif.carried_exif`.
    quality : int, optional
        Has no effect, as nothing is lost.
    srgb : bool
        Whether the codes are sRGB, which EXIF then says too.
    workers : int, optional
        Has no effect, as nothing is computed.
    xmp : bytes, optional
        XMP packet, tag 700 (XMP specification part 3).

    Returns
    -------
    bytes
        Little-endian TIFF 6.0; EXIF and GPS directories as in Exif 2.32, 4.6.3.

    Raises
    ------
    OutputError
        If the file would be larger than TIFF can address.
    """
    height, width = codes.shape[:2]
    channels = 1 if codes.ndim == 2 else codes.shape[2]
    order = codes.dtype.newbyteorder("<")
    pixels = memoryview(np.ascontiguousarray(codes, order)).cast("B")
    if len(pixels) > _LARGEST:
        raise OutputError(
            f"a TIFF of {width} x {height} pixels has {len(pixels)} bytes",
            allowed=f"up to {_LARGEST} bytes",
            remedy="deliver a smaller size, or JPEG",
        )
    main, children = output_directories(exif, width, height, srgb) if exif else ({}, {})
    main |= {
        _WIDTH: Tag(LONG, (width,)),
        _HEIGHT: Tag(LONG, (height,)),
        _BITS: Tag(SHORT, (8 * order.itemsize,) * channels),
        259: Tag(SHORT, (1,)),  # no compression
        262: Tag(SHORT, (2 if channels == 3 else 1,)),  # RGB, or black is 0
        273: Tag(LONG, (_HEADER,)),  # one strip: offset, rows, bytes
        274: Tag(SHORT, (1,)),  # upright
        277: Tag(SHORT, (channels,)),
        278: Tag(LONG, (height,)),
        279: Tag(LONG, (len(pixels),)),
        284: Tag(SHORT, (1,)),  # interleaved
        _PROFILE: Tag(UNDEFINED, icc),
    }
    if xmp:
        main[_XMP] = Tag(BYTE, xmp)
    end = _HEADER + len(pixels) + len(pixels) % 2
    header = struct.pack("<2sHI", b"II", 42, end)
    fill = bytes(len(pixels) % 2)
    return b"".join([header, pixels, fill, write_directories(main, children, base=end)])


def _encode(codes, attached, quality, workers=None):
    of_file = attached.icc, attached.exif, quality, attached.is_srgb, workers, attached.xmp
    return encode_tiff(codes, *of_file)


def _read_header(file):
    chain = tifftags.read_chain(file.read())
    sides = [tifftags.numbers(chain[0], code) for code in (_WIDTH, _HEIGHT, _BITS)] if chain else []
    if not (sides and all(sides)):
        return None
    profile, xmp = (chain[0].get(code) for code in (_PROFILE, _XMP))
    space = space_of_profile(profile and profile.values)
    return Header(*(int(each[0]) for each in sides), space, xmp and xmp.values)


_record = partial(
    Format, suffix=".tif", encode=_encode, has_quality=False, read_header=_read_header
)
EIGHT_BIT = _record("tiff8", bits=8)
FORMAT = _record("tiff", bits=16)
