"""The command line: verbs only."""

from grading.cli import batch, pages, recipes, shoots
from grading.cli.group import FORMATS, SPACES, main

__all__ = ["FORMATS", "SPACES", "batch", "main", "pages", "recipes", "shoots"]
