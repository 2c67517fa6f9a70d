"""Raw originals: LibRaw unpacks them, and their levels, crop, camera and facts are read.

What a Bayer sensor recorded is developed by this package from the mosaic on. Other sensors, and
files that hold demosaiced pixels, go through LibRaw.
"""

import io
import os
from functools import partial

import numpy as np

from grading.colour.camera import xy_to_neutral
from grading.colour.spaces import D65
from grading.errors import OriginalError
from grading.files import dngtags
from grading.files.highlights import recover_highlights
from grading.files.metadata import capture_facts, exif_block, read_exif
from grading.files.mosaic import MosaicPixels
from grading.files.pixels import StoredPixels, upright
from grading.files.tiff import end_of_pixels
from grading.frame import Calibration, Camera, Capture, Facts, Frame
from grading.inspect.noise import estimate_noise
from grading.kernels.highlights import highlight_guide
from grading.kernels.mosaic import Sensor

_ORIENTATIONS = {0: 1, 1: 2, 2: 4, 3: 3, 4: 5, 5: 8, 6: 6, 7: 7}  # LibRaw's flip to EXIF's
SITES = ((0, 0), (0, 1), (1, 0), (1, 1))
_LEAST_NEUTRAL = 1 / 32
_DIM = 0.01


def open_raw(path, data):
    """Open a raw original through LibRaw.

    Parameters
    ----------
    path : Path
        The file.
    data : bytes-like
        Its content.

    Returns
    -------
    Frame
        Pixels are camera RGB in the camera's own levels: black 0, white level 1.

    Raises
    ------
    OriginalError
        If LibRaw cannot read it, or what it reads is no picture.
    """
    rawpy = _rawpy()
    directories = read_exif(data)
    _check_complete(data, directories[0])
    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            _check_sensor(raw)
            camera, warnings = _read_camera(raw, directories[0])
            develop = _from_mosaic if _is_bayer(raw) else _from_libraw
            decoder, pixels, noise, more_warnings = develop(raw, camera, data)
            capture = _capture(raw, directories)
    except (rawpy.LibRawError, ValueError, NotImplementedError) as error:
        raise _unreadable(error) from None
    facts = Facts(
        path, pixels.width, pixels.height, f"LibRaw {libraw_version()}, {decoder}",
        camera, capture, noise, tuple(warnings + more_warnings),
    )  # fmt: skip
    return Frame(facts, pixels, exif_block(directories, pixels.width, pixels.height))


def _is_bayer(raw):
    pattern = raw.raw_pattern
    if raw.raw_image_visible.ndim != 2 or pattern is None or pattern.shape != (2, 2):
        return False
    return sorted(raw.color_desc[site] for site in pattern.flat) == sorted(b"RGGB")


def _from_mosaic(raw, camera, data):
    """Decoder, pixels, noise and warnings of a Bayer frame, by way of its mosaic."""
    visible, sizes = raw.raw_image_visible, raw.sizes
    top, bottom, left, right, warnings = _crop(visible.shape, sizes)
    mosaic = visible[top:bottom, left:right].copy()  # LibRaw's own memory goes with it
    sites = [
        raw.color_desc[raw.raw_color(sizes.top_margin + top + y, sizes.left_margin + left + x)]
        for y, x in SITES
    ]
    phase = SITES[sites.index(ord("R"))]
    black, row_black, column_black = _black(raw, data, (top, left), phase, mosaic.shape)
    scale = 1 / (raw.white_level - black)
    warnings += _check_brightness((mosaic.max() - black.min()) * scale.max())
    noise = estimate_noise(mosaic, phase, black, np.full(4, raw.white_level))
    sensor = Sensor(phase, np.float32(black), np.float32(scale), row_black, column_black, noise)
    balance = np.float32(camera.neutral[1] / camera.neutral)
    highlights = highlight_guide(mosaic, sensor, balance)
    pixels = MosaicPixels(mosaic, sensor, balance, highlights, _ORIENTATIONS[sizes.flip])
    return "mosaic", pixels, noise, warnings


