"""From a frame and a look to one recipe."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from grading.errors import RecipeError
from grading.evening.captured import Captured
from grading.evening.level.corrections import Levelled
from grading.evening.load import Evening
from grading.evening.model import Level
from grading.evening.spots import spots_of
from grading.recipe.load import Recipe
from grading.recipe.model import RECIPE_KEYS
from grading.recipe.problems import dotted


def settle(
    evening: Evening, frame: Captured, look: str, levels: Mapping[str, Levelled] | None = None
) -> Recipe:
    """The recipe of a frame: the look with all that the shoot file lays over it.

    Parameters
    ----------
    evening : Evening
    frame : Captured
        One of its frames.
    look : str
        The name of one of its looks.
    levels : mapping, optional
        What was measured of each frame, by its name. Without it, levelling and courses by light are
        left out.

    Returns
    -------
    Recipe
        Its ``sources`` say which layer each value is from.

    Raises
    ------
    RecipeError
        With ``file:line:column`` for every value that is not possible.
    """
    stated = evening.looks[look]
    for layer, data, positions in _overlays(evening, frame, look, levels):
        stated = stated.under(data, positions, layer)
    return stated.checked()


def settle_all(
    evening: Evening, levels: Mapping[str, Levelled] | None = None
) -> dict[tuple[str, str], Recipe]:
    """The recipes of all frames that are not left out, by the names of frame and look.

    Parameters
    ----------
    evening : Evening
    levels : mapping, optional
        As in `settle`.

    Returns
    -------
    dict
        Frames in order of capture, each under all looks.

    Raises
    ------
    RecipeError
        That lists what is wrong with any of them, each problem once.
    """
    found, errors = {}, {}
    for frame in evening.rendered:
        for look in evening.looks:
            try:
                found[frame.name, look] = settle(evening, frame, look, levels)
            except RecipeError as error:
                errors[str(error)] = error
    if errors:
        raise RecipeError.together(list(errors.values()))
    return found


def _overlays(evening, frame, look, levels) -> Iterator[tuple[str, dict, dict]]:
    """What lies over the look, the first layer first: its name, data, positions."""
    if (spots := spots_of(evening.spots, frame.capture)) is not None:
        stated = spots.positions.items()
        positions = {path: at for path, at in stated if path[:1] == ("spots",)}
        yield "spots", {"spots": spots.data.get("spots", {})}, positions
    light = {name: each.light for name, each in (levels or {}).items()}
    for run in evening.courses:
        if run.by == "time" or levels is not None:
            position = evening.positions["courses", dotted(run.path)]
            yield "course", _nested(run.path, run.value(frame, light)), {run.path: position}
    level = evening.model.level
    if level and levels and frame.name in levels:
        data = _level(level, levels[frame.name], settle(evening, frame, look))
        paths = [(stage, key) for stage, keys in data.items() for key in keys]
        yield "level", data, dict.fromkeys(paths, evening.positions["level",])
    for name, members in evening.groups.items():
        if frame.name in members:
            yield from _notes(evening, ("groups", name), look, f"group {name}")
    if (entry := evening.entry(frame)).framing is not None:
        inside = ("frames", evening.marked[frame.name])
        positions = _inside(evening.marks.positions, inside, ("framing",))
        yield "marks", {"framing": entry.framing.model_dump(exclude_unset=True)}, positions
    if frame.name in evening.noted:
        key = evening.noted[frame.name]
        yield from _notes(evening, ("frames", key), look, f"frame {key}")


def _level(level: Level, levelled: Levelled, recipe: Recipe) -> dict[str, dict[str, float]]:
    """The keys of a level; its white as the recipe's calibrated cameras tell it, if it has any."""
    data = {}
    if level.exposure:
        data["exposure"] = {"levelling": levelled.stops}
    if level.white and levelled.kelvin is not None:
        kelvin, duv = levelled.kelvin, levelled.duv
        for camera in recipe.stages["white_balance"].calibrations or ():
            if levelled.camera and camera.is_like(levelled.captured.capture):
                kelvin, duv = _white(camera, levelled)
        data["white_balance"] = {"kelvin": kelvin, "duv": duv}
    return data


def _white(camera, levelled):
    try:
        return camera.white(levelled.kelvin, levelled.duv, levelled.camera)
    except ValueError as error:
        raise RecipeError(
            f"the levelled white is none by the camera file of {camera.name}: {error}",
            place=str(levelled.captured.path),
            remedy="calibrate the camera in a light nearer to that of the shoot",
        ) from None


def _nested(path, value) -> dict[str, Any]:
    for step in reversed(path):
        value = {step: value}
    return value


def _notes(evening, path, look, layer):
    """Recipe keys of a note, for all looks and then for this one."""
    kind, name = path
    note = evening.data[kind][name]
    for inside, keys in (
        (path, note),
        ((*path, "looks", look), (note.get("looks") or {}).get(look)),
    ):
        data = {key: value for key, value in (keys or {}).items() if key in RECIPE_KEYS}
        if data:
            yield layer, data, _inside(evening.positions, inside, data)


def _inside(positions, path, keys):
    """Positions of some keys below a path, and of all below them."""
    start = len(path)
    return {
        at[start:]: position
        for at, position in positions.items()
        if at[:start] == path and at[start : start + 1] and at[start] in keys
    }
