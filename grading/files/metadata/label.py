"""What an output says to people beside its pixels: credits, caption, mark, place, print density.

Exif 2.32 (CIPA DC-008), tables 3 and 4; what XMP says of it is in `grading.files.metadata.xmp`.
"""

import re
from dataclasses import dataclass, fields

from grading.errors import OutputError
from grading.files.metadata.tifftags import ASCII, RATIONAL, SHORT, Tag

KEEP, LEAVE_OUT = "keep", "leave_out"
DESCRIPTION, ARTIST, COPYRIGHT = 270, 315, 33432
ACROSS, DOWN, UNIT, INCH = 282, 283, 296, 2

DPI = (1, 65535)
"""Least and most pixels an inch that the head of a JPEG has room for."""

RATINGS = (1, 5)
"""Of a frame that has one; ISO 16684-1 (XMP), xmp:Rating."""

_UNWRITABLE = re.compile("[^\t\n\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (2.2) cannot hold, and control characters that it could."""


def check_text(text: str) -> str:
    """The text itself, if a file can carry it.

    Raises
    ------
    ValueError
        If it is empty, or has a character that XML cannot hold.
    """
    if not text.strip():
        raise ValueError("an empty text; leave the key out, or take it back by null")
    if found := _UNWRITABLE.search(text):
        raise ValueError(f"the control character {found[0]!r}; allowed: printed text, line breaks")
    return text


def writable(text: str) -> str:
    """A text with a replacement character for each that XML cannot hold."""
    return _UNWRITABLE.sub("\ufffd", text)


@dataclass(frozen=True)
class Label:
    """What an output says beside its pixels.

    Attributes
    ----------
    creator, credit, rights, rights_page, terms : str or None
        As in the IPTC Photo Metadata Standard: Creator, Credit Line, Copyright Notice, Web
        Statement of Rights, Rights Usage Terms.
    keywords : tuple of str
    caption : str or None
        Description.
    rating : int or None
        1 to 5.
    place : {"leave_out", "keep"}
        Whether the file says where the frame was taken.
    dpi : int or None
        Pixels an inch in print.

    Raises
    ------
    OutputError
        For a value that is not among these.
    """

    creator: str | None = None
    credit: str | None = None
    rights: str | None = None
    rights_page: str | None = None
    terms: str | None = None
    keywords: tuple[str, ...] = ()
    caption: str | None = None
    rating: int | None = None
    place: str = LEAVE_OUT
    dpi: int | None = None

    def __post_init__(self):
        for name in TEXTS:
            _check(name, getattr(self, name))
        if not isinstance(self.keywords, (list, tuple)):
            raise OutputError(f"keywords = {self.keywords!r}", allowed="a list of texts")
        for each in self.keywords:
            _check("keywords", each)
        object.__setattr__(self, "keywords", tuple(self.keywords))
        if self.place not in (KEEP, LEAVE_OUT):
            raise OutputError(f"place = {self.place!r}", allowed=f"{KEEP}, {LEAVE_OUT}")
        for name, (low, high) in (("rating", RATINGS), ("dpi", DPI)):
            value = getattr(self, name)
            if value is not None and not (type(value) is int and low <= value <= high):
                allowed = f"a whole number, {low} to {high}"
                raise OutputError(f"{name} = {value!r}", allowed=allowed)

    @property
    def keeps_place(self) -> bool:
        """Whether the place of capture is handed on."""
        return self.place == KEEP

    def as_mapping(self) -> dict:
        """What is stated, in plain values.

        >>> Label(creator="A. Name", dpi=300).as_mapping()
        {'creator': 'A. Name', 'dpi': 300}
        """
        stated = {each.name: getattr(self, each.name) for each in fields(self)
                  if getattr(self, each.name) != each.default}  # fmt: skip
        return {key: list(v) if isinstance(v, tuple) else v for key, v in stated.items()}


TEXTS = ("creator", "credit", "rights", "rights_page", "terms", "caption")


def _check(name, text):
    if text is None and name != "keywords":
        return
    if not isinstance(text, str):
        raise OutputError(f"{name} = {text!r}", allowed="text")
    try:
        check_text(text)
    except ValueError as error:
        raise OutputError(f"{name}: {error}") from None


def label_of(values: dict) -> Label:
    """The label that `Label.as_mapping` stated.

    Raises
    ------
    OutputError
        If one of its keys or values is not possible.
    """
    known = [each.name for each in fields(Label)]
    for name in values:
        if name not in known:
            raise OutputError(f"label.{name} is unknown", allowed=", ".join(known))
    return Label(**values)


def labelled(carried: tuple | None, label: Label) -> tuple | None:
    """EXIF directories as an output with this label carries them.

    Parameters
    ----------
    carried : tuple of dict, or None
        From `grading.files.metadata.exif.carried_exif`.
    label : Label

    Returns
    -------
    tuple of dict, or None
        The main, EXIF and GPS directories; None where there is nothing to say.
    """
    main, exif, gps = carried or ({}, {}, {})
    texts = {ARTIST: label.creator, COPYRIGHT: label.rights, DESCRIPTION: label.caption}
    stated = {code: Tag(ASCII, text) for code, text in texts.items() if text}
    if label.dpi:
        density = Tag(RATIONAL, ((label.dpi, 1),))
        stated |= {ACROSS: density, DOWN: density, UNIT: Tag(SHORT, (INCH,))}
    if carried is None and not stated:
        return None
    return main | stated, exif, gps if label.keeps_place else {}


def density(directories: tuple | None) -> int | None:
    """Pixels an inch that EXIF directories of an output state, or None."""
    tag = directories[0].get(ACROSS) if directories else None
    return tag.values[0][0] if tag else None
