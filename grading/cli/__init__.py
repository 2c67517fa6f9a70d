"""The command line: verbs only."""

from grading.cli import (
    batch,
    calibrate,
    choosing,
    pages,
    recipes,
    shoots,
    sky,
    spots,
)
from grading.cli.group import FORMATS, SPACES, main

__all__ = [
    "FORMATS", "SPACES", "batch", "calibrate", "choosing", "main", "pages", "recipes", "shoots",
    "sky", "spots",
]  # fmt: skip
