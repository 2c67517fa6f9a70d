"""The frames of a shoot as pages show them: each look settled, and what is noted of each."""

from __future__ import annotations

from collections.abc import Mapping

from grading.evening.level.corrections import Levelled
from grading.evening.load import Evening
from grading.evening.model import Level
from grading.evening.settle import settle_all
from grading.pages.sheet import Entry, Noted
from grading.pages.words import NO_BREAK, signed


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
