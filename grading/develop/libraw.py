"""What LibRaw does for us: it unpacks every raw, and demosaics the mosaics that are not Bayer's."""

import os

from grading.errors import OriginalError

_LEAST_SIDE = 512  # of a 6x6 mosaic


def libraw():
    """The rawpy module, imported so that LibRaw keeps to the thread that calls it."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    import rawpy

    return rawpy


def libraw_version():
    """Version of LibRaw as text."""
    return ".".join(map(str, libraw().libraw_version))


def demosaic_balanced(raw, neutral):
    """Demosaic by a method that suits the mosaic.

    LibRaw is given balanced light, which it interpolates best, with the black level left in, so
    that noise below black survives; both are in its result.

    Parameters
    ----------
    raw : rawpy.RawPy
    neutral : ndarray, shape (n,)
        What the channels read of a neutral surface.

    Returns
    -------
    str
        Its method.
    ndarray, shape (rows, columns, n), uint16
        Codes of the visible area, as it is stored.
    ndarray, shape (n,), float64
        How many of them are one code of the file.

    Raises
    ------
    OriginalError
        If LibRaw has no way to develop so small a mosaic.
    """
    if raw.raw_pattern.shape == (6, 6):
        method = "6x6 mosaic, three passes"
        _check_side(raw.sizes)
    else:
        method = "AHD" if raw.num_colors == 3 else "VNG of four colours"
    gains, white = neutral.min() / neutral, raw.white_level
    codes = demosaic_libraw(
        raw,
        user_wb=[*gains, gains[1]][:4],
        highlight_mode=libraw().HighlightMode.Ignore,
        user_black=0,
        user_cblack=[0, 0, 0, 0],
    )
    return method, codes, 65535 / white * gains


def _check_side(sizes):
    if min(sizes.height, sizes.width) < _LEAST_SIDE:
        raise OriginalError(
            f"a 6x6 mosaic of {sizes.width} x {sizes.height} pixels",
            allowed=f"{_LEAST_SIDE} pixels or more each way, which LibRaw's demosaicing needs",
        )


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
