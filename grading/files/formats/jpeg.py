"""JPEG of 8 bit; the EXIF block in one segment, the profile in as many as it needs."""

from functools import partial

from grading.errors import OutputError
from grading.files.formats.jpegstrips import encode_in_strips
from grading.files.formats.record import Format
from grading.files.metadata.containers import LONGEST_EXIF, add_to_jpeg
from grading.files.metadata.exif import exif_block

_LONGEST = 65500
"""Side of a JPEG that common decoders take; the format has room for 65535."""


def encode_jpeg(rgb8, icc, exif, quality, srgb=False, workers=None):
    """Encode a baseline JPEG without chroma subsampling.

    Parameters
    ----------
    rgb8 : ndarray, shape (H, W, 3), uint8
        Picture, C-contiguous.
    icc : bytes
        Profile that the codes are meant in.
    exif : tuple of dict, or None
        From `grading.files.metadata.exif.carried_exif`; text is shortened where a JPEG has no room
        for it.
    quality : int
        1 to 100, the scale of the Independent JPEG Group's quantisation tables.
    srgb : bool
        Whether the codes are sRGB, which EXIF then says too.
    workers : int, optional
        Threads.

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
    block = exif_block(exif, width, height, srgb, LONGEST_EXIF) if exif else None
    return add_to_jpeg(encode_in_strips(rgb8, encode, workers), block, icc)


FORMAT = Format("jpeg", ".jpg", 8, encode_jpeg, True, "JPEG")
