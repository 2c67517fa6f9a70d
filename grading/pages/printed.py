"""Contact sheets on paper: a PDF of A4 pages, upright."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from grading.errors import OutputError
from grading.pages import words
from grading.pages.letters import lacking
from grading.pages.pdf import Page, pdf, text_width
from grading.pages.sheet import Jpeg, Row
from grading.terminal import visible

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

    thumbnail: Jpeg | None
    lines: list[str]


def sheet_pdf(rows: Sequence[Row], looks: Sequence[str], title: str) -> bytes:
    """A printable contact sheet.

    Parameters
    ----------
    rows : sequence of Row
        From `grading.pages.sheet.contact_rows`.
    looks : sequence of str
        Their titles, at most `MAX_LOOKS`.
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
    if len(looks) > MAX_LOOKS:
        raise OutputError(
            f"{len(looks)} looks side by side",
            allowed=f"up to {MAX_LOOKS} on a printed page",
            remedy="write an HTML page, or make several sheets",
        )
    return pdf(list(sheet_pages(rows, looks, title)), title)


def sheet_pages(rows: Sequence[Row], looks: Sequence[str], title: str) -> Iterator[Page]:
    """The pages, filled from the top with as many lines of slots as they hold.

    Yields
    ------
    Page
    """
    columns = TILES if len(looks) == 1 else len(looks)
    edge = (PAPER[0] - 2 * MARGIN - (columns - 1) * GAP) / columns
    slots = [_set(slot, edge) for row in rows for slot in _slots(row, len(looks))]
    page, top = _blank(edge, title, looks)
    y = top
    for i in range(0, len(slots), columns):
        line = slots[i : i + columns]
        height = max(_height(slot, edge) for slot in line)
        if y > top and y + height > PAPER[1] - MARGIN:
            yield page
            page, y = _blank(edge, title, looks)
        for column, slot in enumerate(line):
            _draw(page, slot, MARGIN + column * (edge + GAP), y, edge)
        y += height + GAP
    yield page


def letters_lacking(rows: Sequence[Row], looks: Sequence[str], title: str) -> str:
    """The letters that no font of this machine has, which are printed as code points, in order."""
    lines = [title, *looks]
    for row in rows:
        lines += [line for slot in _slots(row, len(looks)) for line in slot.lines]
    return "".join(sorted(set().union(*(lacking(visible(line)) for line in lines))))


def _slots(row, looks):
    if row.problem:
        return [Slot(None, [*_noted(row), row.problem])] + [Slot(None, [])] * (looks - 1)
    facts = [*_noted(row), " · ".join(words.capture(row.facts.capture)), *row.facts.warnings]
    return [
        Slot(cell.thumbnail, [*(facts if i == 0 else []), cell.illuminant, *cell.warnings])
        for i, cell in enumerate(row.cells)
    ]


def _noted(row):
    """The frame's name, and what its shoot file says of it."""
    noted = row.noted
    mark = f", mark {noted.mark}" if noted.mark else ""
    caption = [noted.caption] if noted.caption else []
    return [row.path.name + mark, *caption, *noted.levelling, *noted.warnings]


def _set(slot, edge):
    """A slot with its text broken into lines that fit."""
    lines = [piece for line in slot.lines for piece in _wrapped(line, SMALL, edge)]
    return Slot(slot.thumbnail, lines)


def _blank(edge, title, looks):
    """An empty page with its head, and where slots begin."""
    page, y = Page(PAPER), MARGIN
    for line in _wrapped(title, LARGE, PAPER[0] - 2 * MARGIN)[:2]:
        y += 1.2 * LARGE
        page.text(MARGIN, y, line, LARGE)
    y += 2 * LEADING
    for i, look in enumerate(looks):
        for name in _wrapped(look, SMALL, edge)[:1]:
            page.text(MARGIN + i * (edge + GAP), y, name, SMALL, QUIET)
    return page, y + LEADING


def _mount(thumbnail, edge):
    """Width and height of a thumbnail on paper, and the height of its mount."""
    share = (edge - 2 * GAP) / max(thumbnail.width, thumbnail.height)
    height = share * thumbnail.height
    return share * thumbnail.width, height, height + 2 * GAP


def _height(slot, edge):
    mount = 0 if slot.thumbnail is None else _mount(slot.thumbnail, edge)[2]
    return mount + (len(slot.lines) + 0.5) * LEADING


def _draw(page, slot, x, y, edge):
    thumbnail = slot.thumbnail
    if thumbnail is not None:
        width, height, mount = _mount(thumbnail, edge)
        page.area(x, y, edge, mount, MOUNT)
        left, pixels = x + (edge - width) / 2, (thumbnail.width, thumbnail.height)
        page.photograph(left, y + GAP, width, height, thumbnail.data, pixels)
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
