"""Raw originals developed: from what a sensor recorded to camera RGB, layout by layout.

A Bayer mosaic is developed by this package. Other mosaics (6x6 patterns, four colours) go through
LibRaw's demosaicing. Monochrome sensors and files of pixels that are whole already need none.
"""

import os
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np

from grading.errors import OriginalError
from grading.files import dngtags
from grading.files.highlights import recover_highlights
from grading.files.mosaic import MosaicPixels
from grading.files.pixels import StoredPixels, upright
from grading.frame import Noise
from grading.inspect.noise import estimate_noise
from grading.kernels.highlights import highlight_guide
from grading.kernels.mosaic import Sensor

ORIENTATIONS = {0: 1, 1: 2, 2: 4, 3: 3, 4: 5, 5: 8, 6: 6, 7: 7}  # LibRaw's flip to EXIF's
SITES = ((0, 0), (0, 1), (1, 0), (1, 1))
_DIM = 0.01
_LEAST_SIDE = 512  # of a 6x6 mosaic, for LibRaw


def libraw():
    """The rawpy module, imported so that LibRaw keeps to the thread that calls it."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    import rawpy

    return rawpy


def develop(raw, colours, data):
    """Develop an unpacked raw.

    Parameters
    ----------
    raw : rawpy.RawPy
    colours : Colours
        From `grading.files.rawcolours.read_colours`.
    data : bytes-like
        The file.

    Returns
    -------
    decoder : str
        Which path it went.
    pixels : grading.frame.Pixels
    noise : Noise or None
        Of a Bayer mosaic only.
    warnings : list of str

    Raises
    ------
    OriginalError
        If every pixel is black, or LibRaw has no way to develop the mosaic.
    """
    if raw.raw_image_visible.ndim == 3:
        return _from_samples(raw, colours, "linear samples")
    if raw.num_colors == 1:
        return _from_samples(raw, colours, "monochrome samples")
    if _is_bayer(raw):
        return _from_mosaic(raw, colours, data)
    return _from_libraw(raw, colours)


def _is_bayer(raw):
    pattern = raw.raw_pattern
    if raw.raw_image_visible.ndim != 2 or pattern is None or pattern.shape != (2, 2):
        return False
    return sorted(raw.color_desc[site] for site in pattern.flat) == sorted(b"RGGB")


def _from_mosaic(raw, colours, data):
    """Decoder, pixels, noise and warnings of a Bayer frame, by way of its mosaic."""
    visible, sizes = raw.raw_image_visible, raw.sizes
    top, bottom, left, right, warnings = _crop(visible.shape, sizes)
    counts = visible[top:bottom, left:right]
    sites = [
        raw.color_desc[raw.raw_color(sizes.top_margin + top + y, sizes.left_margin + left + x)]
        for y, x in SITES
    ]
    phase, white = SITES[sites.index(ord("R"))], raw.white_level
    black, *line_blacks = _black(raw, data, (top, left), phase, counts.shape)
    scale = 1 / (white - black)
    balance = np.float32(colours.neutral[1] / colours.neutral)
    with ThreadPoolExecutor(1) as beside:
        noise = beside.submit(estimate_noise, counts, phase, black, np.full(4, white))
        mosaic = counts.copy()  # LibRaw's own memory goes with it
        warnings += _check_peak((mosaic.max() - black.min()) * scale.max())
        sensor = Sensor(phase, np.float32(black), np.float32(scale), *line_blacks, (0.0, 0.0))
        highlights = highlight_guide(mosaic, sensor, balance)  # whatever the noise is
    sensor = sensor._replace(noise=noise.result())
    pixels = MosaicPixels(mosaic, sensor, balance, highlights, ORIENTATIONS[sizes.flip])
    return "mosaic", pixels, Noise(*sensor.noise), warnings


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
    top, left = (start + first for start, first in zip(corner, phase, strict=True))
    black = [levels[(top + y) % 2, (left + x) % 2] for y, x in SITES]
    return np.array(black), _cut(rows, corner[0], shape[0]), _cut(columns, corner[1], shape[1])


def _cut(levels, start, size):
    """Levels of the rows or columns that are kept; 0 where the file states none."""
    kept = np.zeros(size, np.float32)
    stated = levels[start : start + size]
    kept[: len(stated)] = stated
    return kept


def _from_samples(raw, colours, decoder):
    """The same of a frame whose samples need no demosaicing: they are only scaled."""
    channels = len(colours.neutral)
    codes = raw.raw_image_visible
    codes = codes[..., :channels] if codes.ndim == 3 else codes[..., None]
    top, bottom, left, right, warnings = _crop(codes.shape[:2], raw.sizes)
    codes = codes[top:bottom, left:right].copy()  # LibRaw's own memory goes with it
    black = np.array(raw.black_level_per_channel[:channels], np.float64)
    pixels = _stored(codes, black, 1 / (raw.white_level - black), colours, raw.sizes)
    return decoder, pixels, None, warnings + _check_brightness(pixels)


def _from_libraw(raw, colours):
    """The same of any other mosaic, by way of LibRaw's demosaicing.

    It is given balanced light, which it interpolates best, with the black level left in, so that
    noise below black survives; both are taken out of its result.
    """
    if raw.raw_pattern.shape == (6, 6):
        decoder = "6x6 mosaic, three passes"
        _check_side(raw.sizes)
    else:
        decoder = "AHD" if raw.num_colors == 3 else "VNG of four colours"
    sizes, channels = raw.sizes, len(colours.neutral)  # sizes before LibRaw resets the flip
    black = np.array(raw.black_level_per_channel[:channels], np.float64)
    gains = colours.neutral.min() / colours.neutral
    white = raw.white_level
    codes = demosaic_libraw(
        raw,
        user_wb=[*gains, gains[1]][:4],
        highlight_mode=libraw().HighlightMode.Ignore,
        user_black=0,
        user_cblack=[0, 0, 0, 0],
    )
    top, bottom, left, right, warnings = _crop(codes.shape[:2], sizes)
    unit = 65535 / white * gains  # of LibRaw's codes, one of the file's
    pixels = _stored(
        codes[top:bottom, left:right], black * unit, 1 / (unit * (white - black)), colours, sizes
    )
    return decoder, pixels, None, warnings + _check_brightness(pixels)


def _check_side(sizes):
    if min(sizes.height, sizes.width) < _LEAST_SIDE:
        raise OriginalError(
            f"a 6x6 mosaic of {sizes.width} x {sizes.height} pixels",
            allowed=f"{_LEAST_SIDE} pixels or more each way, which LibRaw's demosaicing needs",
        )


def _stored(codes, black, scale, colours, sizes):
    to_light = partial(
        camera_light,
        black=np.float32(black)[:, None, None],
        scale=np.float32(scale)[:, None, None],
        colours=colours,
    )
    return StoredPixels(upright(codes, ORIENTATIONS[sizes.flip]), to_light)


def demosaic_libraw(raw, **options):
    """Demosaic with LibRaw's adaptive homogeneity-directed method, levels by metadata only.

    Parameters
    ----------
    raw : rawpy.RawPy
    **options
        What else LibRaw is told, or told otherwise, as `rawpy.Params` names it.

    Returns
    -------
    ndarray, shape (H, W, number of colours), uint16
        Camera light of the visible area, neither balanced nor with black left in, unless
        `options` say so.
    """
    rawpy = libraw()
    settings = dict(
        demosaic_algorithm=rawpy.DemosaicAlgorithm.AHD,
        output_color=rawpy.ColorSpace.raw,
        output_bps=16,
        gamma=(1, 1),
        user_wb=[1, 1, 1, 1],
        user_flip=0,
        no_auto_bright=True,
        adjust_maximum_thr=0.0,
    )
    return raw.postprocess(**(settings | options))


def camera_light(codes, black, scale, colours):
    """Camera RGB of code values, with clipped channels recovered.

    Parameters
    ----------
    codes : ndarray, shape (n, h, w), uint16
    black, scale : ndarray, shape (n, 1, 1), float32
        What to subtract from code values, and the factor to the raw scale.
    colours : Colours

    Returns
    -------
    ndarray, shape (3, h, w), float32
        White level 1; recovered highlights exceed it.
    """
    light = recover_highlights((codes - black) * scale, colours.neutral)
    if colours.reduction is None:
        return light
    planes = colours.reduction.T.astype(np.float32)[:, :, None, None] * light[:, None]
    return planes.sum(axis=0)


def _check_brightness(pixels):
    """Refuse a picture without light; warn of a very dark one."""
    codes, light = pixels.stored, pixels.to_light.keywords
    peaks = codes.max(axis=(0, 1))[:, None, None]
    return _check_peak(((peaks - light["black"]) * light["scale"]).max())


def _check_peak(brightest):
    """Refuse a picture without light; warn of a very dark one."""
    if brightest <= 0:
        raise OriginalError(
            "every pixel is black: no picture", remedy="copy the file again from the card"
        )
    if brightest < _DIM:
        return [f"the brightest pixel is only {brightest:.2g} of the white level"]
    return []


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
