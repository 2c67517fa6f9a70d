"""A small DNG writer: Bayer mosaics and linear pictures, with EXIF and GPS.

The whole TIFF structure (header, picture segments, EXIF and GPS directories, first directory)
is written by one directory builder, so every offset is known before it is stated. Tag numbers,
types and meanings follow the DNG specification 1.4 and Exif 2.31.
"""

import struct
from dataclasses import dataclass
from fractions import Fraction

import imagecodecs
import numpy as np

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL = 1, 2, 3, 4, 5, 7, 10
ILLUMINANTS = {"A": 17, "D55": 20, "D65": 21, "D75": 22, "D50": 23}
EXIF_TAGS = {
    "ExposureTime": (33434, RATIONAL),
    "FNumber": (33437, RATIONAL),
    "ExposureProgram": (34850, SHORT),
    "ISOSpeedRatings": (34855, SHORT),
    "ExifVersion": (36864, UNDEFINED),
    "DateTimeOriginal": (36867, ASCII),
    "DateTimeDigitized": (36868, ASCII),
    "OffsetTimeOriginal": (36881, ASCII),
    "ExposureBiasValue": (37380, SRATIONAL),
    "MeteringMode": (37383, SHORT),
    "FocalLength": (37386, RATIONAL),
    "FocalLengthIn35mmFilm": (41989, SHORT),
    "LensSpecification": (42034, RATIONAL),
    "LensMake": (42035, ASCII),
    "LensModel": (42036, ASCII),
}
_FORMAT = {BYTE: "B", SHORT: "H", LONG: "I", UNDEFINED: "B", RATIONAL: "II", SRATIONAL: "ii"}
_TILE_LIMIT = 512


@dataclass(frozen=True)
class _Layout:
    """Tags and encoded segments of the picture itself."""

    tags: dict
    segments: list


def write_dng(
    path,
    mosaic,
    *,
    white,
    color_matrix1,
    illuminant1,
    as_shot_neutral,
    pattern="RGGB",
    black=(0, 0, 0, 0),
    black_rows=None,
    black_columns=None,
    color_matrix2=None,
    illuminant2=None,
    orientation=1,
    make="Invented",
    model="Camera",
    exif=None,
    gps=None,
    active_area=None,
    default_crop=None,
    compression=None,
):
    """Write one picture as a DNG file.

    Parameters
    ----------
    path : str or path-like
        File to write; replaced if it exists.
    mosaic : ndarray, uint16
        Sensor values: shape (rows, columns) for a Bayer mosaic, (rows, columns, 3) for a
        linear, already demosaiced picture in camera RGB.
    white : int
        Sensor value of saturation.
    color_matrix1, color_matrix2 : array_like, shape (3, 3)
        CIE XYZ to camera RGB under ``illuminant1`` and ``illuminant2``.
    illuminant1, illuminant2 : {"A", "D50", "D55", "D65", "D75"}
        Light each matrix belongs to.
    as_shot_neutral : sequence of 3 float
        Camera RGB of a neutral surface, in (0, 1].
    pattern : {"RGGB", "BGGR", "GRBG", "GBRG"}
        Colours of the 2 x 2 sites at the corner of the active area, row by row.
    black : sequence of 4 int
        Black level of the same four sites, row by row. A linear picture uses the first three
        as those of R, G and B.
    black_rows, black_columns : sequence of float, optional
        What to add to the black level of each row and column of the active area.
    orientation : int
        EXIF orientation, 1 to 8.
    exif : dict, optional
        Tag name of `EXIF_TAGS` to value; a rational is an int, a float or
        a Fraction.
    gps : tuple of float, optional
        Latitude and longitude in degrees, north and east positive.
    active_area : tuple of int, optional
        Top, left, bottom, right of the light-sensitive pixels.
    default_crop : tuple of int, optional
        Left, top, width, height of the intended picture inside the active area.
    compression : {None, "ljpeg"}
        None, or lossless JPEG (ITU-T T.81) in tiles; the picture must then be at least 16
        pixels each way.
    """
    mosaic = np.ascontiguousarray(mosaic, np.uint16)
    rows, columns = mosaic.shape[:2]
    top, left, bottom, right = active_area or (0, 0, rows, columns)
    crop = default_crop or (0, 0, right - left, bottom - top)
    layout = _compressed(mosaic) if compression == "ljpeg" else _uncompressed(mosaic)
    tags = {
        254: (LONG, 0),
        256: (LONG, columns),
        257: (LONG, rows),
        271: (ASCII, make),
        272: (ASCII, model),
        274: (SHORT, orientation),
        284: (SHORT, 1),
        50706: (BYTE, (1, 4, 0, 0)),
        50707: (BYTE, (1, 1, 0, 0)),
        50708: (ASCII, f"{make} {model}"),
        50719: (LONG, crop[:2]),
        50720: (LONG, crop[2:]),
        50728: (RATIONAL, as_shot_neutral),
        50829: (LONG, (top, left, bottom, right)),
        **_matrix_tags(0, color_matrix1, illuminant1),
        **_matrix_tags(1, color_matrix2, illuminant2),
        **_sensor_tags(mosaic, pattern, black, white),
        **layout.tags,
    }
    if exif and "DateTimeOriginal" in exif:
        tags[306] = (ASCII, exif["DateTimeOriginal"])
    for tag, levels in ((50715, black_columns), (50716, black_rows)):
        if levels is not None:
            tags[tag] = (SRATIONAL, levels)
    directories = {34665: _exif_tags(exif), 34853: _gps_tags(gps)}
    with open(path, "wb") as file:
        file.write(_tiff(tags, layout.segments, directories))


