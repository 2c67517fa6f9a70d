"""TIFF directories, read and written: the structure that EXIF, DNG and most raw files share.

A directory is a dict from tag code to :class:`Tag`; one that was read is a :class:`Directory`.
Values keep the type they have in the file, so what is read can be written again without loss.
Structure: TIFF 6.0, section 2.
"""

import struct
from typing import NamedTuple

from grading.errors import OriginalError
from grading.files.limits import LARGEST_TAG, MAX_DIRECTORIES, MAX_TAG_BYTES, MAX_TAGS

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL = 1, 2, 3, 4, 5, 7, 10

SUB_DIRECTORIES, EXIF_DIRECTORY, GPS_DIRECTORY = 330, 34665, 34853

_FORMATS = {
    1: "B", 2: "s", 3: "H", 4: "I", 5: "II", 6: "b", 7: "s", 8: "h", 9: "i", 10: "ii",
    11: "f", 12: "d", 13: "I",
}  # fmt: skip
_BYTES = (BYTE, ASCII, UNDEFINED)  # a byte each in memory too
_SIZES = {kind: struct.calcsize("<" + letters) for kind, letters in _FORMATS.items()}
_MAGIC_NUMBERS = (42, 85, 0x4F52, 0x5352)  # TIFF, and what some raw files put in its place
_NUMBER = 80  # bytes of memory for one in a tuple, or a pair


class Tag(NamedTuple):
    """One entry of a directory.

    Attributes
    ----------
    kind : int
        TIFF field type, 1 to 13.
    values : tuple or str or bytes
        ``str`` for ASCII, ``bytes`` for BYTE and UNDEFINED, else a tuple of numbers, of
        ``(numerator, denominator)`` pairs for rationals.
    order : str
        Byte order of the file as `struct` spells it, for numbers inside UNDEFINED.
    """

    kind: int
    values: tuple | str | bytes
    order: str = "<"

    @property
    def numbers(self):
        """The values as a list of floats; empty for text and where a denominator is 0."""
        if self.kind in (ASCII, UNDEFINED):
            return []
        if self.kind not in (RATIONAL, SRATIONAL):
            return [float(value) for value in self.values]
        if any(denominator == 0 for _, denominator in self.values):
            return []
        return [numerator / denominator for numerator, denominator in self.values]

    @property
    def size(self):
        """Bytes that the values take in a file."""
        if self.kind == ASCII:
            return len(self.values.encode("utf-8")) + 1
        return len(self.values) * _SIZES[self.kind]

    @property
    def text(self):
        """ASCII values as text without surrounding blanks; empty for any other type."""
        return self.values.strip() if self.kind == ASCII else ""


class Directory(dict):
    """A directory that was read, and where in the file it begins."""

    start = 0


def read_chain(data):
    """Read the chain of main directories.

    Parameters
    ----------
    data : bytes-like
        A TIFF file or block, from its first byte.

    Returns
    -------
    list of Directory
        The directories in order; empty if ``data`` is no TIFF. Entries that point outside
        ``data`` are left out, as a damaged tag must not hide the sound ones; so is what
        exceeds the limits of directories, of their tags and of one tag in
        `grading.files.limits`.

    Raises
    ------
    OriginalError
        If the tags together hold more than `MAX_TAG_BYTES`.
    """
    return _Reader(data).chain()


def read_children(data, directory, pointer):
    """Read the directories that the tag ``pointer`` of ``directory`` points to, as a list."""
    return _Reader(data).children(directory, pointer)


def read_pictures(data):
    """Read every directory that may describe a picture: the main chain and its sub-directories."""
    reader = _Reader(data)
    chain = reader.chain()
    return chain + [child for d in chain for child in reader.children(d, SUB_DIRECTORIES)]


def segments(directory):
    """First and last + 1 byte of each strip or tile of a picture, a list of pairs."""
    for codes in ((273, 279), (324, 325)):
        tags = [directory[code] for code in codes if code in directory]
        if [tag.kind in (SHORT, LONG) for tag in tags] == [True, True]:
            pairs = zip(tags[0].values, tags[1].values, strict=False)
            return [(offset, offset + count) for offset, count in pairs]
    return []


def numbers(directory, code):
    """The values of a tag as a list of floats; empty where there is none, or it is no number."""
    return directory[code].numbers if code in directory else []


def end_of_pixels(directories):
    """Offset just past the last byte of any strip or tile that is named, 0 if none."""
    return max((end for d in directories for _, end in segments(d)), default=0)


def set_numbers(file, directory, values):
    """Change tags of a directory in place, each to one number.

    Parameters
    ----------
    file : bytearray or memoryview
        The file that it was read from, or a copy.
    directory : Directory
    values : dict
        Tag code to a whole number of at most 32 bits; what the directory lacks stays out.
    """
    order = _byte_order(file)
    (entries,) = struct.unpack_from(order + "H", file, directory.start)
    for place in range(directory.start + 2, directory.start + 2 + 12 * entries, 12):
        (code,) = struct.unpack_from(order + "H", file, place)
        if code in values:
            struct.pack_into(order + "HII", file, place + 2, LONG, 1, values[code])


