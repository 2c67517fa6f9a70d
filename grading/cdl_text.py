"""Colour decisions of the ASC as XML: ColorCorrection, alone, in a collection or a decision list.

Read and written are the elements of the ASC CDL v1.2 (namespace ``urn:ASC:CDL:v1.2``; files of
other versions and without a namespace are read as well). A document type declaration is refused,
so that no entity is ever expanded.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from xml.etree.ElementTree import TreeBuilder
from xml.parsers import expat
from xml.sax.saxutils import escape, quoteattr

from grading.errors import RecipeError
from grading.messages import listed, nearest, shortened
from grading.terminal import visible

NAMESPACE = "urn:ASC:CDL:v1.2"

_RULES = {
    "finite": lambda value: True,
    "at least 0": lambda value: value >= 0,
    "above 0": lambda value: value > 0,
}


@dataclass(frozen=True)
class Decision:
    """A colour decision; slope, offset and power of red, green and blue."""

    slope: tuple[float, ...] = (1.0, 1.0, 1.0)
    offset: tuple[float, ...] = (0.0, 0.0, 0.0)
    power: tuple[float, ...] = (1.0, 1.0, 1.0)
    saturation: float = 1.0


def read_decision(text: str, place: str, chosen: str | None = None) -> Decision:
    """A colour decision from the text of an XML file.

    Parameters
    ----------
    text : str
    place : str
        The name of the text in messages, such as the file's path.
    chosen : str, optional
        The ``id`` of a ColorCorrection; needed where the file holds several.

    Returns
    -------
    Decision

    Raises
    ------
    RecipeError
        With file and line, for what is no XML, holds no such correction, or has numbers that
        the ASC CDL does not allow.
    """
    document = _Document(text, place)
    found = [element for element in document.root.iter() if element.tag == "ColorCorrection"]
    correction = _choose(found, chosen, document)
    return Decision(
        slope=document.numbers(correction, "Slope", 3, "at least 0"),
        offset=document.numbers(correction, "Offset", 3, "finite"),
        power=document.numbers(correction, "Power", 3, "above 0"),
        saturation=document.numbers(correction, "Saturation", 1, "at least 0")[0],
    )


def write_decision(decision: Decision, name: str, descriptions: Sequence[str], source: str) -> str:
    """Text of a ColorCorrection file (.cc) that `read_decision` reads back exactly.

    Parameters
    ----------
    decision : Decision
    name : str
        Becomes the ``id``.
    descriptions : sequence of str
        Sentences for people.
    source : str
        The codes on which it acts.
    """
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<ColorCorrection xmlns="{NAMESPACE}" id={quoteattr(visible(name))}>',
        *(f"  <Description>{escape(visible(each))}</Description>" for each in descriptions),
        f"  <InputDescription>{escape(source)}</InputDescription>",
        *(f"  {line}" for line in sop_and_saturation(decision)),
        "</ColorCorrection>",
    ]
    return "\n".join(lines) + "\n"


def sop_and_saturation(decision: Decision) -> list[str]:
    """Lines of the elements SOPNode and SatNode."""
    return [
        "<SOPNode>",
        f"  <Slope>{_words(decision.slope)}</Slope>",
        f"  <Offset>{_words(decision.offset)}</Offset>",
        f"  <Power>{_words(decision.power)}</Power>",
        "</SOPNode>",
        "<SatNode>",
        f"  <Saturation>{_words([decision.saturation])}</Saturation>",
        "</SatNode>",
    ]


def _words(values):
    return " ".join(repr(float(value)) for value in values)


class _Document:
    """Elements of an XML text without their namespaces, each with its line."""

    def __init__(self, text, place):
        self.place, self.lines = place, {}
        parser = expat.ParserCreate(namespace_separator=" ")
        builder = TreeBuilder()

        def start(name, attributes):
            element = builder.start(name.rpartition(" ")[2], attributes)
            self.lines[element] = parser.CurrentLineNumber

        def refuse_doctype(*_):
            raise RecipeError(
                "a document type declaration",
                place=f"{place}:{parser.CurrentLineNumber}",
                remedy="delete the line with <!DOCTYPE; a colour decision needs none",
            )

        parser.StartElementHandler = start
        parser.EndElementHandler = builder.end
        parser.CharacterDataHandler = builder.data
        parser.StartDoctypeDeclHandler = refuse_doctype
        try:
            parser.Parse(text, True)
        except expat.ExpatError as error:
            raise RecipeError(
                f"this is not ASC CDL XML ({expat.ErrorString(error.code)})",
                place=f"{place}:{error.lineno}:{error.offset + 1}",
                remedy="name a .cc, .ccc or .cdl file, or export it again",
            ) from None
        self.root = builder.close()

    def at(self, element):
        """The place of an element in messages."""
        return f"{self.place}:{self.lines[element]}"

    def numbers(self, correction, name, count, rule):
        """The numbers of an element, or those of the identity where there is none."""
        element = next((e for e in correction.iter() if e.tag == name), None)
        if element is None:
            default = getattr(Decision, name.lower())
            return default if count == 3 else (default,)
        text = element.text or ""
        try:
            values = tuple(float(word) for word in text.split())
        except ValueError:
            values = ()
        if len(values) != count or not all(isfinite(v) and _RULES[rule](v) for v in values):
            raise RecipeError(
                f"{name} is {shortened(' '.join(text.split())) or 'empty'}",
                place=self.at(element),
                allowed=f"three numbers, each {rule}" if count == 3 else f"a number {rule}",
                remedy="correct the file, or export it again",
            )
        return values


def _choose(found, chosen, document):
    ids = [element.get("id", "") for element in found]
    choice = listed([each for each in ids if each]) or None
    if not found:
        raise RecipeError(
            "this is not ASC CDL XML (there is no ColorCorrection in it)",
            place=document.at(document.root),
            remedy="name a .cc, .ccc or .cdl file",
        )
    if chosen is None and len(found) == 1:
        return found[0]
    if chosen is None:
        raise RecipeError(
            f"the file holds {len(found)} colour corrections",
            place=document.place,
            allowed=choice,
            remedy="state which one with id",
        )
    if chosen not in ids:
        close = nearest(chosen, ids)
        raise RecipeError(
            f"there is no ColorCorrection with id {shortened(chosen)}",
            place=document.place,
            allowed=choice,
            remedy=f"did you mean {close}?" if close else "state the id of one of these",
        )
    return found[ids.index(chosen)]
