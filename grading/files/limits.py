"""How much of an original is read: a small file must not be able to take all memory."""

from grading.errors import OriginalError

MAX_PIXELS = 1_000_000_000
"""Of an original, unless another number is stated."""

LARGEST_PROFILE = 16 << 20
"""Bytes of a colour profile, unpacked."""

MAX_DIRECTORIES = 64
"""Of tags, in a file or an EXIF block."""

MAX_TAGS = 1024
"""In a directory; sound files have some hundred at most."""

MAX_TAG_BYTES = 64 << 20
"""Of memory for the values of all tags that are read together."""

LARGEST_TAG = 16 << 20
"""Bytes of memory for one tag; a larger one, such as another file inside, is left out."""


_MAX_PIXELS_A_BYTE = 1032
"""What Deflate reaches at best (zlib, technical details), and no picture comes near."""


def check_size(width, height, max_pixels, size):
    """Refuse a picture of too many pixels, before it is decoded.

    Parameters
    ----------
    width, height : int
        As the header of the file states them.
    max_pixels : int
    size : int
        Bytes of the file.

    Raises
    ------
    OriginalError
        If there are more, or more than fit into the file, or none.
    """
    if width < 1 or height < 1 or width * height > _MAX_PIXELS_A_BYTE * size:
        raise OriginalError(
            f"its header states {width} x {height} pixels, which the file cannot hold",
            remedy="copy it again; it is damaged",
        )
    if width * height > max_pixels:
        raise OriginalError(
            f"a picture of {width} x {height} pixels",
            allowed=f"up to {max_pixels / 1e6:g} million pixels",
            remedy="if the file is sound and there is memory enough, raise --limit",
        )


def check_profile(size):
    """Refuse a colour profile of too many bytes.

    Raises
    ------
    OriginalError
    """
    if size > LARGEST_PROFILE:
        raise OriginalError(
            f"the embedded colour profile has more than {LARGEST_PROFILE >> 20} MiB",
            allowed=f"profiles of up to {LARGEST_PROFILE >> 20} MiB",
            remedy="export the picture again with a sound profile",
        )
