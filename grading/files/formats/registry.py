"""The file formats that are written, by name."""

from grading.files.formats import jpeg, tiff

FORMATS = {each.name: each for each in (jpeg.FORMAT, tiff.FORMAT)}
