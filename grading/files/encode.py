"""Outputs as bytes: JPEG of 8 bit and TIFF of 16 bit, with profile and EXIF.

The same input gives the same bytes: nothing of the time or the machine goes in.
"""

import struct

import numpy as np

from grading.files import tiff
from grading.files.containers import add_to_jpeg
from grading.files.metadata import exif_block, output_directories, read_exif
from grading.files.tiff import LONG, SHORT, UNDEFINED, Tag

_STRIP_ROWS = 64
_DEFLATE_LEVEL = 1
_DEFLATE, _HORIZONTAL = 8, 2


def encode_jpeg(rgb8, icc, exif, quality):
    """Encode a baseline JPEG without chroma subsampling.

    Parameters
    ----------
    rgb8 : ndarray, shape (H, W, 3), uint8
        Picture, C-contiguous.
    icc : bytes
        Profile that the codes are meant in.
    exif : bytes or None
        EXIF block of the original (see :func:`grading.files.metadata.exif_block`); its size
        is set to that of the picture.
    quality : int
        1 to 100, the scale of the Independent JPEG Group's quantisation tables.

    Returns
    -------
    bytes
    """
    import imagecodecs

    height, width = rgb8.shape[:2]
    jpeg = imagecodecs.jpeg8_encode(rgb8, level=quality, subsampling="444")
    block = exif_block(read_exif(exif), width, height) if exif else None
    return add_to_jpeg(bytes(jpeg), block, icc)


def encode_tiff(rgb16, icc, exif):
    """Encode a TIFF in strips, losslessly compressed (deflate with horizontal differences).

    Parameters
    ----------
    rgb16 : ndarray, shape (H, W, 3), uint16
        Picture.
    icc : bytes
        Profile that the codes are meant in.
    exif : bytes or None
        EXIF block of the original; its size is set to that of the picture.

    Returns
    -------
    bytes
        Little-endian TIFF 6.0; EXIF and GPS directories as in Exif 2.32, 4.6.3.
    """
    height, width = rgb16.shape[:2]
    main, exif_directory, gps = {}, {}, {}
    if exif:
        main, exif_directory, gps = output_directories(read_exif(exif), width, height)
    strips = [_strip(rgb16[y : y + _STRIP_ROWS]) for y in range(0, height, _STRIP_ROWS)]
    counts = [len(strip) for strip in strips]
    start = 8
    offsets = [start + sum(counts[:i]) for i in range(len(counts))]
    end = start + sum(counts)
    main |= {
        256: Tag(LONG, (width,)),
        257: Tag(LONG, (height,)),
        258: Tag(SHORT, (16, 16, 16)),
        259: Tag(SHORT, (_DEFLATE,)),
        262: Tag(SHORT, (2,)),  # RGB
        273: Tag(LONG, tuple(offsets)),
        274: Tag(SHORT, (1,)),
        277: Tag(SHORT, (3,)),
        278: Tag(LONG, (_STRIP_ROWS,)),
        279: Tag(LONG, tuple(counts)),
        284: Tag(SHORT, (1,)),  # interleaved
        317: Tag(SHORT, (_HORIZONTAL,)),
        34675: Tag(UNDEFINED, icc),
    }
    children = {tiff.EXIF_DIRECTORY: exif_directory, tiff.GPS_DIRECTORY: gps}
    header = struct.pack("<2sHI", b"II", 42, end)
    return b"".join([header, *strips, tiff.write_directories(main, children, base=end)])


def _strip(rows):
    """One compressed strip of even length: differences to the pixel on the left, deflated."""
    import imagecodecs

    differences = np.empty(rows.shape, "<u2")
    differences[:, 0] = rows[:, 0]
    np.subtract(rows[:, 1:], rows[:, :-1], out=differences[:, 1:])
    strip = bytes(imagecodecs.deflate_encode(differences.tobytes(), level=_DEFLATE_LEVEL))
    return strip + b"\0" * (len(strip) % 2)
