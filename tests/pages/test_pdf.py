"""PDF files, read back by their own structure and by another reader where there is one."""

import re
import shutil
import subprocess
import zlib

import numpy as np
import pytest
from PIL import Image

from grading.colour.profiles import icc_profile
from grading.files.formats.jpeg import encode_jpeg
from grading.pages.pdf import Page, pdf, printable, text_width

# Advance widths of Helvetica: the metrics published with the 14 standard fonts, from memory.
PUBLISHED = {"A": 667, "W": 944, "i": 222, "m": 833, "5": 556, " ": 278, "é": 556, "@": 1015}


@pytest.fixture
def data():
    red = np.full((40, 60, 3), (200, 30, 30), np.uint8)
    first, second = Page((200, 100)), Page((200, 100))
    first.area(0, 0, 100, 50, 119 / 255)
    first.photograph(120, 10, 60, 40, encode_jpeg(red, icc_profile("srgb"), None, 95), (60, 40))
    second.text(10, 20, "Häfen (1) \\ f/8", 10)
    return pdf([first, second], "Häfen 日")


def test_every_object_begins_where_the_table_says(data):
    # ISO 32000-1:2008, 7.5.4: entries of 20 bytes, the first for object 0
    start = int(re.search(rb"startxref\n(\d+)\n%%EOF\n$", data)[1])
    head = re.match(rb"xref\n0 (\d+)\n", data[start:])
    count = int(head[1])
    entries = data[start + head.end() :][: 20 * count]
    for number in range(1, count):
        place = int(entries[20 * number : 20 * number + 10])
        assert data[place:].startswith(b"%d 0 obj\n" % number)
    assert f"/Size {count} ".encode() in data


def test_every_stream_is_as_long_as_it_says(data):
    for match in re.finditer(rb"/Length (\d+) >>\nstream\n", data):
        assert data[match.end() + int(match[1]) :].startswith(b"\nendstream\n")


def test_the_profile_is_that_of_srgb(data):
    match = re.search(rb"/N 3 /Filter /FlateDecode /Length (\d+) >>\nstream\n", data)
    assert zlib.decompress(data[match.end() :][: int(match[1])]) == icc_profile("srgb")
    assert data.count(b"/DefaultRGB [/ICCBased 4 0 R]") == 2


def test_letters_that_the_font_lacks():
    assert printable("Zürich 5 €, Łódź, Ωmega 日本") == "Zürich 5 €, ?ódz, ?mega ??"


@pytest.mark.parametrize(("letter", "width"), PUBLISHED.items())
def test_widths_are_those_of_the_font(letter, width):
    assert text_width(letter * 3, 10) == pytest.approx(3 * width / 100)


def by_poppler(tool, *arguments):
    if not shutil.which(tool):
        pytest.skip(f"no {tool} (poppler) is installed")
    return subprocess.run([tool, *arguments], capture_output=True, check=True)


def test_another_reader_finds_the_text(data, tmp_path):
    (tmp_path / "a.pdf").write_bytes(data)
    found = by_poppler("pdftotext", "-f", "2", tmp_path / "a.pdf", "-")
    assert (found.stdout.decode().strip(), found.stderr) == ("Häfen (1) \\ f/8", b"")
    assert "Häfen 日" in by_poppler("pdfinfo", tmp_path / "a.pdf").stdout.decode()


def test_another_reader_shows_the_picture(data, tmp_path):
    (tmp_path / "a.pdf").write_bytes(data)
    options = ("-r", "72", "-l", "1", "-singlefile", "-png")
    by_poppler("pdftoppm", *options, tmp_path / "a.pdf", tmp_path / "a")
    codes = np.asarray(Image.open(tmp_path / "a.png").convert("RGB")).astype(int)
    assert codes.shape == (100, 200, 3)
    for (y, x), colour in {(25, 50): (119, 119, 119), (30, 150): (200, 30, 30)}.items():
        assert np.abs(codes[y, x] - colour).max() <= 3
    for y, x in ((60, 50), (25, 110), (60, 150)):
        assert (codes[y, x] == 255).all()
