"""A DNG's pixels: all there, and decoding to the end. LibRaw goes on in silence where they are not.

Structure: DNG 1.7, chapter 4, and TIFF 6.0.
"""

from grading.errors import OriginalError
from grading.files.integrity import dct_jpeg, lossless_jpeg
from grading.files.metadata.dngtags import DNG_VERSION, is_dng, pictures
from grading.files.metadata.tifftags import end_of_pixels, numbers, segments

PLAIN, JPEG = 1, 7
_COMPRESSION, _LOSSY_JPEG = 259, 34892
_WIDTH, _HEIGHT, _BITS, _STRIPS, _SAMPLES = 256, 257, 258, 273, 277


def check_extent(data, directories):
    """Refuse a file whose pixels lie past its end, or are fewer than stated.

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


def check_codes(data, directories):
    """Refuse a DNG whose JPEG, lossless or lossy, is damaged, or in several strips.

    LibRaw decodes only the first strip, and leaves in the others what the memory held.

    Parameters
    ----------
    data, directories
        As `check_extent` takes them.

    Raises
    ------
    OriginalError
    """
    damaged = damaged_segment(data, directories)
    if damaged:
        raise damaged_part(*damaged)
    found = pictures(directories)
    if len(found) == 1 and _STRIPS in found[0] and compression(found[0]) in (JPEG, _LOSSY_JPEG):
        strips = len(segments(found[0]))
        if strips > 1:
            raise OriginalError(
                f"its pixels are {strips} strips of JPEG, of which LibRaw decodes one",
                allowed="one strip, or tiles",
                remedy="convert it to a DNG that is not compressed",
            )


def damaged_part(number, count):
    """The error of the strip or tile of a number, from 1, out of so many."""
    return _damaged(
        f"damaged: part {number} of the {count} parts of its pixels does not decode to the end"
    )


def _damaged(how):
    return OriginalError(f"the file is {how}", remedy="copy it again from the card")


def _missing(picture):
    """How many bytes are missing of pixels that are not compressed."""
    places, bits = segments(picture), numbers(picture, _BITS)
    sizes = [numbers(picture, code) for code in (_WIDTH, _HEIGHT)]
    if compression(picture) != PLAIN or not places or not bits or not all(sizes):
        return 0
    samples = (numbers(picture, _SAMPLES) or [1])[0]
    needed = int(sizes[0][0] * sizes[1][0] * samples * bits[0]) // 8
    return needed - sum(end - start for start, end in places)


def damaged_segment(data, directories):
    """Look for damage in the JPEG, lossless or lossy, of a DNG's pixels.

    Parameters
    ----------
    data, directories
        As `check_extent` takes them.

    Returns
    -------
    tuple of two int, or None
        Number of the first strip or tile that is damaged, from 1, and how many there are.
    """
    long_extra = has_long_extra(directories)
    for picture in pictures(directories):
        if compression(picture) not in (JPEG, _LOSSY_JPEG):
            continue
        places = segments(picture)
        for number, (start, end) in enumerate(places, 1):
            stream = memoryview(data)[start:end]
            if not (lossless_jpeg.is_sound(stream, long_extra) and dct_jpeg.is_sound(stream)):
                return number, len(places)
    return None


def has_long_extra(directories):
    """Whether 16 bits follow a difference of 32768 in lossless JPEG, as in files of DNG 1.0."""
    return any(numbers(each, DNG_VERSION)[:2] == [1, 0] for each in directories)


def compression(picture):
    """The compression of a picture's pixels, by its number (TIFF 6.0, and DNG 1.7, chapter 2)."""
    return (numbers(picture, _COMPRESSION) or [PLAIN])[0]
