"""Contact sheets on paper: what is drawn where."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from frames_in_memory import facts
from grading.errors import OutputError
from grading.files.formats.jpeg import encode_jpeg
from grading.pages.pdf import text_width
from grading.pages.printed import MARGIN, MAX_LOOKS, PAPER, sheet_pages, sheet_pdf
from grading.pages.sheet import Cell, Jpeg, Noted, Row

ACROSS, UP = PAPER


def rows(count, looks, shape=(80, 120)):
    red = encode_jpeg(np.full((*shape, 3), (200, 40, 40), np.uint8), None, None, 90)
    cell = Cell(Jpeg(red, *shape[::-1]), "5600 K, Duv +0.0030", ["a warning"])
    return [Row(Path(f"frame_{i}.dng"), facts(120, 80), [cell] * looks) for i in range(count)]


def looks(count):
    return [f"Look {i}" for i in range(count)]


def boxes(page):
    """Left, top, right and bottom of each photograph, from the page's own commands."""
    found = []
    for command in page.commands:
        if match := re.fullmatch(r"q (\S+) 0 0 (\S+) (\S+) (\S+) cm /P\d+ Do Q", command):
            width, height, x, y = map(float, match.groups())
            found.append((x, UP - y - height, x + width, UP - y))
    return found


def texts(page):
    """Left, line, right and words of each text."""
    found = []
    for command in page.commands:
        pattern = r".* rg BT /F (\S+) Tf (\S+) (\S+) Td <(\w*)> Tj ET"
        if match := re.fullmatch(pattern, command):
            size, x, y = map(float, match.groups()[:3])
            words = bytes.fromhex(match[4]).decode("cp1252")
            found.append((x, UP - y, x + text_width(words, size), words))
    return found


def test_pages_are_a4():
    data = sheet_pdf(rows(30, 1), looks(1), "Set")
    sizes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert len(sizes) == len(list(sheet_pages(rows(30, 1), looks(1), "Set"))) > 1
    # ISO 216: A4 is 210 by 297 mm; a point is 1/72 of 25.4 mm
    for width, height in sizes:
        assert float(width) == pytest.approx(210 / 25.4 * 72, abs=0.01)
        assert float(height) == pytest.approx(297 / 25.4 * 72, abs=0.01)


def test_the_same_sheet_is_the_same_bytes():
    assert sheet_pdf(rows(4, 2), looks(2), "Set") == sheet_pdf(rows(4, 2), looks(2), "Set")


@pytest.mark.parametrize("shape", [(80, 120), (120, 80), (30, 120)])
@pytest.mark.parametrize("count", [1, 2, 4, MAX_LOOKS])
def test_every_frame_is_printed_once_in_its_shape_and_apart(count, shape):
    found = 0
    for page in sheet_pages(rows(20, count, shape), looks(count), "Set"):
        areas = boxes(page)
        found += len(areas)
        for left, top, right, bottom in areas:
            assert (right - left) / (bottom - top) == pytest.approx(shape[1] / shape[0], rel=0.01)
            assert left > MARGIN and right < ACROSS - MARGIN
            assert top > MARGIN and bottom < UP - MARGIN
        for i, (left, top, right, bottom) in enumerate(areas):
            for x0, y0, x1, y1 in areas[i + 1 :]:
                assert x0 > right or x1 < left or y0 > bottom or y1 < top
    assert found == 20 * count


def test_each_look_has_its_column():
    (page,) = sheet_pages(rows(2, 3), looks(3), "Set")
    names = {words: left for left, _, _, words in texts(page) if words.startswith("Look")}
    lefts = [box[0] for box in boxes(page)]
    assert list(names) == ["Look 0", "Look 1", "Look 2"]
    assert lefts[:3] == lefts[3:] == sorted(lefts[:3])
    for left, name in zip(lefts, names.values(), strict=False):
        assert name <= left < name + 40


def test_names_and_warnings_are_printed():
    (page,) = sheet_pages(rows(2, 1), looks(1), "An evening")
    words = [each[3] for each in texts(page)]
    for text in ("An evening", "frame_0.dng", "frame_1.dng", "a warning", "5600 K, Duv +0.0030"):
        assert text in words


def test_what_a_shoot_notes_is_printed():
    (row,) = rows(1, 1)
    noted = Noted(4, "First lamps", ("level +0.33 stops",), ("16% is clipped",))
    (page,) = sheet_pages([replace(row, noted=noted)], looks(1), "Set")
    words = [each[3] for each in texts(page)]
    for text in ("frame_0.dng, mark 4", "First lamps", "level +0.33 stops", "16% is clipped"):
        assert text in words


def test_long_texts_stay_within_the_margins():
    problem = Row(Path("x" * 300 + ".dng"), None, [], "cannot be read: " + "y" * 500)
    many = looks(2) + ["z" * 200]
    for page in sheet_pages([*rows(5, 3), problem], many, "A long title " * 30):
        for left, line, right, words in texts(page):
            assert left >= MARGIN - 0.01 and right <= ACROSS - MARGIN + 0.01, words
            assert MARGIN < line < UP - MARGIN


@pytest.mark.parametrize("height", range(10, 130, 8))
def test_a_page_is_full_but_for_its_lower_margin(height):
    """Heights of frames are such that a line of them would end anywhere in the margin."""
    *full, _ = sheet_pages(rows(60, 1, (height, 120)), looks(1), "Set")
    for page in full:
        last = max(line for _, line, _, _ in texts(page))
        assert last <= UP - MARGIN
        tallest = max(bottom - top for _, top, _, bottom in boxes(page))
        assert last + tallest + 100 > UP - MARGIN  # text and mount are less than that


def test_names_are_printed_as_what_they_are():
    problem = Row(Path("a\x1b[2J\u202e.dng"), None, [], "an \udcff error")
    (page,) = sheet_pages([problem], looks(1), "Set \x07")
    words = " ".join(each[3] for each in texts(page))
    for text in (r"a\x1b[2J\u202e.dng", r"an \xff error", r"Set \x07"):
        assert text in words
    assert rb"/Title <feff" + r"Set \xff".encode("utf-16-be").hex().encode() in sheet_pdf(
        [problem], looks(1), "Set \udcff"
    )


def test_too_many_looks():
    with pytest.raises(OutputError, match="7 looks side by side; allowed: up to 6"):
        sheet_pdf(rows(1, 7), looks(7), "Set")
