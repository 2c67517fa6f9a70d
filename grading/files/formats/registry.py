"""The file formats that are written, by name."""

from grading.files.formats import avif, jpeg, jxl, png, tiff

FORMATS = {
    each.name: each
    for each in (
        jpeg.FORMAT, tiff.FORMAT, tiff.EIGHT_BIT, png.FORMAT, png.SIXTEEN_BIT, avif.FORMAT,
        jxl.FORMAT,
    )  # fmt: skip
}
SUFFIXES = tuple(dict.fromkeys(each.suffix for each in FORMATS.values()))
"""Of the names of all that is written."""
