"""Hue names: the ten hue families of ASTM D1535 and their steps, as Oklab hue.

Each of the 40 renotation hues is placed at the circular mean of the Oklab hue of its real
chips of chroma 4 and above, every chip counted once: paler chips give an unsteady angle, and
chips that no pigment reaches would pull the mean outwards. The chips are those of S. M.
Newhall, D. Nickerson and D. B. Judd, "Final report of the O.S.A. subcommittee on the spacing
of the Munsell colors", JOSA 33 (1943), adapted from illuminant C to D65 by CAT16.

Lines of one named hue bend in Oklab, so a name is a middle, not a border. The standard
deviation of the chips about step 5 of their family is 2 to 4 degrees in YR to B and in P, 6
in R and RP, and 8 in PB, whose outermost chips lie 18 degrees off. 98 % of the chips of
steps 2.5 to 7.5 are given their own family. tests/colour/test_munsell.py computes the table
and these figures again.
"""

import re

import numpy as np

from grading.messages import shortened

FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")

# Oklab hue in degrees at steps 2.5, 5, 7.5 and 10 of each family; it only rises, past 360.
_HUES = np.array(
    [
        [12.8, 19.4, 26.4, 34.8],
        [45.8, 56.8, 66.6, 76.2],
        [85.3, 94.5, 101.0, 106.9],
        [114.2, 121.9, 133.6, 144.4],
        [157.6, 166.3, 171.3, 176.4],
        [182.0, 188.9, 195.0, 202.0],
        [208.3, 216.0, 222.9, 229.7],
        [240.1, 249.9, 276.9, 293.4],
        [306.4, 315.4, 325.3, 333.6],
        [342.6, 351.9, 359.2, 366.1],
    ]
)

_NUMBERS = np.arange(0.0, 101.0, 2.5)
_DEGREES = np.concatenate([[_HUES[-1, -1] - 360], _HUES.ravel()])


def hue_degrees(name: str) -> float:
    """Oklab hue of a named hue.

    Parameters
    ----------
    name : str
        A family of `FAMILIES`, alone or after a step from 0 to 10: ``"PB"``, ``"2.5YR"``.
        A family alone means its middle, step 5.

    Returns
    -------
    float
        Degrees, 0 <= hue < 360.

    Raises
    ------
    ValueError
        If the name is not of that form.

    Examples
    --------
    >>> hue_degrees("5PB"), hue_degrees("PB")
    (249.9, 249.9)
    """
    match = re.fullmatch(r"(\d+(?:\.\d+)?)?([A-Z]+)", name)
    step = float(match[1] or 5) if match else 0
    if not match or match[2] not in FAMILIES or step > 10:
        raise ValueError(
            f"no hue '{shortened(name)}'; allowed: {', '.join(FAMILIES)}, alone or after a step "
            "from 0 to 10, such as 2.5YR"
        )
    number = 10 * FAMILIES.index(match[2]) + step
    return float(np.interp(number, _NUMBERS, _DEGREES) % 360)


def family(hue: float) -> str:
    """Hue family that an Oklab hue belongs to.

    Parameters
    ----------
    hue : float
        Degrees.

    Returns
    -------
    str
        One of `FAMILIES`; each reaches from its step 0 to its step 10.

    Examples
    --------
    >>> family(249.9)
    'PB'
    """
    return FAMILIES[int(_number(hue) // 10) % 10]


def _number(hue):
    """How far around the Munsell circle an Oklab hue lies, 0 to 100."""
    turned = _DEGREES[0] + (hue - _DEGREES[0]) % 360
    return float(np.interp(turned, _DEGREES, _NUMBERS))


def nearest_hue(hue: float) -> str:
    """The Munsell hue nearest to an Oklab hue, in steps of 2.5.

    Parameters
    ----------
    hue : float
        Degrees.

    Returns
    -------
    str

    Examples
    --------
    >>> nearest_hue(249.9), nearest_hue(60.0)
    ('5PB', '5YR')
    """
    steps = round(_number(hue) / 2.5)
    family, step = divmod(steps - 1, 4)  # 10R rather than 0YR
    return f"{2.5 * (step + 1):g}{FAMILIES[family % 10]}"
