"""ICC profiles of the output spaces, written here byte for byte so that they never change.

ICC.1:2022 (profile version 4.4): three-component matrix-based display profiles (8.4.3), and a
monochrome one (8.4.4) for grey.
"""

from functools import cache
from hashlib import md5
from struct import pack

import numpy as np

from grading.colour.adaptation import bradford
from grading.colour.spaces import D65, SPACES, rgb_to_xyz, xy_to_xyz
from grading.colour.transfer import coefficients

_D50 = np.array([0xF6D6, 0x10000, 0xD32D]) / 65536
"""The profile connection space's white as its encoding states it (ICC.1:2022, 7.2.16)."""

GREY = "grey"
"""One channel on the curve of sRGB, neutral at D65."""

_CREATED = (2025, 1, 1, 0, 0, 0)

CODE_POINTS = {"srgb": (1, 13), "display-p3": (12, 13), "bt2020": (9, 14)}
"""ITU-T H.273: colour primaries and transfer characteristics of the spaces that have them; there
is no code for the primaries of opRGB."""


def _fixed(values):
    """s15Fixed16Number array."""
    return np.round(np.asarray(values) * 65536).astype(">i4").tobytes()


def _text(text):
    """multiLocalizedUnicodeType with one record, en-US."""
    encoded = text.encode("utf-16-be")
    return b"mluc" + pack(">III2s2sII", 0, 1, 12, b"en", b"US", len(encoded), 28) + encoded


def _xyz(values):
    """XYZType."""
    return b"XYZ " + bytes(4) + _fixed(values)


def _curve(transfer):
    """parametricCurveType: function type 3, or type 0 where a gamma alone says it all."""
    curve = coefficients(transfer)
    if curve.d == 0:
        return b"para" + pack(">IHH", 0, 0, 0) + _fixed([curve.gamma])
    return b"para" + pack(">IHH", 0, 3, 0) + _fixed(curve)


def _colorants(space, adaptation):
    """XYZ columns of red, green and blue in the connection space, rounded to sum to D50."""
    columns = np.round(adaptation @ rgb_to_xyz(space) * 65536) / 65536
    columns[:, 1] += _D50 - columns.sum(axis=1)
    return columns.T


def _common_tags(title, white):
    """What all profiles say, and the adaptation from their white."""
    adaptation = bradford(xy_to_xyz(white), _D50)
    return {
        b"desc": _text(title),
        b"cprt": _text("No copyright, use freely"),
        b"wtpt": _xyz(_D50),
        b"chad": b"sf32" + bytes(4) + _fixed(adaptation),
    }, adaptation


def _grey_tags():
    tags, _ = _common_tags("Grey, sRGB curve", D65)
    return tags | {b"kTRC": _curve("srgb")}


def _rgb_tags(space):
    tags, adaptation = _common_tags(space.title, space.white)
    red, green, blue = _colorants(space, adaptation)
    curve = _curve(space.transfer)
    tags |= {
        b"rXYZ": _xyz(red),
        b"gXYZ": _xyz(green),
        b"bXYZ": _xyz(blue),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    if space.name in CODE_POINTS:
        tags[b"cicp"] = b"cicp" + bytes(4) + bytes([*CODE_POINTS[space.name], 0, 1])
    return tags


def _header(size, identity, kind):
    return b"".join(
        [
            pack(">I4sI", size, bytes(4), 0x04400000),
            b"mntr" + kind + b"XYZ ",
            pack(">6H", *_CREATED),
            b"acsp",
            bytes(24),  # platform, flags, manufacturer, model, attributes
            pack(">I", 1),  # media-relative colorimetric
            _fixed(_D50),
            bytes(4),  # creator
            identity,
            bytes(28),
        ]
    )


def icc_profile(space_name: str) -> bytes:
    """ICC profile of an output space.

    Parameters
    ----------
    space_name : str
        A key of `grading.colour.spaces.SPACES`, or `GREY`.

    Returns
    -------
    bytes
        The same for every call, on every machine.

    Raises
    ------
    ValueError
        If there is no such space.
    """
    if space_name not in (*SPACES, GREY):
        raise ValueError(f"no colour space {space_name!r}; allowed: {', '.join((*SPACES, GREY))}")
    kind = b"GRAY" if space_name == GREY else b"RGB "
    tags = _grey_tags() if space_name == GREY else _rgb_tags(SPACES[space_name])
    start = 128 + 4 + 12 * len(tags)
    table, data, places = pack(">I", len(tags)), b"", {}
    for signature, content in tags.items():
        if content not in places:
            places[content] = start + len(data)
            data += content + bytes(-len(content) % 4)
        table += pack(">4sII", signature, places[content], len(content))
    body = table + data
    size = 128 + len(body)
    # 7.2.18: the identity is that of the profile with identity, flags and intent set to 0.
    blank = bytearray(_header(size, bytes(16), kind) + body)
    blank[64:68] = bytes(4)
    return _header(size, md5(blank, usedforsecurity=False).digest(), kind) + body


@cache
def _names() -> dict[bytes, str]:
    return {icc_profile(name): name for name in (*SPACES, GREY)}


def space_of_profile(profile: bytes | None) -> str | None:
    """Name of the space of one of our profiles; None for any other, and for none.

    >>> space_of_profile(icc_profile("display-p3"))
    'display-p3'
    """
    return _names().get(profile)
