"""Rendered originals: JPEG, TIFF and PNG, through their colour profile into the working light."""

import io
import struct
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from grading.errors import OriginalError
from grading.files.integrity import dct_jpeg
from grading.files.limits import check_size
from grading.files.metadata import containers, exif
from grading.files.metadata.containers import JPEG_START, PNG_START
from grading.files.metadata.tifftags import end_of_pixels, read_pictures, segments
from grading.files.originals import icc
from grading.frame import Facts, Frame
from grading.pixels import StoredPixels, upright

_NO_PROFILE = "the file carries no colour profile; sRGB is assumed"
_ALPHA = "transparency is left out"
_CUT_OFF = "copy the file again; it is cut off or damaged"


def open_rendered(path, data, max_pixels):
    """Open a JPEG, TIFF or PNG original.

    Parameters
    ----------
    path : Path
        The file.
    data : bytes-like
        Its content.
    max_pixels : int
        A picture of more is refused before it is decoded.

    Returns
    -------
    Frame
        Pixels are the working light: linear ITU-R BT.2020, D65.

    Raises
    ------
    OriginalError
        If the file is damaged, or a picture of a kind that is not supported.
    """
    kinds = {JPEG_START: ("JPEG", _decode_jpeg), PNG_START: ("PNG", _decode_png)}
    starts = (start for start in kinds if data.startswith(start))
    name, decode = kinds.get(next(starts, None), ("TIFF", _decode_tiff))
    codes, profile, known_srgb = decode(data, max_pixels)
    directories = exif.read_exif(data)
    codes, grey, warnings = _three_channels(codes)
    if codes.min() == codes.max():
        raise OriginalError(f"all pixels are {codes.min()}: the file holds no picture")
    depth = 8 * codes.dtype.itemsize
    if profile:
        to_light = icc.profile_light(profile, depth, grey)
    else:
        to_light = icc.srgb_light(depth)
        warnings += [] if known_srgb or exif.says_srgb(directories) else [_NO_PROFILE]
    orientation = exif.orientation(directories)
    picture = upright(codes, orientation)
    height, width = picture.shape[:2]
    carried, more_warnings = exif.carried_exif(directories)
    warnings += more_warnings
    facts = Facts(
        path, width, height, f"{name}, {depth} bit",
        capture=exif.capture_facts(directories), warnings=tuple(warnings), orientation=orientation,
    )  # fmt: skip
    return Frame(facts, StoredPixels(picture, to_light), carried)


def _decode_jpeg(data, max_pixels):
    """Code values, ICC profile or ``None``, and whether the file says sRGB otherwise."""
    import imageio.v3 as iio
    from PIL import Image

    segments = containers.jpeg_segments(data)
    frames = [s.payload for s in segments if 0xC0 <= s.marker <= 0xCF and s.marker not in _TABLES]
    if not frames or len(frames[0]) < 6 or not containers.jpeg_is_complete(data, segments):
        raise OriginalError("the JPEG is incomplete", remedy=_CUT_OFF)
    precision, height, width, channels = struct.unpack_from(">BHHB", frames[0])
    if channels not in (1, 3) or precision != 8:
        raise OriginalError(
            f"a JPEG of {channels} channels and {precision} bit",
            allowed="RGB or grey of 8 bit (CMYK is not)",
            remedy="export the picture again as RGB",
        )
    check_size(width, height, max_pixels, len(data))
    Image.MAX_IMAGE_PIXELS = None  # else it warns from 90 Mpx on, and refuses a file of 200
    with ThreadPoolExecutor(1) as beside:
        sound = beside.submit(dct_jpeg.is_sound, data)
        try:
            codes = iio.imread(containers.without_facts(data, segments), extension=".jpg")
        except (OSError, RuntimeError, SyntaxError, ValueError) as error:
            raise OriginalError(f"the JPEG cannot be decoded ({error})", remedy=_CUT_OFF) from None
    if not sound.result():
        raise OriginalError(
            "the JPEG is damaged: its pixels do not decode to the end", remedy=_CUT_OFF
        )
    return codes, containers.jpeg_profile(segments), False


_TABLES = (0xC4, 0xC8, 0xCC)  # markers among the frame headers that are none


