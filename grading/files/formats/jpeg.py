"""Outputs as bytes: JPEG of 8 bit and TIFF of 16 bit, with profile and EXIF.

The same input gives the same bytes: nothing of the time or the machine goes in.
"""

import struct
from functools import partial

import numpy as np

from grading.errors import OutputError
from grading.files.formats.jpegstrips import encode_in_strips
from grading.files.metadata import tifftags
from grading.files.metadata.containers import LONGEST_EXIF, add_to_jpeg
from grading.files.metadata.exif import exif_block, output_directories, read_exif
from grading.files.metadata.tifftags import LONG, SHORT, UNDEFINED, Tag

_HEADER = 8
_LARGEST = (1 << 32) - (1 << 20)
_LONGEST = 65500
"""Side of a JPEG that common decoders take; the format has room for 65535."""


def encode_jpeg(rgb8, icc, exif, quality, srgb=False):
    """Encode a baseline JPEG without chroma subsampling.

    Parameters
    ----------
    rgb8 : ndarray, shape (H, W, 3), uint8
        Picture, C-contiguous.
    icc : bytes
        Profile that the codes are meant in.
    exif : bytes or None
        EXIF block of the original (see :func:`grading.files.metadata.exif.exif_block`); its size
        is set to that of the picture, and text is shortened where a JPEG has no room for it.
    quality : int
        1 to 100, the scale of the Independent JPEG Group's quantisation tables.
    srgb : bool
        Whether the codes are sRGB, which EXIF then says too.

    Returns
    -------
    bytes

    Raises
    ------
    OutputError
        If a side is longer than decoders take.
    """
    import imagecodecs

    height, width = rgb8.shape[:2]
    if max(height, width) > _LONGEST:
        raise OutputError(
            f"a JPEG of {width} x {height} pixels",
            allowed=f"sides of up to {_LONGEST} pixels",
            remedy="deliver a smaller size, or TIFF",
        )
    encode = partial(imagecodecs.jpeg8_encode, level=quality, subsampling="444")
    block = exif_block(read_exif(exif), width, height, srgb, LONGEST_EXIF) if exif else None
    return add_to_jpeg(encode_in_strips(rgb8, encode), block, icc)


def encode_tiff(rgb16, icc, exif, srgb=False):
    """Encode a TIFF, not compressed.

    Deflate with horizontal differences saved 17 % on a photograph and took forty times as long
    as none at its fastest level, longer than the grading itself.

    Parameters
    ----------
    rgb16 : ndarray, shape (H, W, 3), uint16
        Picture.
    icc : bytes
        Profile that the codes are meant in.
    exif : bytes or None
        EXIF block of the original; its size is set to that of the picture.
    srgb : bool
        Whether the codes are sRGB, which EXIF then says too.

    Returns
    -------
    bytes
        Little-endian TIFF 6.0; EXIF and GPS directories as in Exif 2.32, 4.6.3.

    Raises
    ------
    OutputError
        If the file would be larger than TIFF can address.
    """
    height, width = rgb16.shape[:2]
    pixels = memoryview(np.ascontiguousarray(rgb16, "<u2")).cast("B")
    if len(pixels) > _LARGEST:
        raise OutputError(
            f"a TIFF of {width} x {height} pixels has {len(pixels)} bytes",
            allowed=f"up to {_LARGEST} bytes",
            remedy="deliver a smaller size, or JPEG",
        )
    main, exif_directory, gps = {}, {}, {}
    if exif:
        main, exif_directory, gps = output_directories(read_exif(exif), width, height, srgb)
    main |= {
        256: Tag(LONG, (width,)),
        257: Tag(LONG, (height,)),
        258: Tag(SHORT, (16, 16, 16)),  # bits per sample
        259: Tag(SHORT, (1,)),  # no compression
        262: Tag(SHORT, (2,)),  # RGB
        273: Tag(LONG, (_HEADER,)),  # one strip: offset, rows, bytes
        274: Tag(SHORT, (1,)),  # upright
        277: Tag(SHORT, (3,)),  # samples per pixel
        278: Tag(LONG, (height,)),
        279: Tag(LONG, (len(pixels),)),
        284: Tag(SHORT, (1,)),  # interleaved
        34675: Tag(UNDEFINED, icc),
    }
    end = _HEADER + len(pixels)
    children = {tifftags.EXIF_DIRECTORY: exif_directory, tifftags.GPS_DIRECTORY: gps}
    header = struct.pack("<2sHI", b"II", 42, end)
    return b"".join([header, pixels, tifftags.write_directories(main, children, base=end)])
