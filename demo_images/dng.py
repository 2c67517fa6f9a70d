"""A small DNG writer: mosaics of any square pattern, linear and monochrome pictures, with EXIF.

Tag numbers, types and meanings follow the DNG specification 1.6 and Exif 2.31.
"""

import struct
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

import imagecodecs
import numpy as np

from tiffwriter import ASCII, BYTE, DOUBLE, LONG, RATIONAL, SHORT, SRATIONAL, UNDEFINED, tiff

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
COLOURS = "RGBCMYW"  # in the order of the codes of TIFF/EP, tag CFAPattern
_TILE_LIMIT = 512


@dataclass(frozen=True)
class Layout:
    """Tags and encoded segments of the picture itself."""

    tags: dict
    segments: list


def write_dng(
    path,
    mosaic,
    *,
    white,
    color_matrix1=None,
    illuminant1=None,
    as_shot_neutral=None,
    pattern="RGGB",
    black=(0, 0, 0, 0),
    black_rows=None,
    black_columns=None,
    color_matrix2=None,
    illuminant2=None,
    color_matrix3=None,
    illuminant3=None,
    orientation=1,
    make="Invented",
    model="Camera",
    exif=None,
    gps=None,
    active_area=None,
    default_crop=None,
    compression=None,
    noise_profile=None,
    opcode_lists=None,
):
    """Write one picture as a DNG file.

    Parameters
    ----------
    path : str or path-like
        File to write; replaced if it exists.
    mosaic : ndarray, uint16
        Sensor values: shape (rows, columns) for a mosaic or a monochrome picture, (rows,
        columns, 3) for a linear, already demosaiced picture in camera RGB.
    white : int
        Sensor value of saturation.
    color_matrix1, color_matrix2, color_matrix3 : array_like, shape (n, 3), optional
        CIE XYZ to the camera's n colours under ``illuminant1`` to ``illuminant3``.
    illuminant1, illuminant2, illuminant3 : {"A", "D50", "D55", "D65", "D75"} or tuple of float
        Light each matrix belongs to, or its chromaticity x, y.
    as_shot_neutral : sequence of n float, optional
        What the camera's colours read of a neutral surface, in (0, 1].
    pattern : str or None
        Letters of `COLOURS` for the sites at the corner of the active area, row by row: 4 of a
        2 x 2 pattern, 36 of a 6 x 6 one. The camera's colours are those that occur, in the
        order of `COLOURS`. None for a monochrome picture.
    black : sequence of 4 int
        Black level of the 2 x 2 sites at that corner, row by row. A linear picture uses the first
        three as those of R, G and B; a monochrome one, and a pattern of 6 x 6, the first.
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
    compression : {None, "ljpeg"} or callable
        None, or lossless JPEG (ITU-T T.81) in tiles; the picture must then be at least 16
        pixels each way. A callable makes a `Layout` of the mosaic.
    noise_profile : sequence of float, optional
        Gain and offset of the noise variance in signal, of all colours or of each.
    opcode_lists : dict, optional
        Bytes of opcode lists by their tag, 51008, 51009 or 51022.
    """
    mosaic = np.ascontiguousarray(mosaic, np.uint16)
    rows, columns = mosaic.shape[:2]
    top, left, bottom, right = active_area or (0, 0, rows, columns)
    crop = default_crop or (0, 0, right - left, bottom - top)
    lay_out = {None: _uncompressed, "ljpeg": _compressed}.get(compression, compression)
    layout = lay_out(mosaic)
    tags = {
        254: (LONG, 0),
        256: (LONG, columns),
        257: (LONG, rows),
        271: (ASCII, make),
        272: (ASCII, model),
        274: (SHORT, orientation),
        284: (SHORT, 1),
        50706: (BYTE, (1, 4 if color_matrix3 is None else 6, 0, 0)),
        50707: (BYTE, (1, 1, 0, 0)),
        50708: (ASCII, f"{make} {model}"),
        50719: (LONG, crop[:2]),
        50720: (LONG, crop[2:]),
        50829: (LONG, (top, left, bottom, right)),
        **_matrix_tags(0, color_matrix1, illuminant1),
        **_matrix_tags(1, color_matrix2, illuminant2),
        **_matrix_tags(2, color_matrix3, illuminant3),
        **_sensor_tags(mosaic, pattern, black, white),
        **layout.tags,
    }
    if as_shot_neutral is not None:
        tags[50728] = (RATIONAL, as_shot_neutral)
    if noise_profile is not None:
        tags[51041] = (DOUBLE, noise_profile)
    for tag, opcodes in (opcode_lists or {}).items():
        tags[tag] = (UNDEFINED, opcodes)
    if exif and "DateTimeOriginal" in exif:
        tags[306] = (ASCII, exif["DateTimeOriginal"])
    for tag, levels in ((50715, black_columns), (50716, black_rows)):
        if levels is not None:
            tags[tag] = (SRATIONAL, levels)
    directories = {34665: _exif_tags(exif), 34853: _gps_tags(gps)}
    with open(path, "wb") as file:
        file.write(tiff(tags, layout.segments, directories))


def mosaic_of(rgb, pattern="RGGB"):
    """Keep the one colour that each site of a pattern sees.

    Parameters
    ----------
    rgb : ndarray, shape (rows, columns, n)
        The camera's colours, in the order of `COLOURS`.
    pattern : str
        Colours of the sites of a square pattern, row by row.

    Returns
    -------
    ndarray, shape (rows, columns), dtype of `rgb`
    """
    mosaic = np.empty(rgb.shape[:2], rgb.dtype)
    side, colours = isqrt(len(pattern)), _colours(pattern)
    for site, colour in enumerate(pattern):
        cell = np.s_[site // side :: side, site % side :: side]
        mosaic[cell] = rgb[cell][..., colours.index(colour)]
    return mosaic


def _colours(pattern):
    return "".join(sorted(set(pattern), key=COLOURS.index))


def _matrix_tags(index, matrix, illuminant):
    if matrix is None:
        return {}
    tags = {
        (50721, 50722, 52531)[index]: (SRATIONAL, np.ravel(matrix)),
        (50778, 50779, 52529)[index]: (SHORT, ILLUMINANTS.get(illuminant, 255)),
    }
    if illuminant not in ILLUMINANTS:
        ratios = [Fraction(value).limit_denominator(1_000_000) for value in illuminant]
        numbers = [number for ratio in ratios for number in ratio.as_integer_ratio()]
        tags[52533 + index] = (UNDEFINED, struct.pack("<H4I", 0, *numbers))
    return tags


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
    plain = {258: (SHORT, 16), 277: (SHORT, 1), 50717: (SHORT, white)}
    if pattern is None:
        return plain | {262: (SHORT, 34892), 50713: (SHORT, (1, 1)), 50714: (SHORT, black[:1])}
    side, repeat = isqrt(len(pattern)), 2 if len(pattern) == 4 else 1
    return plain | {
        262: (SHORT, 32803),
        33421: (SHORT, (side, side)),
        33422: (BYTE, [COLOURS.index(colour) for colour in pattern]),
        50710: (BYTE, [COLOURS.index(colour) for colour in _colours(pattern)]),
        50711: (SHORT, 1),
        50713: (SHORT, (repeat, repeat)),
        50714: (SHORT, black[: repeat * repeat]),
    }


def _uncompressed(mosaic):
    segment = mosaic.astype("<u2").tobytes()
    tags = {259: (SHORT, 1), 278: (LONG, len(mosaic))}
    return Layout(tags, [segment])


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
    }
    return Layout(tags, segments)


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
