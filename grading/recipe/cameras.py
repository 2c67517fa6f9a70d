"""The files of calibrated cameras that a recipe names, read into numbers."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import ValidationError

from grading.errors import RecipeError
from grading.messages import shortened
from grading.recipe.keys import in_yaml, linked
from grading.recipe.problems import recipe_error
from grading.stages.calibrated import CalibratedCamera
from grading.stages.stage import parameter
from grading.yaml_text import load_yaml, read_text

if TYPE_CHECKING:
    from grading.stages.white_balance import WhiteBalance

VERSION = 1
"""Of the format of camera files."""


class CameraFile(CalibratedCamera):
    """All of a camera file."""

    camera: Literal[1] = parameter(..., "Version of the format of camera files.")


def read_cameras(white_balance: WhiteBalance, positions: dict) -> WhiteBalance:
    """Parameters in numbers of those that name camera files.

    Parameters
    ----------
    white_balance : WhiteBalance
        With ``cameras``.
    positions : dict
        Of the recipe: from path to `grading.yaml_text.EntryPosition`. A name is a path relative
        to the folder of the recipe that states it.

    Returns
    -------
    WhiteBalance

    Raises
    ------
    RecipeError
        If there is no such file, it is no sound camera file, or two are of one camera.
    """
    read = []
    for i, name in enumerate(white_balance.cameras):
        position = positions["white_balance", "cameras", i].value
        camera = read_camera(_path(name, position))
        if any(camera.is_like(other) for other in read):
            raise RecipeError(
                f"white_balance.cameras: {shortened(name)} is a second file of {camera.name}",
                place=str(position),
                allowed="one file a camera",
                remedy="take one of them out",
            )
        read.append(camera)
    numbers = {"cameras": None, "calibrations": read}
    return white_balance.model_copy(update=numbers)


def _path(name, position):
    path = Path(position.place).parent / name
    if not os.path.isfile(path):
        raise RecipeError(
            f"white_balance.cameras = {shortened(name)}: there is no such file",
            place=str(position),
            remedy="write a path relative to this recipe; `grading calibrate` makes such files",
        )
    return path


def read_camera(path: Path) -> CalibratedCamera:
    """A camera file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    CalibratedCamera

    Raises
    ------
    RecipeError
        With ``file:line:column`` for everything that is wrong.
    """
    data, positions = load_yaml(read_text(path), str(path))
    version = data.get("camera") if isinstance(data, dict) else None
    if type(version) is not int or version != VERSION:
        stated = positions.get(("camera",), positions.get(()))
        raise RecipeError(
            "this is not a camera file" if version is None else f"camera = {in_yaml(version)}",
            place=str(stated.value) if stated else str(path),
            allowed=f"camera: {VERSION}, then make, model and lights",
            remedy="make the file with `grading calibrate`",
        )
    try:
        read = CameraFile.model_validate(data)
    except ValidationError as error:
        raise recipe_error(error, data, positions, str(path), _root()) from None
    return CalibratedCamera(make=read.make, model=read.model, lights=read.lights)


@cache
def _root():
    return linked(CameraFile.model_json_schema())
