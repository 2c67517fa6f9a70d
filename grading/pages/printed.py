"""Contact sheets on paper: a PDF of A4 pages, upright, at 200 dots an inch."""

import io
from dataclasses import dataclass
from functools import cache

from grading.errors import OutputError
from grading.pages import words

DPI = 200
PAPER = (round(210 / 25.4 * DPI), round(297 / 25.4 * DPI))
MARGIN = round(12 / 25.4 * DPI)
GAP = round(4 / 25.4 * DPI)
SMALL, LARGE = round(7.5 / 72 * DPI), round(13 / 72 * DPI)
"""Heights of type: 7.5 and 13 points."""
LEADING = round(SMALL * 1.3)
TILES = 3
"""Columns where there is one look."""
MOST_LOOKS = 6
INK, QUIET, MOUNT = (20, 20, 20), (80, 80, 80), (119, 119, 119)


@dataclass(frozen=True)
class Slot:
    """What stands in one place of a sheet: a thumbnail, or none, with lines of text below."""

    thumbnail: object
    lines: list


def sheet_pdf(rows, recipes, title):
    """A printable contact sheet.

    Parameters
    ----------
    rows : sequence of Row
        From `grading.pages.sheet.contact_rows`.
    recipes : sequence of Recipe
        At most `MOST_LOOKS`.
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
    if len(recipes) > MOST_LOOKS:
        raise OutputError(
            f"{len(recipes)} looks side by side",
            allowed=f"up to {MOST_LOOKS} on a printed page",
            remedy="write an HTML page, or make several sheets",
        )
    pages = list(sheet_pages(rows, recipes, title))
    data = io.BytesIO()
    pages[0].save(
        data, "PDF", save_all=True, append_images=pages[1:], resolution=DPI, quality=90,
        title=title, creationDate=None, modDate=None,
    )
    return data.getvalue()


def sheet_pages(rows, recipes, title):
    """The pages as images, filled from the top with as many lines of slots as they hold.

    Yields
    ------
    PIL.Image.Image
        RGB, of the size `PAPER`.
    """
    columns = TILES if len(recipes) == 1 else len(recipes)
    edge = (PAPER[0] - 2 * MARGIN - (columns - 1) * GAP) // columns
    slots = [slot for row in rows for slot in _slots(row, len(recipes))]
    sheet, y = _blank(edge, title, recipes)
    top = y
    for i in range(0, len(slots), columns):
        drawn = [_draw(slot, edge) for slot in slots[i : i + columns]]
        height = max(image.height for image in drawn)
        if y > top and y + height > PAPER[1] - MARGIN:
            yield sheet
            sheet, y = _blank(edge, title, recipes)
        for column, image in enumerate(drawn):
            sheet.paste(image, (MARGIN + column * (edge + GAP), y))
        y += height + GAP
    yield sheet


def _slots(row, looks):
    if row.problem:
        return [Slot(None, [row.path.name, row.problem])] + [Slot(None, [])] * (looks - 1)
    facts = [row.path.name, " · ".join(words.capture(row.facts.capture)), *row.facts.warnings]
    return [
        Slot(cell.thumbnail, [*(facts if i == 0 else []), cell.light, *cell.warnings])
        for i, cell in enumerate(row.cells)
    ]


def _blank(edge, title, recipes):
    """An empty page with its head, and the row at which slots begin."""
    from PIL import Image, ImageDraw

    sheet = Image.new("RGB", PAPER, "white")
    draw = ImageDraw.Draw(sheet)
    y = MARGIN
    for line in _wrapped(title, _font(LARGE), PAPER[0] - 2 * MARGIN)[:2]:
        draw.text((MARGIN, y), line, INK, _font(LARGE))
        y += round(1.4 * LARGE)
    for i, recipe in enumerate(recipes):
        name = _wrapped(words.recipe_name(recipe), _font(SMALL), edge)[:1]
        draw.text((MARGIN + i * (edge + GAP), y), "".join(name), QUIET, _font(SMALL))
    return sheet, y + 2 * LEADING


def _draw(slot, edge):
    """A slot as an image, as wide as its column."""
    from PIL import Image, ImageDraw

    font = _font(SMALL)
    lines = [part for line in slot.lines for part in _wrapped(line, font, edge)]
    picture = _fitted(slot.thumbnail, edge) if slot.thumbnail is not None else None
    top = picture.height + LEADING // 3 if picture else 0
    image = Image.new("RGB", (edge, top + len(lines) * LEADING + 1), "white")
    if picture:
        image.paste(picture)
    draw = ImageDraw.Draw(image)
    for i, line in enumerate(lines):
        draw.text((0, top + i * LEADING), line, INK, font)
    return image


def _fitted(thumbnail, edge):
    """A thumbnail on its mount, within a square of the column's width."""
    from PIL import Image

    picture = Image.fromarray(thumbnail)
    share = (edge - 2 * GAP) / max(picture.size)
    picture = picture.resize([round(share * n) for n in picture.size], Image.Resampling.LANCZOS)
    mount = Image.new("RGB", (edge, picture.height + 2 * GAP), MOUNT)
    mount.paste(picture, ((edge - picture.width) // 2, GAP))
    return mount


def _wrapped(text, font, width):
    """A text as lines that fit; a word that is too long is broken."""
    lines, line = [], ""
    for word in [each.replace(words.NO_BREAK, " ") for each in text.split(" ")]:
        longer = f"{line} {word}".strip()
        if line and font.getlength(longer) > width:
            lines.append(line)
            longer = word
        *broken, line = _broken(longer, font, width)
        lines += broken
    return [*lines, line] if line else lines


def _broken(word, font, width):
    """A word in parts that fit; mostly there is one."""
    parts = [""]
    for letter in word:
        if parts[-1] and font.getlength(parts[-1] + letter) > width:
            parts.append("")
        parts[-1] += letter
    return parts


@cache
def _font(size):
    from PIL import ImageFont

    return ImageFont.load_default(size)
