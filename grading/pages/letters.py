"""Letters beyond the alphabet of a PDF's standard font, drawn by the fonts that the machine has.

No font comes with this package. A text in another script is drawn once, at the resolution of a good
printer, by the first font of the machine that has all its letters; a letter that none has is
written as its code point.
"""

import os
import sys
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

ALPHABET = "cp1252"
"""What the standard font has."""

EM = 64
"""Pixels of an em: 600 a printed inch in text of 7.7 points."""

_ENDINGS = {".ttf", ".otf", ".ttc"}
_PLAIN = {"Regular", "Book", "Roman", "Normal"}
_NO_CHARACTER = "\uffff"
_UNSEEN = {"Mn", "Me", "Cf", "Zs"}
"""Kinds of characters (Unicode, general category) that need not show anything by themselves."""


@dataclass(frozen=True)
class Piece:
    """Part of a line: a text in the standard font, or one drawn by another font.

    Attributes
    ----------
    text : str
    font : Path or None
        None for the standard font.
    """

    text: str
    font: Path | None = None


@dataclass(frozen=True)
class Stencil:
    """A drawn text: one bit a pixel, 0 where there is ink, rows of whole bytes.

    Attributes
    ----------
    bits : bytes
    width, height : int
        Pixels, of which an em has `EM`.
    left, below : int
        How far it begins right of the place of the text, and ends below the line, in pixels.
    """

    bits: bytes
    width: int
    height: int
    left: int
    below: int


def pieces(text: str) -> list[Piece]:
    """A line cut into pieces that one font can set; words in one script stay together.

    Parameters
    ----------
    text : str
        Visible characters (`grading.terminal.visible`).
    """
    runs = []
    for word in text.split(" "):
        is_standard = all(map(_is_standard, word))
        if runs and runs[-1][0] == is_standard:
            runs[-1][1].append(word)
        else:
            runs.append((is_standard, [word]))
    found = []
    for i, (is_standard, words) in enumerate(runs):
        run = " ".join(words)
        found += [Piece(" ")] if i else []
        found += [Piece(run)] if is_standard else _set(run)
    return _joined(found)


def _set(run):
    """A run by one font if one has all of it; else word by word, else letter by letter."""
    if font := font_for(run):
        return [Piece(run, font)]
    if " " in run:
        first, *rest = run.split(" ")
        return _set(first) + [piece for word in rest for piece in (Piece(" "), *_set(word))]
    return [
        Piece(letter) if _is_standard(letter)
        else Piece(letter, font) if (font := font_for(letter))
        else Piece(letter.encode("unicode_escape").decode("ascii"))
        for letter in run
    ]  # fmt: skip


def _joined(found):
    joined = []
    for piece in found:
        if joined and joined[-1].font == piece.font:
            joined[-1] = Piece(joined[-1].text + piece.text, piece.font)
        else:
            joined.append(piece)
    return joined


def lacking(text: str) -> set[str]:
    """The letters of a text that no font of this machine has."""
    return {letter for letter in text if not _is_standard(letter) and not font_for(letter)}


def _is_standard(letter):
    return bool(letter.encode(ALPHABET, "ignore"))


@cache
def font_for(text: str) -> Path | None:
    """The first font of this machine that has every letter of a text."""
    letters = [each for each in text if unicodedata.category(each) not in _UNSEEN]
    return next((font for font in fonts() if _has(font, letters)), None)


def _has(path, letters):
    try:
        return all(_shows(path, letter) for letter in letters)
    except OSError:  # a font whose letters are damaged
        return False


@cache
def _shows(path, letter):
    """Whether a font draws a letter, and not what it draws where it has none."""
    font = _opened(path)
    mask, none = font.getmask(letter), font.getmask(_NO_CHARACTER)
    return mask.size != none.size or bytes(mask) != bytes(none)


@cache
def _opened(path) -> Any:
    from PIL import ImageFont

    try:
        return ImageFont.truetype(path, EM)
    except (OSError, ValueError):  # a font of pictures, or a damaged one
        return None


@cache
def fonts() -> tuple[Path, ...]:
    """The fonts of this machine that can be opened: plain ones without serifs first, by name."""
    found = {
        Path(folder, name)
        for place in _folders()
        for folder, _, names in os.walk(place)
        for name in names
        if Path(name).suffix.lower() in _ENDINGS
    }
    return tuple(sorted(filter(_opened, found), key=_order))


def _order(path):
    family, style = (name or "" for name in _opened(path).getname())
    return style not in _PLAIN, "Mono" in family, "Sans" not in family, family, str(path)


def _folders():
    """Where systems keep fonts: those of Unix desktops, macOS and Windows."""
    home = Path.home()
    if sys.platform == "win32":
        own = os.environ.get("LOCALAPPDATA", home)
        return [Path(os.environ.get("WINDIR", "C:/Windows"), "Fonts"),
                Path(own, "Microsoft/Windows/Fonts")]  # fmt: skip
    if sys.platform == "darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    return [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".local/share/fonts"]


def drawn_width(piece: Piece) -> float:
    """Width of a drawn piece, in ems."""
    return _opened(piece.font).getlength(piece.text) / EM


def stencil(piece: Piece) -> Stencil:
    """A piece, drawn."""
    from PIL import Image, ImageDraw

    font = _opened(piece.font)
    left, top, right, bottom = font.getbbox(piece.text, anchor="ls")
    size = max(1, right - left), max(1, bottom - top)
    image = Image.new("L", size, 255)
    ImageDraw.Draw(image).text((-left, -top), piece.text, 0, font, anchor="ls")
    bits = image.point(lambda code: 255 * (code > 127)).convert("1", dither=Image.Dither.NONE)
    return Stencil(bits.tobytes(), *size, left, bottom)
