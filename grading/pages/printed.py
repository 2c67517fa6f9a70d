"""Contact sheets on paper: a PDF of A4 pages, upright."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from grading.colour.profiles import icc_profile
from grading.errors import OutputError
from grading.files.formats.jpeg import encode_jpeg
from grading.pages import words
from grading.pages.pdf import Page, pdf, text_width
from grading.pages.sheet import Row
from grading.recipe.load import Recipe

MILLIMETRE = 72 / 25.4
PAPER = (210 * MILLIMETRE, 297 * MILLIMETRE)
"""A4 (ISO 216) in points, as are all lengths here."""
MARGIN, GAP = 12 * MILLIMETRE, 4 * MILLIMETRE
SMALL, LARGE = 7, 13
LEADING = 1.3 * SMALL
TILES = 3
"""Columns where there is one look."""
MAX_LOOKS = 6
QUIET, MOUNT = 0.3, 119 / 255


@dataclass(frozen=True)
class Slot:
    """The content of one place of a sheet: a thumbnail, or none, with lines of text below."""

    thumbnail: object
    lines: list


def sheet_pdf(rows: Sequence[Row], recipes: Sequence[Recipe], title: str) -> bytes:
    """A printable contact sheet.

    Parameters
    ----------
    rows : sequence of Row
        From `grading.pages.sheet.contact_rows`.
    recipes : sequence of Recipe
        At most `MAX_LOOKS`.
    title : str

    Returns
    -------
    bytes
        PDF; the same input gives the same bytes.

    Raises
    ------
    OutputError
        For more looks than fit side by side.
    """
    if len(recipes) > MAX_LOOKS:
        raise OutputError(
            f"{len(recipes)} looks side by side",
            allowed=f"up to {MAX_LOOKS} on a printed page",
            remedy="write an HTML page, or make several sheets",
        )
    return pdf(list(sheet_pages(rows, recipes, title)), title)


def sheet_pages(rows: Sequence[Row], recipes: Sequence[Recipe], title: str) -> Iterator[Page]:
    """The pages, filled from the top with as many lines of slots as they hold.

    Yields
    ------
    Page
    """
    columns = TILES if len(recipes) == 1 else len(recipes)
    edge = (PAPER[0] - 2 * MARGIN - (columns - 1) * GAP) / columns
    slots = [_set(slot, edge) for row in rows for slot in _slots(row, len(recipes))]
    page, top = _blank(edge, title, recipes)
    y = top
    for i in range(0, len(slots), columns):
        line = slots[i : i + columns]
        height = max(_height(slot, edge) for slot in line)
        if y > top and y + height > PAPER[1] - MARGIN:
            yield page
            page, y = _blank(edge, title, recipes)
        for column, slot in enumerate(line):
            _draw(page, slot, MARGIN + column * (edge + GAP), y, edge)
        y += height + GAP
    yield page


def _slots(row, looks):
    if row.problem:
        return [Slot(None, [row.path.name, row.problem])] + [Slot(None, [])] * (looks - 1)
    facts = [row.path.name, " · ".join(words.capture(row.facts.capture)), *row.facts.warnings]
    return [
        Slot(cell.thumbnail, [*(facts if i == 0 else []), cell.illuminant, *cell.warnings])
        for i, cell in enumerate(row.cells)
    ]


def _set(slot, edge):
    """A slot with its text broken into lines that fit."""
    lines = [piece for line in slot.lines for piece in _wrapped(line, SMALL, edge)]
    return Slot(slot.thumbnail, lines)


def _blank(edge, title, recipes):
    """An empty page with its head, and where slots begin."""
    page, y = Page(PAPER), MARGIN
    for line in _wrapped(title, LARGE, PAPER[0] - 2 * MARGIN)[:2]:
        y += 1.2 * LARGE
        page.text(MARGIN, y, line, LARGE)
    y += 2 * LEADING
    for i, recipe in enumerate(recipes):
        for name in _wrapped(recipe.title, SMALL, edge)[:1]:
            page.text(MARGIN + i * (edge + GAP), y, name, SMALL, QUIET)
    return page, y + LEADING


def _mount(thumbnail, edge):
    """Width and height of a thumbnail on paper, and the height of its mount."""
    rows, columns = thumbnail.shape[:2]
    share = (edge - 2 * GAP) / max(rows, columns)
    return share * columns, share * rows, share * rows + 2 * GAP


def _height(slot, edge):
    mount = 0 if slot.thumbnail is None else _mount(slot.thumbnail, edge)[2]
    return mount + (len(slot.lines) + 0.5) * LEADING


def _draw(page, slot, x, y, edge):
    if slot.thumbnail is not None:
        width, height, mount = _mount(slot.thumbnail, edge)
        page.area(x, y, edge, mount, MOUNT)
        jpeg = encode_jpeg(slot.thumbnail, icc_profile("srgb"), None, 90)
        left = x + (edge - width) / 2
        page.photograph(left, y + GAP, width, height, jpeg, slot.thumbnail.shape[1::-1])
        y += mount
    for line in slot.lines:
        y += LEADING
        page.text(x, y, line, SMALL)


def _wrapped(text, size, width):
    """A text as lines that fit; a word that is too long is broken."""
    lines, line = [], ""
    for word in text.split(" "):
        longer = f"{line} {word}".strip()
        if line and text_width(longer, size) > width:
            lines.append(line)
            longer = word
        *broken, line = _broken(longer, size, width)
        lines += broken
    return [*lines, line] if line else lines


def _broken(word, size, width):
    """A word cut into pieces that fit; mostly there is one."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, size) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces
