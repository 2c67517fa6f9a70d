"""What a person says of frames, kept at every word; nothing that another program writes is lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from pydantic import ValidationError

from grading.errors import GradingError
from grading.evening.load import Evening
from grading.evening.marks import (
    Entry,
    Marks,
    MarksChanged,
    load_marks,
    marks_beside,
    save_marks,
)
from grading.evening.settle import settle_all
from grading.pages.choose.opening import Opening
from grading.pages.loopback import NotThere

MOST_UNDONE = 1000
"""How many changes can be taken back."""


@dataclass(frozen=True)
class Change:
    """What was said of a frame before a change and after it; None is nothing."""

    name: str
    before: Entry | None
    after: Entry | None


class Refused(GradingError):
    """A change that does not go with what the marks file says now."""


def marks_file_of(evening: Evening) -> Path:
    """Where a shoot's marks are kept: the file that it names, or one called after it."""
    if evening.marks is not None:
        return evening.marks.path
    return marks_beside(evening.path)


class Choosing:
    """The frames of a shoot, and what is said of them.

    Parameters
    ----------
    evening : Evening
    **opening
        As `grading.open_frame` takes them.
    """

    def __init__(self, evening: Evening, **opening: Any) -> None:
        self.evening, self.frames = evening, list(evening.frames)
        look = next(iter(evening.looks))
        recipes = settle_all(evening)
        whole = evening.looks[look].checked()
        shown = [_unframed(recipes.get((frame.name, look), whole)) for frame in self.frames]
        self.marks = load_marks(marks_file_of(evening))
        self.opening = Opening(self.frames, shown, **opening)
        self._lock, self._undone = Lock(), []

    def close(self) -> None:
        """Open nothing more."""
        self.opening.close()

    def name(self, i: int) -> str:
        """Name of a frame. Raises `NotThere`."""
        if not 0 <= i < len(self.frames):
            raise NotThere
        return self.frames[i].name

    def entry(self, name: str) -> Entry | None:
        """What is said of a frame."""
        captured = next(frame for frame in self.frames if frame.name == name)
        return self.marks.entries.get(name) or self.marks.entries.get(captured.path.name)

    def say(self, i: int, stated: Mapping[str, Any]) -> Entry | None:
        """Say something of a frame; it is in the file when this returns.

        Parameters
        ----------
        i : int
        stated : mapping
            Keys of an `Entry`; all of them, so that what is absent is no longer said.

        Raises
        ------
        Refused
            If it is no entry, or another program said something else of the frame meanwhile.
        OutputError
            If the file cannot be written.
        """
        name = self.name(i)
        try:
            entry = Entry.model_validate({**stated, "proposed": False})
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            where = ".".join(map(str, first["loc"])) or "entry"
            raise Refused(f"{where}: {first['msg']}", place=name) from None
        after = entry if entry != Entry() else None
        with self._lock:
            change = Change(name, self.entry(name), after)
            self._apply(change)
            self._undone = [*self._undone, change][-MOST_UNDONE:]
        return after

    def undo(self) -> int | None:
        """Take the last change back; the number of its frame, None where there is none.

        Raises
        ------
        Refused
            If another program changed what is said of the frame since.
        """
        with self._lock:
            if not self._undone:
                return None
            last = self._undone[-1]
            self._apply(Change(last.name, last.after, last.before))
            self._undone.pop()
        return next(i for i, frame in enumerate(self.frames) if frame.name == last.name)

    def read_again(self) -> Marks:
        """The marks as the file has them now."""
        with self._lock:
            self.marks = load_marks(self.marks.path)
            return self.marks

    def _apply(self, change):
        """Write a change, on what the file says now, unless that differs about this frame."""
        for _ in range(3):
            if _same(self.entry(change.name), change.after):
                return
            if not _same(self.entry(change.name), change.before):
                raise Refused(
                    "another program said something else of this frame meanwhile; it stays",
                    place=change.name,
                    remedy="look at it again, and say what is right",
                )
            key = next(f.path.name for f in self.frames if f.name == change.name)
            marks = self.marks.stating(key, None).stating(change.name, change.after)
            try:
                self.marks = save_marks(marks)
                return
            except MarksChanged:
                self.marks = load_marks(self.marks.path)
        raise Refused("another program keeps writing the marks", place=str(self.marks.path))


def _same(first, second):
    return (first or Entry()) == (second or Entry())


def _unframed(recipe):
    """A recipe without framing, which the page draws itself."""
    return recipe.without("framing") if "framing" in recipe.acting else recipe
