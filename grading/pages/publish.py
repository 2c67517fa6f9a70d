"""Pages written to disk."""

import os
from urllib.parse import quote

from grading.errors import OutputError
from grading.files.atomic import make_folder, write_atomically
from grading.files.originals import open_frame
from grading.pages.comparing import compare_looks
from grading.pages.diff import diff_page
from grading.pages.printed import sheet_pdf
from grading.pages.sheet import contact_rows, sheet_page

SHEETS = {".html": sheet_page, ".pdf": sheet_pdf}
"""What makes a contact sheet, by the ending of its name."""


def compare_originals(paths, first, second, long_edge=None, folder=None, overwrite=False):
    """Compare two looks on each original, and write a page for each.

    Parameters
    ----------
    paths : sequence of Path
        Originals.
    first, second : Recipe
    long_edge : int, optional
        Of the pictures, in pixels; as the original unless given.
    folder : Path, optional
        For the pages, made where there is none; no pages are written without.
    overwrite : bool
        Whether pages of an earlier run may be replaced.

    Yields
    ------
    (LooksCompared, Path or None)
        Each comparison with its page, as soon as that is written.

    Raises
    ------
    OriginalError, OutputError
    """
    names = page_names(paths)
    if folder and not overwrite:
        _refuse_existing([folder / name for name in names])
    links = [(path.name, quote(os.fsencode(name))) for path, name in zip(paths, names, strict=True)]
    for path, name, *beside in zip(paths, names, [None, *links], [*links[1:], None], strict=False):
        compared = compare_looks(open_frame(path), first, second, long_edge)
        page = folder and folder / name
        if page:
            make_folder(folder)
            write_atomically(page, diff_page(compared, first, second, *beside), overwrite)
        yield compared, page


def write_sheet(paths, recipes, output, title, overwrite=False):
    """Write a contact sheet.

    Parameters
    ----------
    paths : sequence of Path
        Originals.
    recipes : sequence of Recipe
    output : Path
        Ends in ``.html`` or ``.pdf``.
    title : str
    overwrite : bool

    Returns
    -------
    list of Row
        Those with a problem are told on the sheet, too.

    Raises
    ------
    OutputError
    """
    make = SHEETS.get(output.suffix.lower())
    if make is None:
        raise OutputError(
            f"a contact sheet ending in {output.suffix or 'nothing'}",
            place=str(output),
            allowed=", ".join(SHEETS),
        )
    if not overwrite:
        _refuse_existing([output])
    rows = list(contact_rows(paths, recipes))
    write_atomically(output, make(rows, recipes, title), overwrite)
    return rows


def page_names(paths):
    """Names for pages: the originals' own, with a number where two are called the same."""
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
