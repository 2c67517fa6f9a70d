"""DNGs of lossless JPEG, decoded here: in several threads, and checked for damage by the way.

LibRaw decodes on one thread, decodes of several strips only the first, and passes over most damage.
So it is given the same file with its pixels not compressed. Levels, areas, crops and the table of
linearisation stay what it reads and does. Of a plain Bayer mosaic, compressed or not, it need not
see the counts at all: it is given the file with nothing where its pixels are. Structure: DNG 1.7,
chapter 4, and TIFF 6.0.
"""

import io
import os
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from grading.files.integrity import dng, lossless_jpeg
from grading.files.limits import check_size
from grading.files.metadata.dngtags import pictures
from grading.files.metadata.tifftags import LONG, SHORT, numbers, segments, set_numbers

_WIDTH, _HEIGHT, _BITS, _COMPRESSION, _SAMPLES, _WHITE = 256, 257, 258, 259, 277, 50717
_STRIP_OFFSETS, _STRIP_ROWS, _STRIP_BYTES = 273, 278, 279
_TILE_WIDTH, _TILE_HEIGHT, _TILE_OFFSETS, _TILE_BYTES = 322, 323, 324, 325
_ONE_IF_STATED = (266, 284, 339, 50975, 52547)
"""Order of bits, planes, kind of number, fields of rows and of columns: 1 is the plain way."""
_CFA_SIZE, _CFA, _CFA_COLOURS = 33421, 33422, 50710
_TABLE, _BLACK, _MASKED = 50712, 50714, 50830

_MAX_THREADS = 8
_PAGE = 4096
_LARGEST = (1 << 32) - 1  # byte that a TIFF can name


