"""What can be followed: a recipe on given originals, or a shoot with its frames and looks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from typing import Any

from grading.errors import GradingError
from grading.evening.captured import Captured
from grading.evening.level.corrections import Levelled
from grading.evening.level.measure import Known, Measuring
from grading.evening.load import Evening, load_shoot
from grading.evening.settle import settle_all
from grading.pages.evening import chosen, levelling
from grading.pages.follow.watch import files_of, files_of_shoot
from grading.recipe.load import Recipe, load_recipe, recipe_from_mapping

EMPTY = recipe_from_mapping({"grading": 1}, "the empty recipe")


@dataclass(frozen=True, eq=False)
class Shown:
    """What there is to show: frames, and their recipes under each look.

    Attributes
    ----------
    title : str
    originals : tuple of Path
    recipes : tuple of Recipe
        One for each item: frames under the first look, then under the next one, and so on. An item
        is look * (number of frames) + frame.
    looks : tuple of str
        None are named where there is one recipe only.
    notes : tuple of list of str
        What is noted of each frame, in words.
    course : tuple of dict
        Of every frame of the evening, in order of capture: its ``name``, ``frame`` (which of those
        shown, or None), ``time`` in seconds from the first and on the ``clock``, measured ``light``
        and the correction by levelling, ``stops``.
    """

    title: str
    originals: tuple[Path, ...]
    recipes: tuple[Recipe, ...] = field(repr=False)
    looks: tuple[str, ...] = ()
    notes: tuple[list[str], ...] = field(default=(), repr=False)
    course: tuple[dict[str, Any], ...] = field(default=(), repr=False)


class FollowedRecipe:
    """A recipe on given originals."""

    def __init__(self, path: Path, originals: Sequence[Path]) -> None:
        self.path, self.originals = path, tuple(originals)

    def unread(self) -> Shown:
        """What there is to show before it was read once: frames without a recipe."""
        return Shown("", self.originals, (EMPTY,) * len(self.originals))

    def files(self) -> list[Path]:
        """The files that it is made of."""
        return files_of(self.path)

    def load(self) -> Shown:
        """As it is now. Raises `GradingError`."""
        recipe = load_recipe(self.path)
        return Shown(recipe.title, self.originals, (recipe,) * len(self.originals))

    def begin(self, done: Callable[[], None], say: Callable[[str], None]) -> None:
        """There is nothing to begin."""

    def close(self) -> None:
        """There is nothing to end."""


class FollowedShoot:
    """A shoot, measured on a thread of its own where its recipes depend on that.

    Each frame is opened once for it; the levels are found again when the frames or the key `level`
    change. Until then the earlier ones are used, or none.

    Parameters
    ----------
    path : Path
        The shoot file.
    names : sequence of str
        Only these frames: names and patterns; all that are not left out if there are none.
    accept_dark : bool
        As `grading.open_frame` has it.
    """

    def __init__(self, path: Path, names: Sequence[str] = (), accept_dark: bool = False) -> None:
        self.path, self.names = path, tuple(names)
        self._opening = {"accept_dark": accept_dark}
        self._known, self._levels, self._measured = Known(), None, frozenset()
        self._wanted, self._failure = None, None
        self._worker, self._ended = ThreadPoolExecutor(1), Event()
        self._done = self._say = lambda *_: None

    def begin(self, done: Callable[[], None], say: Callable[[str], None]) -> None:
        """Whom to tell when levels are known, and how far measuring is."""
        self._done, self._say = done, say

    def close(self) -> None:
        """End measuring after the frame that is being opened."""
        self._ended.set()
        self._worker.shutdown(cancel_futures=True)

    def unread(self) -> Shown:
        """Nothing, before it was read once: it says itself what the frames are."""
        return Shown("", (), ())

    def files(self) -> list[Path]:
        """The shoot file, its looks, and what they are made of."""
        return files_of_shoot(self.path)

    def load(self) -> Shown:
        """As it is now. Raises `GradingError`."""
        evening = load_shoot(self.path)
        levels = self._levels_of(evening)
        recipes = settle_all(evening, levels)
        frames = chosen(evening, self.names)
        return Shown(
            title=evening.model.title or evening.path.stem,
            originals=tuple(frame.path for frame in frames),
            recipes=tuple(recipes[f.name, look] for look in evening.looks for f in frames),
            looks=tuple(evening.looks),
            notes=tuple(_notes(evening, frame, levels) for frame in frames),
            course=_course(evening.rendered, frames, levels),
        )

    def _levels_of(self, evening) -> dict[str, Levelled] | None:
        """What is known of the frames; measuring begins where it must."""
        if not evening.is_measured:
            self._wanted = None
            return None
        names = {frame.name for frame in evening.rendered}
        key = tuple(frame.path for frame in evening.rendered), evening.model.level
        if key != self._wanted:
            measuring = Measuring(evening, None, self._known, **self._opening)
            self._wanted, self._failure = key, None
            self._worker.submit(self._measure, measuring, key)
        if self._failure:
            raise self._failure
        return self._levels if names <= self._measured else None

    def _measure(self, measuring, key):
        try:
            for count, _ in enumerate(measuring, 1):
                if self._ended.is_set() or self._wanted != key:
                    return
                self._say(f"Levelling: {count} of {len(measuring)} frames measured")
            self._say("Levelling: the frames are compared")
            levels = measuring.levels()
        except GradingError as error:
            self._failure = error
        else:
            names = frozenset(frame.name for frame in measuring.evening.rendered)
            self._levels, self._measured = levels, names
        self._say("")
        if self._wanted == key:
            self._done()


def _notes(evening: Evening, frame: Captured, levels) -> list[str]:
    note, levelled = evening.note(frame), (levels or {}).get(frame.name)
    mark = [f"Mark {note.mark}"] if note.mark else []
    caption = [note.caption] if note.caption else []
    said = [*levelling(evening.model.level, levelled), *levelled.remarks] if levelled else []
    return mark + caption + said


def _course(rendered, shown, levels):
    """The course of the evening, of the frames of which it is known."""
    start = rendered[0].moment if rendered else None
    place = {frame.name: i for i, frame in enumerate(shown)}
    return tuple(
        {
            "name": frame.name,
            "frame": place.get(frame.name),
            "time": (frame.time - start).total_seconds(),
            "clock": f"{frame.time:%H:%M}",
            "light": levels[frame.name].light,
            "stops": levels[frame.name].stops,
        }
        for frame in rendered
        if frame.name in (levels or {})
    )
