"""Contact sheets: a set of originals under one or several looks, on a page or on paper."""

import os
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path

import numpy as np

from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.errors import of_frame
from grading.files.originals import open_frame
from grading.frame import Facts
from grading.pages import pictures, words
from grading.pages.html import page
from grading.recipe.load import Recipe
from grading.terminal import visible

PREVIEW_EDGE = 800
"""Long edge, in pixels at most, at which frames are graded and clipping is counted."""


@dataclass(frozen=True)
class Cell:
    """A frame under one look: ``thumbnail`` of shape (rows, columns, 3), uint8, sRGB."""

    thumbnail: np.ndarray = field(repr=False)
    illuminant: str
    warnings: list[str]


@dataclass(frozen=True)
class Row:
    """A frame under all looks; one that could not be graded has a ``problem`` and no cells."""

    path: Path
    facts: Facts | None
    cells: list[Cell]
    problem: str | None = None


def contact_rows(
    paths: Iterable[str | PathLike[str]],
    recipes: Sequence[Recipe],
    workers: int | None = None,
    accept_dark: bool = False,
) -> Iterator[Row]:
    """The rows of a contact sheet, several frames at a time.

    Parameters
    ----------
    paths : sequence of path-like
        Originals.
    recipes : sequence of Recipe
    workers : int, optional
        Frames at a time; as many as there are processors unless given.
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.

    Yields
    ------
    Row
        In the order of the paths. A problem of a frame is shown in its row.
    """
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        yield from pool.map(lambda path: _row(Path(path), recipes, accept_dark), paths)


def _row(path, recipes, accept_dark):
    try:
        frame = open_frame(path, accept_dark=accept_dark)
        small = preview(frame, PREVIEW_EDGE)
        cells = [_cell(small, resolve(recipe, frame)) for recipe in recipes]
    except Exception as error:
        problem = str(of_frame(error, path)).removeprefix(f"{visible(path)}: ")
        return Row(path, None, [], problem)
    return Row(path, frame.facts, cells)


def _cell(small, look):
    graded = render(small, look, Output("jpeg"), workers=1)
    return Cell(graded.array, words.illuminant(look), words.clipping_warnings(graded.clipping))


def sheet_page(rows: Sequence[Row], recipes: Sequence[Recipe], title: str) -> bytes:
    """HTML of a contact sheet: frames as rows and looks as columns, or one look as tiles.

    Parameters
    ----------
    rows : sequence of Row
        From `contact_rows`.
    recipes : sequence of Recipe
    title : str

    Returns
    -------
    bytes
    """
    shown = [[pictures.photograph(cell.thumbnail, 85) for cell in row.cells] for row in rows]
    return page(
        "sheet.html",
        title=title,
        recipes=recipes,
        rows=list(zip(rows, shown, strict=True)),
        edge=PREVIEW_EDGE,
        mount=_mount(rows),
    )


def _mount(rows):
    """Width over height of the mounts: as the squarest frame, a square if one is upright."""
    ratios = [
        cell.thumbnail.shape[1] / cell.thumbnail.shape[0] for row in rows for cell in row.cells
    ]
    return max(1, min(ratios, default=1))
