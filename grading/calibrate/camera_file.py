"""A camera file: what frames of the chart say of a camera, as text for recipes and for people."""

from __future__ import annotations

from textwrap import indent
from typing import TYPE_CHECKING

from grading.calibrate.chart import EDITIONS, PATCHES
from grading.terminal import visible
from grading.yaml_text import dump_yaml

if TYPE_CHECKING:
    from collections.abc import Sequence

    from grading.calibrate.light import MeasuredLight

DIGITS = 8
"""Decimals of a matrix, so that white is kept to one part in ten million."""

_HEAD = """\
# A camera, calibrated by `grading calibrate` on a chart of {patches} patches ({edition}).
# A recipe beside this file uses it by
#   white_balance:
#     cameras: [{name}]
# kelvin and duv: the light of the frame. matrix: CIE 1931 XYZ to camera RGB under that light.
# before, after: CIEDE2000 between the patches and their published colours, by the matrices of the
# frame's own file and by this matrix.
"""


def camera_text(lights: Sequence[MeasuredLight], edition: str, name: str) -> str:
    """Text of a camera file, which `grading.recipe.cameras.read_camera` reads.

    Parameters
    ----------
    lights : sequence of MeasuredLight
        One, or two, from `grading.calibrate.light.calibrate_frames`.
    edition : str
        Of the chart, see `grading.calibrate.chart.EDITIONS`.
    name : str
        Of the file.
    """
    capture = lights[0].frame.facts.capture
    head = _HEAD.format(patches=PATCHES, edition=EDITIONS[edition].words, name=visible(name))
    in_order = sorted(lights, key=lambda light: light.kelvin)
    body = dump_yaml(
        {"camera": 1, "make": capture.make, "model": capture.model, "lights": []}
    )
    return head + body.replace("lights: []", "lights:") + "".join(map(_light, in_order))


def _light(light):
    rows = "".join(
        f"      - [{', '.join(f'{number:.{DIGITS}f}' for number in row)}]\n"
        for row in light.matrix
    )
    facts = light.frame.facts
    frame = dump_yaml({"name": facts.path.name, "sha256": facts.sha256})
    return (
        f"  - kelvin: {light.kelvin:.1f}\n"
        f"    duv: {light.duv:.5f}\n"
        f"    matrix:\n{rows}"
        f"    patches: {PATCHES}\n"
        f"    before: {_errors(light.before)}\n"
        f"    after: {_errors(light.after)}\n"
        f"    frame:\n{indent(frame, ' ' * 6)}"
    )


def _errors(fitted):
    return f"{{mean: {fitted.errors.mean():.2f}, worst: {fitted.errors.max():.2f}}}"
