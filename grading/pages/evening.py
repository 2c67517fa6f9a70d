"""The frames of a shoot as pages show them: each look settled, and what is noted of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from grading.errors import RecipeError
from grading.evening.captured import Captured, frames_matching
from grading.evening.level.corrections import Levelled
from grading.evening.load import Evening
from grading.evening.model import Level
from grading.evening.settle import settle_all
from grading.messages import shortened
from grading.pages.sheet import Entry, Noted
from grading.pages.words import NO_BREAK, signed
from grading.recipe.load import Recipe


def sheet_entries(evening: Evening, levels: Mapping[str, Levelled] | None = None) -> list[Entry]:
    """The frames of a shoot that are not left out, under all its looks, in order of capture.

    Parameters
    ----------
    evening : Evening
    levels : mapping, optional
        What was measured of each frame, by its name.

    Raises
    ------
    RecipeError
        For recipes that cannot be settled.
    """
    recipes = settle_all(evening, levels)
    return [
        Entry(
            frame.path,
            [recipes[frame.name, look] for look in evening.looks],
            _noted(evening, frame, (levels or {}).get(frame.name)),
        )
        for frame in evening.rendered
    ]


def two_looks(
    evening: Evening,
    looks: tuple[str, str],
    names: Sequence[str] = (),
    levels: Mapping[str, Levelled] | None = None,
) -> list[tuple[Path, Recipe, Recipe]]:
    """Frames of a shoot with their recipes under two of its looks, in order of capture.

    Parameters
    ----------
    evening : Evening
    looks : tuple of two str
        Names of looks.
    names : sequence of str
        Only these frames: names and patterns; all that are not left out if there are none.
    levels : mapping, optional
        What was measured of each frame, by its name.

    Raises
    ------
    RecipeError
        For a look or a frame that is not there, and for recipes that cannot be settled.
    """
    for look in looks:
        if look not in evening.looks:
            raise RecipeError(
                f"this shoot has no look {shortened(look)}",
                place=str(evening.path),
                allowed=", ".join(evening.looks),
            )
    recipes = settle_all(evening, levels)
    return [
        (frame.path, *(recipes[frame.name, look] for look in looks))
        for frame in chosen(evening, names)
    ]


def chosen(evening: Evening, names: Sequence[str]) -> list[Captured]:
    """The frames of some names and patterns that are not left out, or all, in order of capture.

    Raises
    ------
    RecipeError
        If there is no frame of a name.
    """
    if not names:
        return evening.rendered
    place = str(evening.path)
    found = [f for name in names for f in frames_matching(evening.rendered, name, place)]
    return sorted(dict.fromkeys(found), key=lambda frame: frame.number)


def _noted(evening, frame, levelled):
    note = evening.note(frame)
    said = levelling(evening.model.level, levelled) if levelled else ()
    remarks = levelled.remarks if levelled else ()
    return Noted(note.mark, note.caption or "", said, remarks)


def levelling(level: Level | None, levelled: Levelled) -> tuple[str, ...]:
    """What levelling does to a frame, in words: ``level +0.33 stops``, ``white 5210 to 4890 K``.

    Parameters
    ----------
    level : Level or None
        As the shoot file states it; where it does not, frames are only measured.
    levelled : Levelled
    """
    said = []
    if level and level.exposure:
        said.append(f"level {signed(levelled.stops, 2)} stops")
    if level and level.white and levelled.kelvin is not None:
        said.append(f"white {levelled.as_shot:.0f} to {levelled.kelvin:.0f} K")
    return tuple(text.replace(" ", NO_BREAK) for text in said)