def write_directories(main, children, base=0):
    """Serialise a little-endian directory with the directories it points to.

    Parameters
    ----------
    main : dict
        The main directory, without the pointers to ``children``.
    children : dict
        Pointer tag code to directory, such as ``{EXIF_DIRECTORY: {…}}``; empty ones are left
        out.
    base : int
        Offset in the file at which the returned bytes will stand; even.

    Returns
    -------
    bytes
        Of even length.
    """
    children = {pointer: child for pointer, child in children.items() if child}
    place, pointers = base + _directory_size(main) + 12 * len(children), {}
    for pointer, child in children.items():
        pointers[pointer] = Tag(LONG, (place,))
        place += _directory_size(child)
    blocks = [_write_directory(child, pointers[code].values[0]) for code, child in children.items()]
    return b"".join([_write_directory(main | pointers, base), *blocks])


def write_block(main, children):
    """A whole little-endian TIFF block (header and directories), as EXIF is carried in files."""
    return struct.pack("<2sHI", b"II", 42, 8) + write_directories(main, children, base=8)


def block_size(main, children):
    """How many bytes `write_block` gives."""
    filled = [child for child in children.values() if child]
    return 8 + 12 * len(filled) + sum(map(_directory_size, [main, *filled]))


def _directory_size(directory):
    """Bytes of a directory; values of more than 4 follow its entries, at even places."""
    sizes = [tag.size for tag in directory.values()]
    return 6 + 12 * len(sizes) + sum(size + size % 2 for size in sizes if size > 4)


def _byte_order(data):
    """That of a TIFF header, or of a raw file's variant of it; None if ``data`` is neither."""
    order = {b"II": "<", b"MM": ">"}.get(bytes(data[:2])) if len(data) >= 8 else None
    known = order and struct.unpack_from(order + "H", data, 2)[0] in _MAGIC_NUMBERS
    return order if known else None


class _Reader:
    """Reads directories of one file, and counts what they take."""

    def __init__(self, data):
        self.data = data
        self.order = _byte_order(data)
        self.directories, self.bytes = 0, 0

    def chain(self):
        if self.order is None:
            return []
        (offset,) = struct.unpack_from(self.order + "I", self.data, 4)
        chain, seen = [], set()
        while offset and offset not in seen and self.directories < MAX_DIRECTORIES:
            seen.add(offset)
            directory, offset = self.directory(offset)
            chain.append(directory)
        return chain

    def children(self, directory, pointer):
        if pointer not in directory or directory[pointer].kind not in (LONG, 13):
            return []
        offsets = directory[pointer].values[: MAX_DIRECTORIES - self.directories]
        return [self.directory(offset)[0] for offset in offsets]

    def directory(self, offset):
        """A directory, and where the next one of its chain begins."""
        data, order, directory = self.data, self.order, Directory()
        directory.start = offset
        self.directories += 1
        if offset + 2 > len(data):
            return directory, 0
        (entries,) = struct.unpack_from(order + "H", data, offset)
        if entries > MAX_TAGS:
            return directory, 0
        end = offset + 2 + 12 * entries
        for start in range(offset + 2, min(end, len(data) - 11), 12):
            code, kind, count = struct.unpack_from(order + "HHI", data, start)
            size = _SIZES.get(kind, 0) * count
            place = start + 8 if size <= 4 else struct.unpack_from(order + "I", data, start + 8)[0]
            taken = size if kind in _BYTES else _NUMBER * count
            if size and place + size <= len(data) and taken <= LARGEST_TAG:
                self._take(taken)
                directory[code] = Tag(kind, _read_values(data, place, kind, count, order), order)
        following = struct.unpack_from(order + "I", data, end)[0] if end + 4 <= len(data) else 0
        return directory, following

    def _take(self, size):
        self.bytes += size
        if self.bytes > MAX_TAG_BYTES:
            raise OriginalError(
                f"its tags hold more than {MAX_TAG_BYTES >> 20} MiB",
                allowed=f"tags of up to {MAX_TAG_BYTES >> 20} MiB together",
                remedy="copy the file again; it is damaged, or was made to fill the memory",
            )


def _read_values(data, place, kind, count, order):
    if kind == ASCII:
        return bytes(data[place : place + count]).split(b"\0")[0].decode("utf-8", "replace")
    if kind in _BYTES:
        return bytes(data[place : place + count])
    letters = _FORMATS[kind]
    values = struct.unpack_from(f"{order}{count * len(letters)}{letters[0]}", data, place)
    if kind in (RATIONAL, SRATIONAL):
        return tuple(zip(values[::2], values[1::2], strict=True))
    return values


def _write_directory(directory, base):
    """Bytes of one directory standing at ``base``: entries first, then what exceeds 4 bytes."""
    entries = [struct.pack("<H", len(directory))]
    place = base + 2 + 12 * len(directory) + 4
    extra = []
    for code in sorted(directory):
        kind, values, _ = directory[code]
        payload = _pack_values(kind, values)
        head = struct.pack("<HHI", code, kind, len(payload) // _SIZES[kind])
        if len(payload) <= 4:
            entries.append(head + payload.ljust(4, b"\0"))
            continue
        entries.append(head + struct.pack("<I", place))
        extra.append(payload + b"\0" * (len(payload) % 2))
        place += len(extra[-1])
    return b"".join([*entries, struct.pack("<I", 0), *extra])


def _pack_values(kind, values):
    if kind == ASCII:
        return values.encode("utf-8") + b"\0"
    if kind in _BYTES:
        return bytes(values)
    if kind in (RATIONAL, SRATIONAL):
        values = [number for pair in values for number in pair]
    return struct.pack(f"<{len(values)}{_FORMATS[kind][0]}", *values)
