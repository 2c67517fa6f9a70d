"""A look as a Common LUT Format file (CLF, SMPTE ST 2136-1).

What goes in is the engine's working light, linear ITU-R BT.2020 with D65, white-balanced; what
comes out are the encoded values of a delivery. Light, colour spaces, the cube roots of Oklab,
transfer curves and a colour decision are exact process nodes. Tone curve, split toning and hues
are a lattice in Oklab, written only where one of them changes something.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.colour import oklab, spaces, transfer
from grading.engine.output import Output
from grading.interchange import clf_text, lattice
from grading.interchange.portable import left_out, portable_look
from grading.stages import cdl

if TYPE_CHECKING:
    from grading.recipe.load import Recipe


def export_clf(recipe: Recipe, space: str = "srgb") -> tuple[str, list[str]]:
    """What of a recipe a CLF file can carry.

    Parameters
    ----------
    recipe : Recipe
    space : {"srgb", "display-p3", "bt2020"}
        Colour space of the output.

    Returns
    -------
    text : str
        Of the file; the same for the same recipe.
    left_out : list of str
        Sentences on what it does not carry, and how close it is.

    Raises
    ------
    OutputError
        For another space.
    """
    target = spaces.SPACES[Output(space=space).space]
    look = portable_look(recipe)
    shown = target if look.decision is None else cdl.SPACE
    nodes, domain = _to_linear(look, shown)
    nodes += _encode(shown)
    if look.decision is not None:
        nodes.append(clf_text.asc_cdl(look.decision))
        nodes += [] if target == shown else _recode(shown, target)
    sentences = [
        *left_out(recipe),
        f"gamut: colours outside of {shown.title} are cut off channel by channel, where a delivery "
        "takes chroma from them and keeps their hue.",
        f"domain: {domain}",
    ]
    text = clf_text.process_list(
        recipe.title,
        [each for each in (recipe.description, *sentences) if each],
        "scene-referred linear light, ITU-R BT.2020 primaries, D65, white-balanced, "
        "middle grey 0.18",
        f"{target.title}, encoded values 0 to 1",
        nodes,
    )
    return text, sentences


def _to_linear(look, space):
    """Nodes from the working light to linear light of a space, and a sentence on the domain."""
    if look.is_plain:
        into = spaces.rgb_to_rgb(spaces.WORKING, space)
        return [clf_text.matrix(into @ look.light)], (
            f"the file is exact for every colour within {space.title}."
        )
    samples, difference = lattice.sample(look, space)
    extent = samples.high - samples.low
    shares = np.column_stack([oklab.LMS_TO_OKLAB / extent[:, None], -samples.low / extent])
    scale = (samples.ceiling - samples.floor) / clf_text.TOP_CODE
    cones = oklab.OKLAB_TO_LMS @ np.column_stack([np.diag(scale), samples.floor])
    nodes = [
        clf_text.matrix(oklab.WORKING_TO_LMS @ look.light),
        clf_text.exponent("basicMirrorRev", 3),
        clf_text.matrix(shares),
        clf_text.lut1d(samples.curves),
        clf_text.lut3d(samples.codes),
        clf_text.matrix(cones, source=clf_text.CODES),
        clf_text.exponent("basicMirrorFwd", 3),
        clf_text.matrix(spaces.xyz_to_rgb(space) @ oklab.LMS_TO_XYZ),
    ]
    return nodes, (
        f"the file is within {_stated(difference):.1f} codes of 10 bits of the look, also for the "
        f"worst of the colours with at most {lattice.SHARE:.0%} of the chroma that {space.title} "
        "can show at their hue and lightness, after the tone curve as well as at the end; brighter "
        "greys are white."
    )


def _stated(difference):
    """Codes of 10 bits, to a tenth upwards: the worst that was found, and a twentieth more."""
    return np.ceil(10 * 1023 * 1.05 * difference) / 10


def _encode(space):
    """Nodes from linear light to encoded values."""
    gamma, a, b, _, _ = transfer.coefficients(space.transfer)
    return [clf_text.clamp(), clf_text.exponent("monCurveRev", gamma, b / a)]


def _recode(source, target):
    """Nodes from encoded values of one space to those of another."""
    gamma, a, b, _, _ = transfer.coefficients(source.transfer)
    return [
        clf_text.exponent("monCurveFwd", gamma, b / a),
        clf_text.matrix(spaces.rgb_to_rgb(source, target)),
        *_encode(target),
    ]
