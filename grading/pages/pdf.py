"""A small writer of PDF pages: text, areas of grey and photographs.

ISO 32000-1:2008. Text is set in Helvetica, one of the standard fonts that every reader has
(9.6.2.2), in its Latin alphabet; what is beyond that is drawn (`grading.pages.letters`) and painted
through a stencil mask (8.9.6.2), so it cannot be searched for. All colours are sRGB by an ICC
profile (8.6.5.6, DefaultRGB). Lengths are points, 1/72 inch, from the top left of the page. Nothing
of the time goes in, and of the machine only its fonts where they are needed, so the same pages are
the same bytes.
"""

import unicodedata
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field

from grading.colour.profiles import icc_profile
from grading.pages.letters import ALPHABET, EM, drawn_width, pieces, stencil
from grading.terminal import visible

# Advance widths of Helvetica in 1/1000 of the size, from the font's published metrics.
_WIDTHS = {
    letter: width
    for width, letters in {
        191: "'",
        222: "ijl",
        260: "|",
        278: " !,./:;I[\\]ft·",
        333: "()-r`",
        334: "{}",
        355: '"',
        389: "*",
        469: "^",
        500: "Jckvsxyz",
        556: "#$?_Labdeghnopqu0123456789–",
        584: "+<=>~",
        611: "FTZßø",
        667: "&ABEKPSVXY",
        722: "CDHNRUw",
        778: "GOQØ",
        833: "Mm",
        889: "%æ",
        944: "W",
        1000: "Æ",
        1015: "@",
    }.items()
    for letter in letters
}
_WIDEST = 1015


@dataclass
class Page:
    """A page being drawn, of ``size`` (width, height)."""

    size: tuple[float, float]
    commands: list[str] = field(default_factory=list)
    photographs: list[tuple] = field(default_factory=list)
    stencils: list[tuple] = field(default_factory=list)

    def text(self, x: float, y: float, text: str, size: float, grey: float = 0.0) -> None:
        """A line of text whose letters stand on y."""
        for piece in pieces(visible(text)):
            if piece.font:
                self._drawn(x, y, piece, size, grey)
                x += size * drawn_width(piece)
                continue
            codes = piece.text.encode(ALPHABET).hex()
            place = _place(x, self._up(y))
            self.commands.append(f"{_grey(grey)} rg BT /F {size} Tf {place} Td <{codes}> Tj ET")
            x += _width(piece.text, size)

    def _drawn(self, x, y, piece, size, grey):
        drawn, scale = stencil(piece), size / EM
        name = f"S{len(self.stencils)}"
        self.stencils.append((name, drawn))
        width, height = scale * drawn.width, scale * drawn.height
        corner = _place(x + scale * drawn.left, self._up(y + scale * drawn.below))
        self.commands.append(
            f"q {_grey(grey)} rg {width:.2f} 0 0 {height:.2f} {corner} cm /{name} Do Q"
        )

    def area(self, x: float, y: float, width: float, height: float, grey: float) -> None:
        """A rectangle of grey (0 black to 1 white, as sRGB codes)."""
        corner = _place(x, self._up(y + height))
        self.commands.append(f"{_grey(grey)} rg {corner} {_place(width, height)} re f")

    def photograph(
        self, x: float, y: float, width: float, height: float, jpeg: bytes, pixels: Sequence[int]
    ) -> None:
        """A JPEG of ``pixels`` (width, height), stretched over a rectangle."""
        name = f"P{len(self.photographs)}"
        self.photographs.append((name, jpeg, pixels))
        corner = _place(x, self._up(y + height))
        self.commands.append(f"q {width:.2f} 0 0 {height:.2f} {corner} cm /{name} Do Q")

    def _up(self, y):
        return self.size[1] - y


def text_width(text: str, size: float) -> float:
    """Width of a line; an accented letter of the standard font is as wide as its base."""
    return sum(
        size * drawn_width(piece) if piece.font else _width(piece.text, size)
        for piece in pieces(visible(text))
    )


def _width(text, size):
    return size / 1000 * sum(map(_advance, text))


def _advance(letter):
    base = unicodedata.normalize("NFKD", letter)[0]
    return _WIDTHS.get(letter, _WIDTHS.get(base, _WIDEST))


def pdf(pages: list[Page], title: str) -> bytes:
    """The file of some pages.

    Parameters
    ----------
    pages : list of Page
    title : str

    Returns
    -------
    bytes
    """
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"",  # the tree of pages, known at the end
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>",
        _stream("/N 3 /Filter /FlateDecode", zlib.compress(icc_profile("srgb"))),
        f"<< /Title <feff{visible(title).encode('utf-16-be').hex()}> >>".encode(),
    ]
    numbers = [_add_page(objects, page) for page in pages]
    kids = " ".join(f"{number} 0 R" for number in numbers)
    objects[1] = f"<< /Type /Pages /Kids [{kids}] /Count {len(numbers)} >>".encode()
    return _file(objects)


def _add_page(objects, page):
    names = []
    for name, jpeg, (width, height) in page.photographs:
        objects.append(
            _stream(
                f"/Type /XObject /Subtype /Image /Width {width} /Height {height} "
                "/ColorSpace /DeviceRGB /BitsPerComponent 8 /Filter /DCTDecode",
                jpeg,
            )
        )
        names.append(f"/{name} {len(objects)} 0 R")
    for name, drawn in page.stencils:
        objects.append(
            _stream(
                f"/Type /XObject /Subtype /Image /Width {drawn.width} /Height {drawn.height} "
                "/ImageMask true /BitsPerComponent 1 /Filter /FlateDecode",
                zlib.compress(drawn.bits),
            )
        )
        names.append(f"/{name} {len(objects)} 0 R")
    objects.append(_stream("", "\n".join(page.commands).encode("ascii")))
    content = len(objects)
    width, height = page.size
    objects.append(
        f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {width:.2f} {height:.2f}] "
        f"/Contents {content} 0 R /Resources << /Font << /F 3 0 R >> "
        f"/ColorSpace << /DefaultRGB [/ICCBased 4 0 R] >> /XObject << {' '.join(names)} >> >> >>"
        .encode()
    )
    return len(objects)


def _stream(entries, data):
    return f"<< {entries} /Length {len(data)} >>\nstream\n".encode() + data + b"\nendstream"


def _file(objects):
    """Header, objects, the table of where they begin, trailer (7.5)."""
    parts, places, size = [b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"], [], 15
    for number, body in enumerate(objects, 1):
        places.append(size)
        parts.append(b"%d 0 obj\n%b\nendobj\n" % (number, body))
        size += len(parts[-1])
    table = "".join(f"{place:010} 00000 n \n" for place in places)
    count = len(objects) + 1
    parts.append(
        f"xref\n0 {count}\n0000000000 65535 f \n{table}"
        f"trailer\n<< /Size {count} /Root 1 0 R /Info 5 0 R >>\nstartxref\n{size}\n%%EOF\n".encode()
    )
    return b"".join(parts)


def _grey(share):
    return f"{share:.4f} {share:.4f} {share:.4f}"


def _place(x, y):
    return f"{x:.2f} {y:.2f}"
