"""A DNG's pixels: all there, and decoding to the end. LibRaw goes on in silence where they are not.

Structure: DNG 1.7, chapter 4, and TIFF 6.0.
"""

from grading.errors import OriginalError
from grading.files.integrity import dct_jpeg, lossless_jpeg
from grading.files.metadata.dngtags import DNG_VERSION, is_dng, pictures
from grading.files.metadata.tifftags import end_of_pixels, numbers, segments

_COMPRESSION, _PLAIN, _JPEG, _LOSSY_JPEG = 259, 1, 7, 34892
_WIDTH, _HEIGHT, _BITS, _SAMPLES = 256, 257, 258, 277


def check_pixels(data, directories):
    """Refuse a file whose pixels lie past its end, are fewer than stated, or are damaged.

    Parameters
    ----------
    data : bytes-like
        The file, a DNG or any other.
    directories : list of dict
        From `grading.files.metadata.tifftags.read_pictures`.

    Raises
    ------
    OriginalError
    """
    end = end_of_pixels(directories)
    if directories and is_dng(directories[0]) and end > len(data):
        raise _damaged(f"cut off: its pixels end at byte {end}, the file at {len(data)}")
    missing = max(map(_missing, pictures(directories)), default=0)
    if missing > 0:
        raise _damaged(f"damaged: {missing} bytes of its pixels are missing")
    check_segments(data, directories)


def _damaged(how):
    return OriginalError(f"the file is {how}", remedy="copy it again from the card")


def _missing(picture):
    """How many bytes are missing of pixels that are not compressed."""
    places, bits = segments(picture), numbers(picture, _BITS)
    sizes = [numbers(picture, code) for code in (_WIDTH, _HEIGHT)]
    if _compression(picture) != _PLAIN or not places or not bits or not all(sizes):
        return 0
    samples = (numbers(picture, _SAMPLES) or [1])[0]
    needed = int(sizes[0][0] * sizes[1][0] * samples * bits[0]) // 8
    return needed - sum(end - start for start, end in places)


def check_segments(data, directories):
    """Refuse damage in the JPEG, lossless or lossy, of a DNG's strips or tiles.

    Parameters
    ----------
    data, directories
        As `check_pixels` takes them.

    Raises
    ------
    OriginalError
    """
    long_extra = any(numbers(each, DNG_VERSION)[:2] == [1, 0] for each in directories)
    compressed = [d for d in pictures(directories) if _compression(d) in (_JPEG, _LOSSY_JPEG)]
    for places in map(segments, compressed):
        for number, (start, end) in enumerate(places, 1):
            stream = memoryview(data)[start:end]
            if not (lossless_jpeg.is_sound(stream, long_extra) and dct_jpeg.is_sound(stream)):
                raise _damaged(
                    f"damaged: part {number} of the {len(places)} parts of its pixels"
                    " does not decode to the end"
                )


def _compression(picture):
    return (numbers(picture, _COMPRESSION) or [_PLAIN])[0]