def _black(raw, data, corner, phase, shape):
    """Black of red, green beside red, green beside blue and blue; and of rows and columns.

    LibRaw keeps one level for each channel, so the finer ones of a DNG are read from its tags.
    """
    stated = dngtags.black_levels(data)
    if stated is None:
        red, green, blue, green2 = raw.black_level_per_channel
        rows, columns = (np.zeros(size, np.float32) for size in shape)
        return np.array([red, green, green2, blue], np.float64), rows, columns
    levels, rows, columns = stated
    black = [levels[(corner[0] + phase[0] + y) % 2, (corner[1] + phase[1] + x) % 2] for y, x in SITES]
    return np.array(black), _cut(rows, corner[0], shape[0]), _cut(columns, corner[1], shape[1])


def _cut(levels, start, size):
    """Levels of the rows or columns that are kept; 0 where the file states none."""
    kept = np.zeros(size, np.float32)
    stated = levels[start : start + size]
    kept[: len(stated)] = stated
    return kept


def _from_libraw(raw, camera, data):
    """The same of any other frame, by way of LibRaw's own demosaicing."""
    # sizes and levels are read before the demosaicing, which resets the flip
    sizes, scale = raw.sizes, _scale(raw)
    picture = demosaic_libraw(raw)
    top, bottom, left, right, warnings = _crop(picture.shape[:2], sizes)
    picture = picture[top:bottom, left:right]
    warnings += _check_brightness(int(picture.max()) / 65535)
    to_light = partial(camera_light, scale=scale, neutral=camera.neutral)
    pixels = StoredPixels(upright(picture, _ORIENTATIONS[sizes.flip]), to_light)
    return "AHD", pixels, None, warnings


def demosaic_libraw(raw):
    """Demosaic with LibRaw's adaptive homogeneity-directed method, levels by metadata only.

    Parameters
    ----------
    raw : rawpy.RawPy

    Returns
    -------
    ndarray, shape (H, W, 3), uint16
        Camera RGB of the visible area, black 0; for what 65535 is, see :func:`_scale`.
    """
    rawpy = _rawpy()
    return raw.postprocess(
        demosaic_algorithm=rawpy.DemosaicAlgorithm.AHD,
        output_color=rawpy.ColorSpace.raw,
        output_bps=16,
        gamma=(1, 1),
        user_wb=[1, 1, 1, 1],
        user_flip=0,
        no_auto_bright=True,
        adjust_maximum_thr=0.0,
    )


def libraw_version():
    """Version of LibRaw as text."""
    return ".".join(map(str, _rawpy().libraw_version))


def _rawpy():
    """The rawpy module, imported so that LibRaw keeps to the thread that calls it."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    import rawpy

    return rawpy


def camera_light(codes, scale, neutral):
    """Camera RGB of code values, with clipped channels recovered.

    Parameters
    ----------
    codes : ndarray, shape (3, h, w), uint16
    scale : ndarray, shape (3, 1, 1), float32
        Code values to the raw scale.
    neutral : ndarray, shape (3,)
        As-shot neutral.

    Returns
    -------
    ndarray, shape (3, h, w), float32
        White level 1; recovered highlights exceed it.
    """
    return recover_highlights(codes * scale, neutral)


def _scale(raw):
    """Factors from LibRaw's output to white level 1, shape (3, 1, 1), float32.

    LibRaw takes each channel's black off, but stretches all by white less the least black.
    """
    black = np.array(raw.black_level_per_channel, dtype=np.float64)
    ranges = raw.white_level - black
    if raw.raw_image_visible.ndim == 2:
        ranges[1] = ranges[[1, 3]].mean()  # the two greens of a mosaic
    factors = (raw.white_level - black.min()) / (65535 * ranges[:3])
    return factors[:, None, None].astype(np.float32)


def _check_complete(data, main):
    """Refuse a DNG whose pixels lie past its end; LibRaw does not always notice."""
    end = end_of_pixels(data)
    if dngtags.is_dng(main) and end > len(data):
        raise OriginalError(
            f"the file is cut off: its pixels end at byte {end}, the file at {len(data)}",
            remedy="copy it again from the card",
        )


def _unreadable(error):
    return OriginalError(
        f"LibRaw cannot read it as a raw file ({_message(error)})",
        allowed="raw files that LibRaw supports, JPEG, TIFF and PNG",
        remedy="check that the file is whole, or convert it to DNG",
    )


def _message(error):
    text = error.args[0] if error.args else str(error)
    return text.decode("utf-8", "replace") if isinstance(text, bytes) else str(text)


def _check_sensor(raw):
    if raw.num_colors != 3:
        raise OriginalError(
            f"the sensor has {raw.num_colors} colours", allowed="sensors of 3 colours"
        )
    black, white = max(raw.black_level_per_channel), raw.white_level
    if not 0 <= black < white:
        raise OriginalError(
            f"impossible levels: black {black}, white {white}",
            allowed="a black level below the white level",
            remedy="convert the file again; its level tags are wrong",
        )
    codes = raw.raw_image_visible
    codes = codes[..., :3] if codes.ndim == 3 else codes
    if codes.min() == codes.max():
        raise OriginalError(
            f"all raw values are {codes.min()}: the file holds no picture",
            remedy="copy it again from the card",
        )


def _check_brightness(brightest):
    """Refuse a picture without light; warn of a very dark one."""
    if brightest <= 0:
        raise OriginalError(
            "every pixel is black: no picture", remedy="copy the file again from the card"
        )
    if brightest < _DIM:
        return [f"the brightest pixel is only {brightest:.2g} of the white level"]
    return []


def _read_camera(raw, main):
    """The camera's calibrations and as-shot neutral, with warnings."""
    calibrations = dngtags.calibrations(main)
    if not calibrations:
        matrix = dngtags.checked_matrix(raw.rgb_xyz_matrix[:3])
        calibrations = (Calibration(dngtags.LIGHT_SOURCES[21], matrix),)
    neutral = _stated_neutral(raw, main)
    if neutral is not None:
        return Camera(calibrations, checked_neutral(neutral)), []
    white, warnings = dngtags.as_shot_white(main), []
    if white is None:
        white = D65
        warnings = ["the file states no as-shot white balance; daylight (D65) is assumed"]
    try:
        neutral = xy_to_neutral(Camera(calibrations, np.ones(3)), white)
    except ValueError as error:
        raise OriginalError(
            f"the camera matrix does not fit the light ({error})",
            remedy="convert the file to DNG with a sound ColorMatrix1",
        ) from None
    return Camera(calibrations, checked_neutral(neutral)), warnings


