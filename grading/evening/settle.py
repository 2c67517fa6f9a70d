"""From a frame and a look to one recipe, and where each of its values comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from grading.errors import RecipeError
from grading.evening.captured import Captured
from grading.evening.load import Evening
from grading.recipe.load import Recipe, Stated
from grading.recipe.model import RECIPE_KEYS
from grading.recipe.problems import dotted


@dataclass(frozen=True)
class Settled:
    """The recipe of one frame under one look.

    Attributes
    ----------
    recipe : Recipe
    sources : mapping from str to str
        From each stated value's dotted key to the file and line that state it, and the layer:
        ``evening.yaml:14, course``.
    """

    recipe: Recipe
    sources: Mapping[str, str]


def settle(evening: Evening, frame: Captured, look: str) -> Settled:
    """The recipe of a frame: the look with all that the shoot file lays over it.

    Parameters
    ----------
    evening : Evening
    frame : Captured
        One of its frames.
    look : str
        The name of one of its looks.

    Returns
    -------
    Settled

    Raises
    ------
    RecipeError
        With ``file:line:column`` for every value that is not possible.
    """
    stated, layers = evening.looks[look], {}
    for layer, data, positions in _overlays(evening, frame, look):
        stated = stated.under(data, positions)
        layers |= dict.fromkeys(positions, layer)
    return Settled(stated.checked(), _sources(stated, layers))


def settle_all(evening: Evening) -> dict[tuple[str, str], Settled]:
    """The recipes of all frames that are not left out, under all looks, by both their names.

    Raises
    ------
    RecipeError
        That lists what is wrong with any of them, each problem once.
    """
    found, errors = {}, {}
    for frame in rendered_frames(evening):
        for look in evening.looks:
            try:
                found[frame.name, look] = settle(evening, frame, look)
            except RecipeError as error:
                errors[str(error)] = error
    if errors:
        raise RecipeError.together(list(errors.values()))
    return found


def rendered_frames(evening: Evening) -> list[Captured]:
    """The frames that are not left out, in order of capture."""
    return [frame for frame in evening.frames if not note_of(evening, frame).leave_out]


def note_of(evening, frame):
    """The note on a frame, an empty one where there is none."""
    from grading.evening.model import Note

    key = evening.noted.get(frame.name)
    return Note() if key is None else evening.model.frames[key]


def _overlays(evening, frame, look):
    """What lies over the look, from the first layer to the last: name, data, positions."""
    for run in evening.courses:
        data = run.value(frame.time)
        at = evening.positions["courses", dotted(run.path)]
        for step in reversed(run.path):
            data = {step: data}
        yield "course", data, {run.path: at}
    for name, members in evening.groups.items():
        if frame.name in members:
            yield from _notes(evening, ("groups", name), look, f"group {name}")
    key = evening.noted.get(frame.name)
    if key is not None:
        yield from _notes(evening, ("frames", key), look, f"frame {key}")


def _notes(evening, path, look, layer):
    """Recipe keys of a note, for all looks and then for this one."""
    kind, name = path
    note = evening.data[kind][name]
    for inside, keys in ((path, note), ((*path, "looks", look), note.get("looks", {}).get(look))):
        data = {key: value for key, value in (keys or {}).items() if key in RECIPE_KEYS}
        positions = {
            at[len(inside) :]: position
            for at, position in evening.positions.items()
            if at[: len(inside)] == inside and at[len(inside) :][:1] and at[len(inside)] in data
        }
        if data:
            yield layer, data, positions


def _sources(stated: Stated, layers: Mapping[tuple, str]) -> dict[str, str]:
    found = {}
    for path in _leaves(stated.data):
        if path[0] in RECIPE_KEYS and path in stated.positions:
            position, layer = stated.positions[path].value, layers.get(path)
            at = f"{Path(position.place).name}:{position.line}"
            found[dotted(path)] = f"{at}, {layer}" if layer else at
    return found


def _leaves(data, path=()):
    for key, value in data.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*path, key))
        else:
            yield *path, key
