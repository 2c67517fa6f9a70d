"""The file formats that are written, by name."""

from grading.files.formats import jpeg, png, tiff

FORMATS = {
    each.name: each
    for each in (jpeg.FORMAT, tiff.FORMAT, tiff.EIGHT_BIT, png.FORMAT, png.SIXTEEN_BIT)
}
SUFFIXES = tuple(dict.fromkeys(each.suffix for each in FORMATS.values()))
"""Of the names of all that is written."""