class _Layout(NamedTuple):
    """Samples of a pixel; rows and columns of samples, of the picture and of its strips or tiles,
    and where these lie in the file."""

    samples: int
    rows: int
    columns: int
    part_rows: int
    part_columns: int
    places: list

    def area(self, number):
        """Top, left, rows and columns of what a part gives the picture."""
        across = -(-self.columns // self.part_columns)
        top, left = number // across * self.part_rows, number % across * self.part_columns
        rows, columns = self.rows - top, self.columns - left
        return top, left, min(rows, self.part_rows), min(columns, self.part_columns)


def unpacked(data, directories, max_pixels):
    """A DNG as LibRaw is to be given it: with its pixels not compressed, or without them.

    Parameters
    ----------
    data : bytes-like
        The file, a DNG or any other.
    directories : list of Directory
        From `grading.files.metadata.tifftags.read_pictures`.
    max_pixels : int
        A picture of more is refused.

    Returns
    -------
    io.BytesIO or None
        None of any other file, and of one that is laid out in a way that is not covered.
    ndarray, shape (rows, columns), uint16 in any order of bytes, or None
        The counts of a plain Bayer mosaic, which LibRaw is not given; of `data` where they are
        there.

    Raises
    ------
    OriginalError
        If the picture is too large, or damaged.
    """
    found = pictures(directories)
    picture = found[0] if len(found) == 1 else {}
    if (counts := _stored_counts(data, picture)) is not None:
        return _without_pixels(data, picture), counts
    layout = _layout(picture)
    if layout is None:
        return None, None
    check_size(layout.columns // layout.samples, layout.rows, max_pixels, len(data))
    headers = _headers(data, directories, layout)
    start = -(-len(data) // _PAGE) * _PAGE
    end = start + 2 * layout.rows * layout.columns
    if end > _LARGEST or not all(_fits(header, layout, n) for n, header in enumerate(headers)):
        return None, None
    if _is_plain_mosaic(picture):
        counts = np.empty((layout.rows, layout.columns), np.uint16)
        _decode(data, layout, headers, counts.ravel())
        return _without_pixels(data, picture), counts
    file = io.BytesIO(bytes(end))
    _write(file.getbuffer(), data, picture, layout, headers, start)
    return file, None


def _is_plain_mosaic(picture):
    """Whether it is a Bayer mosaic whose counts LibRaw would neither change nor learn from."""
    pattern, colours = numbers(picture, _CFA), numbers(picture, _CFA_COLOURS)
    is_bayer = numbers(picture, _CFA_SIZE) == [2, 2] and sorted(pattern) == [0, 1, 1, 2]
    needs_counts = _TABLE in picture or (_MASKED in picture and _BLACK not in picture)
    return is_bayer and colours in ([], [0, 1, 2]) and not needs_counts


def _stored_counts(data, picture):
    """Counts of a plain mosaic that is not compressed and lies in one piece, as the file has them;
    None of any other."""
    places, size = segments(picture), [_whole(picture, code, 0) for code in (_HEIGHT, _WIDTH)]
    plain = dng.compression(picture) == dng.PLAIN and numbers(picture, _BITS) == [16]
    plain &= all(set(numbers(picture, code)) <= {1} for code in (_SAMPLES, *_ONE_IF_STATED))
    if not (plain and places and _is_plain_mosaic(picture)) or _TILE_OFFSETS in picture:
        return None
    in_one = all(before[1] == after[0] for before, after in pairwise(places))
    start, end = places[0][0], places[-1][1]
    if not in_one or end > len(data) or end - start != 2 * size[0] * size[1]:
        return None
    order = ">" if data[:2] == b"MM" else "<"
    return np.frombuffer(data, order + "u2", size[0] * size[1], start).reshape(size)


def _without_pixels(data, picture):
    """The file with zeros for pixels, which to LibRaw are JPEG that ends before it begins."""
    file, start = io.BytesIO(bytes(len(data))), 0
    with file.getbuffer() as copy:
        for first, end in sorted(segments(picture)):
            copy[start:first] = data[start:first]
            start = max(start, end)
        copy[start:] = data[start:]
        set_numbers(copy, picture, {_COMPRESSION: dng.JPEG})
    return file


def _layout(picture):
    """How the pixels of a picture lie in the file; None where LibRaw is to see to it."""
    width, height, samples = (_whole(picture, code, 1) for code in (_WIDTH, _HEIGHT, _SAMPLES))
    bits = numbers(picture, _BITS)
    known = bits == [16] * samples or (len(bits) == samples == 1 and _WHITE in picture)
    plain = all(set(numbers(picture, code)) <= {1} for code in _ONE_IF_STATED)
    tiled = _TILE_OFFSETS in picture
    if not (dng.compression(picture) == dng.JPEG and known and max(bits) <= 16 and plain):
        return None
    if samples not in (1, 3) or (tiled and _STRIP_OFFSETS in picture):
        return None
    part_width = _whole(picture, _TILE_WIDTH, 0) if tiled else width
    part_height = _whole(picture, _TILE_HEIGHT if tiled else _STRIP_ROWS, 0 if tiled else height)
    if min(width, height, part_width, part_height) < 1:
        return None
    places, parts = segments(picture), -(-height // part_height) * -(-width // part_width)
    layout = _Layout(samples, height, width * samples, part_height, part_width * samples, places)
    return layout if len(places) == parts else None


def _whole(picture, code, default):
    """The first value of a tag of whole numbers."""
    tag = picture.get(code)
    return tag.values[0] if tag and tag.kind in (SHORT, LONG) else default


def _headers(data, directories, layout):
    """The header of each part, None for one of another kind."""
    long_extra, headers = dng.has_long_extra(directories), []
    for number, (start, end) in enumerate(layout.places, 1):
        try:
            headers.append(lossless_jpeg.read_header(memoryview(data)[start:end], long_extra))
        except ValueError:
            raise dng.damaged_part(number, len(layout.places)) from None
    return headers


def _fits(header, layout, number):
    """Whether a part holds whole rows of its area, and all of them."""
    if header is None:
        return False
    _, _, rows, _ = layout.area(number)
    held, rest = divmod(header.size, layout.part_columns)
    return rest == 0 and rows <= held <= layout.part_rows


def _write(file, data, picture, layout, headers, start):
    """Write the file, and its pixels once more from `start` on, as one strip or tile."""
    file[: len(data)] = data
    rows, width, size = layout.rows, layout.columns // layout.samples, len(file) - start
    set_numbers(file, picture, {
        **({_BITS: 16} if layout.samples == 1 else {}), _COMPRESSION: 1,
        _STRIP_OFFSETS: start, _STRIP_ROWS: rows, _STRIP_BYTES: size,
        _TILE_OFFSETS: start, _TILE_WIDTH: width, _TILE_HEIGHT: rows, _TILE_BYTES: size,
    })  # fmt: skip
    samples = np.frombuffer(file, np.uint16, offset=start)
    _decode(data, layout, headers, samples)
    if file[:2] == b"MM":
        samples.byteswap(inplace=True)


def _decode(data, layout, headers, samples):
    """Decode every part into the samples of the picture, several at a time."""
    picture = samples.reshape(layout.rows, layout.columns)

    def part_is_sound(number):
        header, (start, end) = headers[number], layout.places[number]
        stream = memoryview(data)[start:end]
        top, left, rows, columns = layout.area(number)
        line = header.size // header.rows
        if line == columns == layout.part_columns and header.rows == rows:
            first = top * layout.columns + left
            return lossless_jpeg.decode(stream, header, samples, first, layout.columns)
        part = np.empty(header.size, np.uint16)
        sound = lossless_jpeg.decode(stream, header, part, 0, line)
        inside = part.reshape(-1, layout.part_columns)[:rows, :columns]
        picture[top : top + rows, left : left + columns] = inside
        return sound

    threads = min(os.cpu_count(), _MAX_THREADS)
    with ThreadPoolExecutor(threads) as pool:
        for number, sound in enumerate(pool.map(part_is_sound, range(len(headers))), 1):
            if not sound:
                pool.shutdown(cancel_futures=True)
                raise dng.damaged_part(number, len(headers))