def mosaic_of(rgb, pattern="RGGB"):
    """Keep the one colour that each site of a Bayer pattern sees.

    Parameters
    ----------
    rgb : ndarray, shape (rows, columns, 3)
    pattern : str
        Colours of the 2 x 2 sites, row by row.

    Returns
    -------
    ndarray, shape (rows, columns), dtype of `rgb`
    """
    mosaic = np.empty(rgb.shape[:2], rgb.dtype)
    for site, colour in enumerate(pattern):
        cell = np.s_[site // 2 :: 2, site % 2 :: 2]
        mosaic[cell] = rgb[cell][..., "RGB".index(colour)]
    return mosaic


def _matrix_tags(index, matrix, illuminant):
    if matrix is None:
        return {}
    return {
        50721 + index: (SRATIONAL, np.ravel(matrix)),
        50778 + index: (SHORT, ILLUMINANTS[illuminant]),
    }


def _exif_tags(exif):
    if not exif:
        return {}
    facts = {"ExifVersion": b"0231", **exif}
    return {EXIF_TAGS[name][0]: (EXIF_TAGS[name][1], value) for name, value in facts.items()}


def _sensor_tags(mosaic, pattern, black, white):
    if mosaic.ndim == 3:
        return {
            258: (SHORT, (16, 16, 16)),
            262: (SHORT, 34892),
            277: (SHORT, 3),
            50713: (SHORT, (1, 1)),
            50714: (SHORT, black[:3]),
            50717: (SHORT, (white,) * 3),
        }
    return {
        258: (SHORT, 16),
        262: (SHORT, 32803),
        277: (SHORT, 1),
        33421: (SHORT, (2, 2)),
        33422: (BYTE, ["RGB".index(colour) for colour in pattern]),
        50710: (BYTE, (0, 1, 2)),
        50711: (SHORT, 1),
        50713: (SHORT, (2, 2)),
        50714: (SHORT, black),
        50717: (SHORT, white),
    }


def _uncompressed(mosaic):
    segment = mosaic.astype("<u2").tobytes()
    tags = {259: (SHORT, 1), 273: (LONG, [0]), 278: (LONG, len(mosaic)), 279: (LONG, [0])}
    return _Layout(tags, [segment])


def _tile_size(size):
    """A multiple of 16 not larger than the picture; readers differ on tiles that are."""
    return min(_TILE_LIMIT, size - size % 16)


def _compressed(mosaic):
    """Tiles of lossless JPEG; a mosaic is coded as two interleaved components of half width,
    so that each sample is predicted from one of its own colour."""
    rows, columns = mosaic.shape[:2]
    height, width = _tile_size(rows), _tile_size(columns)
    padding = [(0, -rows % height), (0, -columns % width), (0, 0)][: mosaic.ndim]
    padded = np.pad(mosaic, padding, mode="reflect")
    components = (height, width, 3) if mosaic.ndim == 3 else (height, width // 2, 2)
    segments = [
        imagecodecs.jpeg8_encode(
            np.ascontiguousarray(padded[y : y + height, x : x + width]).reshape(components),
            lossless=True,
            predictor=1,
            bitspersample=16,
        )
        for y in range(0, rows, height)
        for x in range(0, columns, width)
    ]
    tags = {
        259: (SHORT, 7),
        322: (LONG, width),
        323: (LONG, height),
        324: (LONG, [0] * len(segments)),
        325: (LONG, [0] * len(segments)),
    }
    return _Layout(tags, segments)


def _gps_tags(place):
    if not place:
        return {}
    latitude, longitude = place

    def sexagesimal(degrees):
        minutes, seconds = divmod(round(abs(degrees) * 3600, 3), 60)
        return int(minutes // 60), int(minutes % 60), round(seconds, 3)

    return {
        0: (BYTE, (2, 3, 0, 0)),
        1: (ASCII, "N" if latitude >= 0 else "S"),
        2: (RATIONAL, sexagesimal(latitude)),
        3: (ASCII, "E" if longitude >= 0 else "W"),
        4: (RATIONAL, sexagesimal(longitude)),
    }


def _tiff(tags, segments, directories):
    """Lay out header, segments, sub-directories and the first directory, in this order."""
    offsets_tag, counts_tag = (324, 325) if 324 in tags else (273, 279)
    body = bytearray(8)
    offsets = []
    for segment in segments:
        offsets.append(len(body))
        body += segment + b"\0" * (len(segment) % 2)
    tags = {
        **tags,
        offsets_tag: (LONG, offsets),
        counts_tag: (LONG, [len(segment) for segment in segments]),
    }
    for pointer, entries in directories.items():
        if entries:
            tags[pointer] = (LONG, len(body))
            body += _directory(entries, len(body))
    body[:8] = struct.pack("<2sHI", b"II", 42, len(body))
    return bytes(body + _directory(tags, len(body)))


def _directory(tags, base):
    """One image file directory at file offset `base`, values that do not fit in place after it."""
    head = struct.pack("<H", len(tags))
    after = base + 2 + 12 * len(tags) + 4
    data = b""
    for number, (kind, value) in sorted(tags.items()):
        count, packed = _pack(kind, value)
        if len(packed) > 4:
            field, data = struct.pack("<I", after + len(data)), data + packed
            data += b"\0" * (len(data) % 2)
        else:
            field = packed.ljust(4, b"\0")
        head += struct.pack("<HHI", number, kind, count) + field
    return head + struct.pack("<I", 0) + data


def _pack(kind, value):
    """Count and bytes of one tag's value."""
    if kind == ASCII:
        packed = value.encode("ascii") + b"\0"
        return len(packed), packed
    if kind in (RATIONAL, SRATIONAL):
        values = [part for number in np.atleast_1d(np.asarray(value, object))
                  for part in Fraction(number).limit_denominator(1_000_000).as_integer_ratio()]
        return len(values) // 2, struct.pack(f"<{len(values)}{_FORMAT[kind][0]}", *values)
    values = np.atleast_1d(np.frombuffer(value, np.uint8) if isinstance(value, bytes) else value)
    return len(values), struct.pack(f"<{len(values)}{_FORMAT[kind]}", *values.tolist())
