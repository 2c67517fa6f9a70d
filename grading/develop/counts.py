"""The counts of a raw: which of them are the picture, and what black is among them."""

import numpy as np

ORIENTATIONS = {0: 1, 1: 2, 2: 4, 3: 3, 4: 5, 5: 8, 6: 6, 7: 7}
"""LibRaw's flip to EXIF's orientation."""

SITES = ((0, 0), (0, 1), (1, 0), (1, 1))


def active(counts, sizes):
    """The visible area of all counts of a sensor, shape (rows, columns); a view.

    Raises
    ------
    ValueError
        If LibRaw takes the sensor to have another size.
    """
    if counts.shape != (sizes.raw_height, sizes.raw_width):
        raise ValueError("it states two sizes of its picture")
    top, left = sizes.top_margin, sizes.left_margin
    return counts[top : top + sizes.height, left : left + sizes.width]


def seen(visible, sizes):
    """What of the visible area is meant to be seen (DNG DefaultCrop, or the maker's).

    Parameters
    ----------
    visible : ndarray, shape (rows, columns, ...)
        The visible area, or what was made of it.
    sizes : rawpy.ImageSizes

    Returns
    -------
    ndarray
        A view.
    tuple of int
        Its first row and column.
    list of str
        Warnings.
    """
    top = sizes.crop_top_margin - sizes.top_margin
    left = sizes.crop_left_margin - sizes.left_margin
    bottom, right = top + sizes.crop_height, left + sizes.crop_width
    whole = visible.shape[:2] == (sizes.height, sizes.width)
    if sizes.crop_height == 0 or sizes.crop_width == 0 or not whole:
        return visible, (0, 0), []
    if top < 0 or left < 0 or bottom > sizes.height or right > sizes.width:
        warning = "the crop in the file reaches beyond its picture and is left out"
        return visible, (0, 0), [warning]
    return visible[top:bottom, left:right], (top, left), []


def red_site(raw, corner):
    """Row and column of the red site in the first 2x2 block of what is seen from `corner` on."""
    top, left = raw.sizes.top_margin + corner[0], raw.sizes.left_margin + corner[1]
    sites = [raw.color_desc[raw.raw_color(top + y, left + x)] for y, x in SITES]
    return SITES[sites.index(ord("R"))]


def mosaic_blacks(raw, stated, corner, phase, shape):
    """Black levels of a Bayer mosaic.

    LibRaw keeps one level for each channel, so the finer ones of a DNG come from its tags.

    Parameters
    ----------
    raw : rawpy.RawPy
    stated : tuple or None
        What `grading.files.metadata.dngtags.black_levels` reads.
    corner, shape : tuple of int
        Where in the active area the mosaic begins, and its size.
    phase : tuple of int
        Row and column of the red site in the mosaic's first block.

    Returns
    -------
    sites : ndarray, shape (4,), float64
        Of red, green beside red, green beside blue, blue.
    rows, columns : ndarray, 1-D, float32
        What comes on top in each row and column.
    """
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
