"""Contact sheets on paper, read back from the PDF."""

import re
from pathlib import Path

import numpy as np
import pytest
from frames_in_memory import facts, recipe

from grading.errors import OutputError
from grading.pages.printed import DPI, MARGIN, MOST_LOOKS, MOUNT, PAPER, sheet_pages, sheet_pdf
from grading.pages.sheet import Cell, Row


def rows(count, looks, shape=(80, 120)):
    cell = Cell(np.full((*shape, 3), (200, 40, 40), np.uint8), "5600 K, Duv +0.0030", ["a warning"])
    return [Row(Path(f"frame_{i}.dng"), facts(120, 80), [cell] * looks) for i in range(count)]


def looks(count):
    return [recipe(title=f"Look {i}") for i in range(count)]


def test_pdf_has_pages_of_a4():
    data = sheet_pdf(rows(30, 1), looks(1), "Set")
    assert data.startswith(b"%PDF-") and data.rstrip().endswith(b"%%EOF")
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    assert len(boxes) == len(list(sheet_pages(rows(30, 1), looks(1), "Set"))) > 1
    # ISO 216: A4 is 210 by 297 mm; a point is 1/72 of 25.4 mm
    for width, height in boxes:
        assert float(width) == pytest.approx(210 / 25.4 * 72, abs=0.3)
        assert float(height) == pytest.approx(297 / 25.4 * 72, abs=0.3)


def test_the_same_sheet_is_the_same_bytes():
    assert sheet_pdf(rows(4, 2), looks(2), "Set") == sheet_pdf(rows(4, 2), looks(2), "Set")


@pytest.mark.parametrize("count", [1, 2, 4, MOST_LOOKS])
def test_every_frame_is_printed_once_and_within_the_margins(count):
    found = 0
    for page in sheet_pages(rows(20, count), looks(count), "Set"):
        assert page.size == PAPER
        codes = np.asarray(page).astype(int)
        edge = codes.copy()
        edge[MARGIN:-MARGIN, MARGIN:-MARGIN] = 255
        assert (edge == 255).all()
        found += mounts(codes)
    assert found == 20 * count


def mounts(codes):
    """Number of mounts: top-left corners of areas of the mount's grey."""
    grey = (codes == MOUNT).all(axis=-1)
    above, left = np.pad(grey, ((1, 0), (0, 0)))[:-1], np.pad(grey, ((0, 0), (1, 0)))[:, :-1]
    corner = grey & ~above & ~left
    run = grey[:, : -DPI // 10].copy()
    for step in range(1, DPI // 10):
        run &= grey[:, step : step - DPI // 10 or None][:, : run.shape[1]]
    return int((corner[:, : run.shape[1]] & run).sum())


def test_upright_frames_and_long_texts_fit():
    problem = Row(Path("x" * 300 + ".dng"), None, [], "cannot be read: " + "y" * 500)
    many = looks(2) + [recipe(title="z" * 200)]
    for page in sheet_pages([*rows(5, 3, (120, 40)), problem], many, "A long title " * 30):
        codes = np.asarray(page)
        assert (codes[:, -MARGIN:] == 255).all()
        assert (codes[-MARGIN:] == 255).all()


def test_too_many_looks():
    with pytest.raises(OutputError, match="7 looks side by side; allowed: up to 6"):
        sheet_pdf(rows(1, 7), looks(7), "Set")
