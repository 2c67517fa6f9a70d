"""Contact sheets: a set of originals under one or several looks, on a page or on paper."""

import os
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from grading.colour.profiles import icc_profile
from grading.engine.execute import carry_out
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.errors import of_frame
from grading.files.formats.jpeg import encode_jpeg
from grading.files.originals import open_frame
from grading.frame import Facts
from grading.pages import pictures, words
from grading.pages.html import page
from grading.recipe.load import Recipe
from grading.terminal import visible

PREVIEW_EDGE = 1600
"""Long edge, in pixels at most, at which frames are graded and clipping is counted."""

THUMBNAIL_EDGE, PAPER_EDGE = 360, 800
"""Long edge of the pictures within a page, and of those on paper."""


@dataclass(frozen=True)
class Noted:
    """What a shoot file and its levelling say of a frame; nothing, unless given.

    Attributes
    ----------
    mark : int or None
    caption : str
    levelling : tuple of str
        The correction in words.
    warnings : tuple of str
        What levelling found wrong.
    """

    mark: int | None = None
    caption: str = ""
    levelling: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Entry:
    """A frame that a sheet is to show: a recipe for each look."""

    path: Path
    recipes: Sequence[Recipe] = field(repr=False)
    noted: Noted = Noted()


@dataclass(frozen=True)
class Jpeg:
    """A picture as the bytes of a file, sRGB, with its size in pixels."""

    data: bytes = field(repr=False)
    width: int
    height: int


@dataclass(frozen=True)
class Cell:
    """A frame under one look; ``large`` where a larger view was asked for, too."""

    thumbnail: Jpeg
    illuminant: str
    warnings: list[str]
    large: Jpeg | None = None


@dataclass(frozen=True)
class Row:
    """A frame under all looks; one that could not be graded has a ``problem`` and no cells."""

    path: Path
    facts: Facts | None
    cells: list[Cell]
    problem: str | None = None
    noted: Noted = Noted()


def contact_rows(
    entries: Iterable[Entry],
    paper: bool = False,
    workers: int | None = None,
    accept_dark: bool = False,
) -> Iterator[Row]:
    """The rows of a contact sheet, several frames at a time.

    Parameters
    ----------
    entries : iterable of Entry
    paper : bool
        Whether thumbnails are for paper, without larger views.
    workers : int, optional
        Frames at a time; as many as there are processors unless given.
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.

    Yields
    ------
    Row
        In the order of the entries. A problem of a frame is shown in its row.
    """
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        yield from pool.map(lambda entry: _row(entry, paper, accept_dark), entries)


def _row(entry, paper, accept_dark):
    try:
        frame = open_frame(entry.path, accept_dark=accept_dark)
        small = preview(frame, PREVIEW_EDGE)
        cells = [_cell(small, resolve(recipe, frame), paper) for recipe in entry.recipes]
    except Exception as error:
        problem = str(of_frame(error, entry.path)).removeprefix(f"{visible(entry.path)}: ")
        return Row(entry.path, None, [], problem, entry.noted)
    return Row(entry.path, frame.facts, cells, noted=entry.noted)


def _cell(small, look, paper):
    """Graded once, for all sizes; what is clipped is counted at that of the preview."""
    sizes = [Output(), Output(long_edge=PAPER_EDGE if paper else THUMBNAIL_EDGE)]
    ((large, clipping), (codes, _)), = carry_out([make_plan(look, small)], sizes, workers=1)
    said = words.illuminant(look), words.clipping_warnings(clipping)
    if paper:
        return Cell(_jpeg(encode_jpeg(codes, icc_profile("srgb"), None, 90), codes), *said)
    view = _jpeg(encode_jpeg(large, icc_profile("srgb"), None, 82), large)
    return Cell(_jpeg(pictures.light_jpeg(codes), codes), *said, view)


def _jpeg(data, codes):
    return Jpeg(data, codes.shape[1], codes.shape[0])


def view_name(number: int, look: int) -> str:
    """File name of a larger view: of which frame under which look, both from 1.

    >>> view_name(7, 2)
    '007-2.jpg'
    """
    return f"{number:03}-{look}.jpg"


def sheet_page(rows: Sequence[Row], looks: Sequence[str], title: str, folder: str) -> bytes:
    """HTML of a contact sheet: frames as rows and looks as columns, or one look as tiles.

    Parameters
    ----------
    rows : sequence of Row
        From `contact_rows`.
    looks : sequence of str
        Their titles.
    title : str
    folder : str
        Of the larger views, named by `view_name`, beside the page.

    Returns
    -------
    bytes
    """
    shown = [[pictures.in_page(cell.thumbnail.data) for cell in row.cells] for row in rows]
    place = quote(os.fsencode(folder))
    views = [
        [f"{place}/{view_name(number, look)}" for look in range(1, len(row.cells) + 1)]
        for number, row in enumerate(rows, 1)
    ]
    marks = {row.noted.mark for row in rows}
    return page(
        "sheet.html",
        title=title,
        looks=looks,
        rows=list(zip(rows, shown, views, strict=True)),
        marks=sorted(marks, key=lambda mark: -(mark or 0)) if marks != {None} else [],
        folder=folder,
        edge=PREVIEW_EDGE,
        mount=_mount(rows),
    )


def _mount(rows):
    """Width over height of the mounts: as the squarest frame, a square if one is upright."""
    ratios = [cell.thumbnail.width / cell.thumbnail.height for row in rows for cell in row.cells]
    return max(1, min(ratios, default=1))
