"""PDF files, read back by their own structure and by another reader where there is one."""

import re
import shutil
import subprocess
import zlib

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from grading.colour.profiles import icc_profile
from grading.files.formats.jpeg import encode_jpeg
from grading.pages import letters
from grading.pages.pdf import Page, pdf, text_width

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


SCRIPTS = {"Greek": "Λιμάνι", "Cyrillic": "Гавань", "Polish": "Łódź", "Arabic": "ميناء هادئ"}


@pytest.fixture(params=SCRIPTS.values(), ids=SCRIPTS)
def word(request):
    if not letters.font_for(request.param):
        pytest.skip("no font of this machine has these letters")
    return request.param


def drawn(folder, text):
    """The page of a text as a picture of 144 pixels an inch."""
    page = Page((200, 50))
    page.text(10, 30, text, 12)
    (folder / "a.pdf").write_bytes(pdf([page], text))
    by_poppler("pdftoppm", "-r", "144", "-singlefile", "-png", folder / "a.pdf", folder / "a")
    return np.asarray(Image.open(folder / "a.png").convert("L"))


def test_other_scripts_are_drawn(word, tmp_path):
    """Ink stands where the text is, as wide as is said, and is what the font itself draws."""
    codes = drawn(tmp_path, word)
    rows, columns = np.nonzero(codes < 128)
    width = 2 * text_width(word, 12)
    assert columns.min() == pytest.approx(20, abs=4)
    assert columns.max() == pytest.approx(20 + width, abs=4)
    assert 60 - 2 * 12 <= rows.min() and rows.max() <= 60 + 12
    font = ImageFont.truetype(letters.font_for(word), 24)
    left, top, right, bottom = font.getbbox(word, anchor="ls")
    image = Image.new("L", (right - left, bottom - top), 255)
    ImageDraw.Draw(image).text((-left, -top), word, 0, font, anchor="ls")
    ink = (255 - np.asarray(image).astype(float)).sum()
    assert (255 - codes.astype(float)).sum() == pytest.approx(ink, rel=0.15)


def test_a_line_of_two_scripts_is_set_word_by_word(word):
    first, other, last = letters.pieces(f"Frame 7, {word} at dusk")
    assert (first.text, first.font) == ("Frame 7, ", None)
    assert (other.text, other.font) == (word, letters.font_for(word))
    assert (last.text, last.font) == (" at dusk", None)


def test_letters_that_no_font_has_are_written_as_code_points(monkeypatch):
    monkeypatch.setattr(letters, "fonts", lambda: ())
    letters.font_for.cache_clear()
    assert letters.pieces("Zürich 5 €, Ωmega 日\U0001f6a2") == [
        letters.Piece(r"Zürich 5 €, \u03a9mega \u65e5\U0001f6a2")
    ]
    assert letters.lacking("Zürich Ω日") == {"Ω", "日"}
    letters.font_for.cache_clear()


def test_a_font_that_is_damaged_is_passed_over(monkeypatch, tmp_path):
    (tmp_path / "a.ttf").write_bytes(b"no font")
    monkeypatch.setattr(letters, "_folders", lambda: [tmp_path])
    assert letters.fonts.__wrapped__() == ()


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