def _stated_neutral(raw, main):
    """The neutral of the file, or ``None``; LibRaw gives 0 or -1 for a balance not stated."""
    if dngtags.is_dng(main):
        return dngtags.as_shot_neutral(main)
    gains = np.array(raw.camera_whitebalance[:3])
    return 1 / gains if (gains > 0).all() else None


def checked_neutral(neutral):
    """A neutral scaled to largest channel 1, if a light can look like that.

    Raises
    ------
    OriginalError
        If it has not three channels, all finite and at least 1/32 of the largest (common
        practice, no source: lamps and cameras stay above 1/8).
    """
    neutral = np.asarray(neutral, dtype=np.float64)
    sound = neutral.shape == (3,) and np.isfinite(neutral).all() and neutral.max() > 0
    if not sound or neutral.min() < _LEAST_NEUTRAL * neutral.max():
        raise OriginalError(
            f"impossible as-shot white balance: a neutral of {neutral.tolist()} in camera RGB",
            allowed="three positive numbers, none below 1/32 of the largest",
            remedy="convert the file again; its AsShotNeutral is wrong",
        )
    return neutral / neutral.max()


def _crop(shape, sizes):
    """First and last + 1 row and column meant to be seen (DNG DefaultCrop, or the maker's).

    Returns
    -------
    top, bottom, left, right : int
        In the visible area.
    warnings : list of str
    """
    top = sizes.crop_top_margin - sizes.top_margin
    left = sizes.crop_left_margin - sizes.left_margin
    bottom, right = top + sizes.crop_height, left + sizes.crop_width
    if sizes.crop_height == 0 or sizes.crop_width == 0 or shape != (sizes.height, sizes.width):
        return 0, shape[0], 0, shape[1], []
    if top < 0 or left < 0 or bottom > sizes.height or right > sizes.width:
        warning = "the crop in the file reaches beyond its picture and is left out"
        return 0, shape[0], 0, shape[1], [warning]
    return top, bottom, left, right, []


def _capture(raw, directories):
    """Facts from the EXIF block; from LibRaw where the file has none that we can read."""
    capture = capture_facts(directories)
    if directories[1]:
        return capture
    other, time = raw.other, raw.other.timestamp
    return Capture(
        make=capture.make,
        model=capture.model,
        lens=raw.lens.model or None,
        time=time.isoformat() if time.year > 1970 else None,
        shutter=other.shutter_speed or None,
        aperture=other.aperture or None,
        iso=other.iso_speed or None,
        focal_length=other.focal_length or None,
    )
