"""Process nodes of the Common LUT Format (SMPTE ST 2136-1, version 3) as XML text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING
from uuid import NAMESPACE_OID, uuid5
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from grading.cdl_text import sop_and_saturation
from grading.terminal import visible

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from grading.cdl_text import Decision

NAMESPACE = "http://www.smpte-ra.org/ns/2136-1/2024"
FLOAT = "32f"
CODES = "16i"
TOP_CODE = 65535
"""Largest value of the bit depth `CODES`."""


def process_list(
    name: str, descriptions: Sequence[str], source: str, target: str, nodes: Sequence[str]
) -> str:
    """The text of a file.

    Parameters
    ----------
    name : str
    descriptions : sequence of str
        Sentences for people.
    source, target : str
        What goes in and what comes out.
    nodes : sequence of str
        From the functions below, in their order.

    Returns
    -------
    str
        The same text for the same arguments; its ``id`` is made from its content.
    """
    body = [
        *(_element("Description", text) for text in descriptions),
        _element("InputDescriptor", source),
        _element("OutputDescriptor", target),
        *nodes,
    ]
    identity = uuid5(NAMESPACE_OID, "\n".join([name, *body]))
    head = f'xmlns="{NAMESPACE}" id="urn:uuid:{identity}" name={quoteattr(visible(name))}'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<ProcessList {head} compCLFversion="3">',
        *body,
        "</ProcessList>",
    ]
    return "\n".join(lines) + "\n"


def matrix(coefficients: ArrayLike, source: str = FLOAT) -> str:
    """A matrix on three channels of a bit depth, (3, 3), or (3, 4) with an offset."""
    rows = "\n".join(" ".join(f"{v:.10g}" for v in row) for row in coefficients)
    return _node("Matrix", _array(f"3 {np.shape(coefficients)[1]}", rows), source=source)


def exponent(style: str, power: float, offset: float | None = None) -> str:
    """A power function such as ``basicMirrorFwd``, ``basicMirrorRev`` or ``monCurveRev``."""
    more = "" if offset is None else f' offset="{offset:.10g}"'
    parameters = f'<ExponentParams exponent="{power:.10g}"{more}/>'
    return _node("Exponent", parameters, f' style="{style}"')


def clamp() -> str:
    """All values within 0..1."""
    limits = ("minInValue", 0), ("maxInValue", 1), ("minOutValue", 0), ("maxOutValue", 1)
    return _node("Range", "\n".join(f"<{name}>{value}</{name}>" for name, value in limits))


def lut1d(table: np.ndarray) -> str:
    """Three curves over 0..1, shape (n, 3)."""
    rows = "\n".join(" ".join(f"{v:.6g}" for v in row) for row in table)
    return _node("LUT1D", _array(f"{len(table)} 3", rows))


def lut3d(codes: np.ndarray) -> str:
    """A lattice over 0..1, shape (n, n, n, 3), of integers 0..`TOP_CODE`; last index fastest."""
    size = " ".join(map(str, codes.shape))
    rows = "\n".join(" ".join(map(str, row)) for row in codes.reshape(-1, 3).tolist())
    return _node("LUT3D", _array(size, rows), ' interpolation="trilinear"', target=CODES)


def asc_cdl(decision: Decision) -> str:
    """A colour decision with the clamps of the ASC CDL v1.2."""
    return _node("ASC_CDL", "\n".join(sop_and_saturation(decision)), ' style="Fwd"')


def _node(name, content, attributes="", source=FLOAT, target=FLOAT):
    depths = f'inBitDepth="{source}" outBitDepth="{target}"'
    return f"<{name} {depths}{attributes}>\n{content}\n</{name}>"


def _array(size, rows):
    return f'<Array dim="{size}">\n{rows}\n</Array>'


def _element(name, text):
    return f"<{name}>{escape(visible(text))}</{name}>"
