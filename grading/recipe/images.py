"""Pictures that a recipe names as masks: found, looked at, and then known by their digest."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from grading.errors import RecipeError
from grading.grey_image import read_grey
from grading.messages import shortened

if TYPE_CHECKING:
    from grading.masks.image import Image
    from grading.yaml_parser import Position


def found_image(image: Image, position: Position) -> Image:
    """An image with the path from the root and the digest of its file.

    Parameters
    ----------
    image : Image
    position : grading.yaml_parser.Position
        Where ``file`` is stated; its path is relative to the folder of that recipe.

    Raises
    ------
    RecipeError
        If there is no such file, it is no grey picture, or another one than is stated.
    """
    path = os.path.abspath(Path(position.place).parent / image.file)
    try:
        _, digest = read_grey(path)
    except RecipeError as error:
        raise RecipeError(
            f"image.file = {shortened(image.file)}: {error.problem}",
            place=str(position),
            allowed=error.allowed,
            remedy=error.remedy,
        ) from None
    if image.sha256 not in (None, digest):
        raise RecipeError(
            f"image.file = {shortened(image.file)}: not the file that sha256 states",
            place=str(position),
            allowed=f"SHA-256 {shortened(image.sha256, 64)}",
            remedy="put that file back, or leave sha256 out",
        )
    return image.model_copy(update={"file": path, "sha256": digest})


def recorded_image(image: Image, place: str, folder: Path | None) -> Image:
    """An image of plain values, such as a sidecar's, with the path from the root; nothing is read.

    Parameters
    ----------
    image : Image
    place : str
        What errors name.
    folder : Path, optional
        What its path is relative to.

    Raises
    ------
    RecipeError
        If its digest is not stated.
    """
    if image.sha256 is None:
        raise RecipeError(
            f"image.file = {shortened(image.file)}: names a file without its digest",
            place=place,
            allowed="numbers: a recipe that is no file reads none but by its SHA-256",
            remedy="restore the sidecar, or state sha256",
        )
    path = os.path.abspath(Path(folder or ".", image.file))
    return image.model_copy(update={"file": path})


def with_paths(values: Any, change: Callable[[str], str]) -> Any:
    """Plain values of a recipe in which the path of each image is changed.

    >>> where = {"not": {"image": {"file": "b.png", "sha256": "12"}}}
    >>> with_paths({"where": where}, lambda path: "a/" + path)
    {'where': {'not': {'image': {'file': 'a/b.png', 'sha256': '12'}}}}
    """
    match values:
        case {"file": str(path), "sha256": str()}:
            return values | {"file": change(path)}
        case dict():
            return {key: with_paths(value, change) for key, value in values.items()}
        case list():
            return [with_paths(value, change) for value in values]
    return values
