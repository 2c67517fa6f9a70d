"""Where common colour words lie on the circle of hue, to be looked up, never to be stated.

The words are the hue names of the ISCC-NBS method (K. L. Kelly and D. B. Judd, "The ISCC-NBS method
of designating colors and a dictionary of color names", NBS Circular 553, 1955), each placed at the
hue of the centroid of its `strong` colour (K. L. Kelly, "Central notations for the revised ISCC-NBS
color-name blocks", J. Res. NBS 61, 427, 1958). The codes are sRGB, from memory.
"""

from typing import NamedTuple

import numpy as np

from grading.colour import munsell, oklab, spaces, transfer

_STRONG = {
    "red": (188, 63, 74),
    "reddish orange": (217, 96, 59),
    "orange": (237, 135, 45),
    "orange yellow": (234, 162, 33),
    "yellow": (212, 175, 55),
    "greenish yellow": (190, 183, 46),
    "yellow green": (126, 159, 46),
    "yellowish green": (68, 148, 74),
    "green": (0, 121, 89),
    "bluish green": (0, 122, 116),
    "greenish blue": (0, 119, 145),
    "blue": (0, 103, 165),
    "purplish blue": (84, 90, 167),
    "violet": (96, 78, 151),
    "purple": (135, 86, 146),
    "reddish purple": (158, 79, 136),
    "purplish red": (179, 68, 108),
}


class HueWord(NamedTuple):
    """A colour word: its Oklab hue in whole degrees, the nearest Munsell hue, and sRGB codes."""

    word: str
    degrees: int
    munsell: str
    srgb: tuple[int, int, int]


def hue_words() -> list[HueWord]:
    """The words, once around the circle from red.

    >>> hue_words()[2]
    HueWord(word='orange', degrees=57, munsell='5YR', srgb=(237, 135, 45))
    """
    hues = ((word, round(_hue(codes)), codes) for word, codes in _STRONG.items())
    return [HueWord(word, hue, munsell.nearest_hue(hue), codes) for word, hue, codes in hues]


def _hue(codes):
    srgb = spaces.SPACES["srgb"]
    light = transfer.decode(srgb.transfer, np.array(codes) / 255)
    return float(oklab.hue(oklab.xyz_to_oklab(light @ spaces.rgb_to_xyz(srgb).T)))
