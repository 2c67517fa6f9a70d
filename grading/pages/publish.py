"""Pages written to disk."""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

from grading.errors import OutputError, of_frame
from grading.files.atomic import make_folder, remove_leftovers, write_atomically
from grading.files.originals import open_frame
from grading.pages.comparing import as_numbers, compare_looks, in_short
from grading.pages.diff import content
from grading.pages.html import page
from grading.pages.printed import sheet_pdf
from grading.pages.sheet import Entry, Row, contact_rows, sheet_page, view_name
from grading.recipe.load import Recipe

SHEETS = (".html", ".pdf")
"""Endings of contact sheets: for a screen, for paper."""


@dataclass(frozen=True)
class FrameCompared:
    """The result for one original under two looks.

    Attributes
    ----------
    numbers : dict
        Plain data, as `grading.pages.comparing.as_document` takes it.
    words : str
        The same in one line.
    page : Path or None
        Where it is shown.
    problem : str or None
        Why it could not be compared; there are no words and no page then.
    """

    numbers: dict
    words: str = ""
    page: Path | None = None
    problem: str | None = None


def compare_originals(
    wanted: Sequence[tuple[Path, Recipe, Recipe]],
    long_edge: int | None = None,
    folder: Path | None = None,
    overwrite: bool = False,
    accept_dark: bool = False,
) -> Iterator[FrameCompared]:
    """Compare two looks on each original, and write a page for each.

    Parameters
    ----------
    wanted : sequence of (Path, Recipe, Recipe)
        Each original with the two looks of it.
    long_edge : int, optional
        Of the pictures, in pixels; as the original unless given.
    folder : Path, optional
        For the pages, made where there is none; no pages are written without.
    overwrite : bool
        Whether pages of an earlier run may be replaced.
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.

    Returns
    -------
    iterator of FrameCompared
        Each when its page is written, which is when the one that it leads on to has been compared.
        One that cannot be compared does not stop the others, and no page leads to it.

    Raises
    ------
    OutputError
        If a page exists or cannot be written.
    """
    places = [folder and folder / name for name in page_names([path for path, *_ in wanted])]
    if folder and not overwrite:
        _refuse_existing(places)
    if folder:
        remove_leftovers(folder)

    def compare(path, first, second, place):
        try:
            frame = open_frame(path, accept_dark=accept_dark)
            compared = compare_looks(frame, first, second, long_edge)
        except Exception as error:
            problem = str(of_frame(error, path))
            return FrameCompared({"original": str(path), "error": problem}, problem=problem), None
        done = FrameCompared(as_numbers(compared), in_short(compared), place)
        return done, content(compared, first, second) if place else None

    done = (compare(*each, place) for each, place in zip(wanted, places, strict=True))
    return _write_pages(done, overwrite) if folder else (frame for frame, _ in done)


def _write_pages(compared, overwrite):
    """Write the page of each frame that has one, with links to those before and after it."""
    before = last = own_link = None
    waiting = []
    for frame, values in compared:
        if values:
            link = values["facts"].path.name, quote(os.fsencode(frame.page.name))
            if last:
                _write_page(*last, overwrite, before=before, after=link)
                before = own_link
            yield from waiting
            last, own_link, waiting = (frame.page, values), link, []
        waiting.append(frame)
    if last:
        _write_page(*last, overwrite, before=before, after=None)
    yield from waiting


def _write_page(path, values, overwrite, **links):
    make_folder(path.parent)
    write_atomically(path, page("diff.html", **values, **links), overwrite)


def write_sheet(
    entries: Sequence[Entry],
    looks: Sequence[str],
    output: Path,
    title: str,
    overwrite: bool = False,
    accept_dark: bool = False,
) -> Iterator[Row]:
    """Write a contact sheet; beside a page, a folder of larger views.

    Parameters
    ----------
    entries : sequence of Entry
    looks : sequence of str
        Titles of the looks that each entry has recipes for.
    output : Path
        Ends in ``.html`` or ``.pdf``.
    title : str
    overwrite : bool
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.

    Returns
    -------
    iterator of Row
        Each as soon as it is graded; after the last one the sheet is written. A problem of
        a row is also shown on the sheet.

    Raises
    ------
    OutputError
    """
    refuse_sheet(output, overwrite)
    paper, folder = _is_paper(output), _views(output)

    def rows_then_sheet():
        rows = []
        for row in contact_rows(entries, paper, accept_dark=accept_dark):
            rows.append(row if paper else _view_written(row, len(rows) + 1, folder, overwrite))
            yield row
        content = (
            sheet_pdf(rows, looks, title)
            if paper
            else sheet_page(rows, looks, title, folder.name)
        )
        write_atomically(output, content, overwrite)

    return rows_then_sheet()


def refuse_sheet(output: Path, overwrite: bool = False) -> None:
    """Refuse a contact sheet of another kind, or in the place of one that exists.

    Raises
    ------
    OutputError
    """
    if output.suffix.lower() not in SHEETS:
        raise OutputError(
            f"a contact sheet ending in {output.suffix or 'nothing'}",
            place=str(output),
            allowed=", ".join(SHEETS),
        )
    if not overwrite:
        _refuse_existing([output] if _is_paper(output) else [output, _views(output)])


def _is_paper(output):
    return output.suffix.lower() == ".pdf"


def _views(output):
    """The folder of larger views beside a page."""
    return output.with_name(f"{output.stem}-pictures")


def _view_written(row, number, folder, overwrite):
    """Write the larger views of a row; the row without them, which are many."""
    for look, cell in enumerate(row.cells, 1):
        make_folder(folder)
        write_atomically(folder / view_name(number, look), cell.large.data, overwrite)
    return replace(row, cells=[replace(cell, large=None) for cell in row.cells])


def page_names(paths: Sequence[Path]) -> list[str]:
    """Names for pages: the originals' own, with a number where two are called the same.

    >>> page_names([Path("a/1.dng"), Path("b/1.dng")])
    ['1.html', '1-2.html']
    """
    names, taken = [], set()
    for path in paths:
        name, number = f"{path.stem}.html", 1
        while name.casefold() in taken:
            number += 1
            name = f"{path.stem}-{number}.html"
        taken.add(name.casefold())
        names.append(name)
    return names


def _refuse_existing(outputs):
    for path in outputs:
        if path.exists():
            raise OutputError(
                "exists already", place=str(path), remedy="choose another, or state --overwrite"
            )