def _decode_png(data, max_pixels):
    import imagecodecs

    chunks = containers.png_chunks(data)
    if b"IEND" not in chunks:
        raise OriginalError("the PNG is incomplete", remedy=_CUT_OFF)
    header = chunks.get(b"IHDR", b"").ljust(8, b"\0")
    check_size(*struct.unpack_from(">II", header), max_pixels, len(data))
    profile = containers.png_profile(chunks)
    try:
        codes = imagecodecs.png_decode(data)
    except (RuntimeError, ValueError) as error:
        raise OriginalError(f"the PNG cannot be decoded ({error})", remedy=_CUT_OFF) from None
    return codes, profile, b"sRGB" in chunks


def _decode_tiff(data, max_pixels):
    import imagecodecs  # noqa: F401 - first, as tifffile takes a poor stand-in where it fails
    import tifffile

    directories = read_pictures(data)
    end = end_of_pixels(directories)
    if end > len(data):
        raise OriginalError(
            f"the TIFF's pixels end at byte {end}, the file at {len(data)}", remedy=_CUT_OFF
        )
    if not any(directories[:1]):
        raise OriginalError("the TIFF's directory of tags cannot be read", remedy=_CUT_OFF)
    try:
        with tifffile.TiffFile(io.BytesIO(data)) as file:
            page = file.pages[0]
            _check_tiff_kind(page)
            _check_tiff_size(page, segments(directories[0]), data, max_pixels)
            _check_tiff_jpeg(page, segments(directories[0]), data)
            codes = page.asarray()
            separate = page.planarconfig == tifffile.PLANARCONFIG.SEPARATE
            return np.moveaxis(codes, 0, -1) if separate else codes, page.iccprofile, False
    except (OriginalError, ImportError, MemoryError):
        raise
    except Exception as error:  # what tifffile raises on damaged tags has no common root
        raise OriginalError(f"the TIFF cannot be decoded ({error})", remedy=_CUT_OFF) from None


def _check_tiff_kind(page):
    import tifffile

    allowed = (
        tifffile.PHOTOMETRIC.RGB,
        tifffile.PHOTOMETRIC.YCBCR,
        tifffile.PHOTOMETRIC.MINISBLACK,
    )
    if page.photometric not in allowed or page.dtype not in (np.uint8, np.uint16):
        kind = getattr(page.photometric, "name", page.photometric)
        raise OriginalError(
            f"a TIFF of {kind} in {page.dtype}",
            allowed="RGB or grey of 8 or 16 bit (CMYK, Lab, palettes and floats are not)",
            remedy="export the picture again as RGB of 16 bit",
        )
    if page.samplesperpixel > 4 or page.imagedepth > 1:
        raise _unfit(page.shape, page.dtype)


def _check_tiff_size(page, places, data, max_pixels):
    """Sizes of the picture and of a tile; and whether what is not compressed is all there."""
    width, height = page.imagewidth, page.imagelength
    check_size(width, height, max_pixels, len(data))
    if page.is_tiled:
        check_size(page.tilewidth, page.tilelength, max_pixels, len(data))
    held = sum(end - start for start, end in places)
    if held and page.compression == 1:
        needed = width * height * page.samplesperpixel * page.bitspersample // 8
        if held < needed:
            raise OriginalError(
                f"the TIFF holds {held} bytes of pixels of {needed}", remedy=_CUT_OFF
            )


def _check_tiff_jpeg(page, places, data):
    streams = (memoryview(data)[start:end] for start, end in places)
    tables = page.jpegtables or b""
    if page.compression == 7 and not all(dct_jpeg.is_sound(each, tables) for each in streams):
        raise OriginalError(
            "the TIFF is damaged: the JPEG in it does not decode to the end", remedy=_CUT_OFF
        )


def _three_channels(codes):
    """Codes as (H, W, 3), whether they were grey, and warnings."""
    codes = codes[..., None] if codes.ndim == 2 else codes
    if codes.ndim != 3 or not 1 <= codes.shape[2] <= 4 or codes.dtype not in (np.uint8, np.uint16):
        raise _unfit(codes.shape, codes.dtype)
    channels = codes.shape[2]
    warnings = [_ALPHA] if channels in (2, 4) else []
    if channels <= 2:
        return np.broadcast_to(codes[..., :1], (*codes.shape[:2], 3)), True, warnings
    return codes[..., :3], False, warnings


def _unfit(shape, dtype):
    return OriginalError(
        f"a picture of shape {shape} in {dtype}", allowed="one RGB or grey picture of 8 or 16 bit"
    )
