"""The recipes of spots that a shoot names, and which of its frames are of their cameras."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from grading.errors import RecipeError
from grading.evening.captured import Captured
from grading.frame import Capture
from grading.messages import listed, shortened
from grading.recipe.inheritance import find_beside
from grading.recipe.load import HEADER, Stated, read_stated
from grading.stages.spots import Spots


class SpotsFile(NamedTuple):
    """A recipe of spots, and the camera that it states: no spots, but whose they are."""

    stated: Stated
    owner: Spots


def read_spots(
    names: Sequence[str], path: Path, place: Callable[..., str]
) -> tuple[SpotsFile, ...]:
    """The recipes of spots that a shoot names; they state nothing else.

    Parameters
    ----------
    names : sequence of str
    path : Path
        The shoot file.
    place : callable
        Gives the place of a value in it.

    Raises
    ------
    RecipeError
        If one is not there or states more, or two are of one camera.
    """
    found: list[SpotsFile] = []
    for n, name in enumerate(names):
        stated = _read(name, path, place("spots", n))
        keys = stated.data.get("spots") or {}
        texts = {k: keys.get(k) for k in ("camera", "serial") if isinstance(keys.get(k), str)}
        owner = Spots(**texts)
        if owner in [each.owner for each in found]:
            raise RecipeError(
                f"spots: {shortened(name)} is a second list of {owner.body}",
                place=place("spots", n),
                allowed="one list for each camera",
                remedy="name one of them, or state in each the camera and serial of its dust",
            )
        found.append(SpotsFile(stated, owner))
    return tuple(found)


def _read(name, path, place):
    stated = read_stated(find_beside(name, path, place, "spots"))
    others = stated.data.keys() - {*HEADER, "spots"}
    if others:
        raise RecipeError(
            f"spots: {shortened(name)} states {', '.join(sorted(others))}, too",
            place=place,
            allowed="a recipe of spots alone",
            remedy="take the spots into a file of their own, or name it among the looks",
        )
    return stated


def spots_of(files: Sequence[SpotsFile], capture: Capture) -> Stated | None:
    """The list of a frame's camera: the one that says most of it, the first of several."""
    fitting = [each for each in files if each.owner.is_of(capture)]
    if not fitting:
        return None
    return min(fitting, key=lambda each: [each.owner.camera, each.owner.serial].count(None)).stated


def remarks_on_spots(files: Sequence[SpotsFile], frames: Sequence[Captured]) -> list[str]:
    """A sentence on the frames whose camera has no list, where others have one."""
    left = [frame for frame in frames if files and spots_of(files, frame.capture) is None]
    if not left:
        return []
    bodies = dict.fromkeys(
        Spots(camera=each.capture.camera, serial=each.capture.serial).body for each in left
    )
    frames = "1 frame" if len(left) == 1 else f"{len(left)} frames"
    cameras = listed(list(bodies))
    return [f"no dust is mended in {frames} that no list of spots is for, of {cameras}"]
