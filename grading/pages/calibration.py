"""The page that shows how near a calibrated camera comes to the colours of the chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.calibrate.camera_file import camera_text
from grading.calibrate.chart import EDITIONS
from grading.colour import spaces, transfer
from grading.files.atomic import NewFile, make_folder, write_together
from grading.pages.html import page

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from grading.calibrate.chart import Reference
    from grading.calibrate.light import MeasuredLight


def write_camera(
    path: Path,
    lights: Sequence[MeasuredLight],
    reference: Reference,
    edition: str,
    overwrite: bool = False,
) -> Path:
    """Write a camera file, and the page about it beside it.

    Parameters
    ----------
    path : Path
        The camera file; the page has its name with the ending .html.
    lights, reference, edition
        As `calibration_page` takes them.
    overwrite : bool
        Whether files of these names may be replaced.

    Returns
    -------
    Path
        The page.

    Raises
    ------
    OutputError
        If one of them exists or cannot be written; none is written then.
    """
    make_folder(path.parent)
    beside = path.with_suffix(".html")
    content = calibration_page(lights, reference, edition, path.name)
    text = camera_text(lights, edition, path.name).encode()
    write_together([NewFile(beside, content, overwrite), NewFile(path, text, overwrite)])
    return beside


def calibration_page(
    lights: Sequence[MeasuredLight], reference: Reference, edition: str, name: str
) -> bytes:
    """HTML with the patches of each light: published, before and after.

    Parameters
    ----------
    lights : sequence of MeasuredLight
    reference : Reference
    edition : str
        Of the chart, one of `grading.calibrate.chart.EDITIONS`.
    name : str
        Of the camera file.

    Returns
    -------
    bytes
    """
    return page(
        "calibration.html",
        name=name,
        edition=EDITIONS[edition].words,
        capture=lights[0].frame.facts.capture,
        lights=[(light, _patches(light, reference)) for light in lights],
    )


def _patches(light, reference):
    """Of each patch its name, three colours as CSS, and two errors."""
    colours = zip(*map(_css, (reference.xyz, light.before.xyz, light.after.xyz)), strict=True)
    errors = zip(light.before.errors, light.after.errors, strict=True)
    return [*zip(reference.names, colours, errors, strict=True)]


def _css(xyz):
    """Colours relative to D65 as sRGB; what it cannot show is clipped."""
    srgb = spaces.SPACES["srgb"]
    light = np.clip(xyz @ spaces.xyz_to_rgb(srgb).T, 0, 1)
    codes = np.round(255 * transfer.encode(srgb.transfer, light)).astype(int)
    return ["#" + "".join(f"{code:02x}" for code in colour) for colour in codes]
