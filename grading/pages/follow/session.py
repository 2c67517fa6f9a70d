"""What is followed: a recipe as it was saved last, and frames rendered by it on demand."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import inf
from pathlib import Path
from threading import Condition, Event
from typing import Any, NamedTuple

from grading.colour.profiles import icc_profile
from grading.engine.execute import Picture, carry_out
from grading.engine.output import Output
from grading.engine.plan import Plan, make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve, warnings
from grading.errors import GradingError
from grading.files.formats.jpeg import encode_jpeg
from grading.files.originals import open_frame
from grading.frame import Frame
from grading.pages.follow.cache import ResultCache
from grading.pages.follow.watch import GRACE, changed, contents, files_of
from grading.recipe.load import load_recipe, recipe_from_mapping

PREVIEW_EDGE = 2048
"""Pixels of a preview's long edge at most; a 24 Mpx frame comes to 1500 x 1000."""

FRAMES, PICTURES = 4, 4
"""How many opened frames and how many rendered pictures are kept."""

VERSIONS = 64
"""How many of the latest versions of the recipe can still be rendered: a page goes on showing one
while later ones do not fit its frame."""

QUALITY = 90

BEFORE = 0
"""Number of the empty recipe."""


class NotThere(Exception):
    """There is no such frame, or the version is too old to be kept."""


@dataclass(frozen=True, eq=False)
class RecipeVersion:
    """The recipe as it was after one of its saves; `number` counts those that could be read."""

    number: int
    recipe: Any = field(repr=False)


@dataclass(frozen=True, eq=False)
class State:
    """The recipe that was read last without an error, and what is wrong with the file since.

    ``number`` rises with every change of either.
    """

    number: int
    latest: RecipeVersion
    error: str | None = None


class Opened(NamedTuple):
    """A frame, on which recipes are resolved, and its smaller version, which is graded."""

    whole: Frame
    small: Frame


@dataclass
class Rendering:
    """A frame under a recipe, at reduced size."""

    opened: Opened
    plan: Plan
    picture: Picture
    warnings: tuple[str, ...]

    @cached_property
    def jpeg(self) -> bytes:
        """The picture as a file, sRGB with its profile."""
        return encode_jpeg(self.picture.array, icc_profile("srgb"), None, QUALITY)


class Session:
    """A recipe being followed, and the frames that show it.

    Parameters
    ----------
    path : Path
        The recipe's file.
    originals : sequence of Path
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.
    """

    def __init__(
        self, path: Path, originals: Sequence[Path], accept_dark: bool = False
    ) -> None:
        self.path, self.originals, self.accept_dark = path, tuple(originals), accept_dark
        self.stopped = Event()
        empty = recipe_from_mapping({"grading": 1}, "the empty recipe")
        self._before = RecipeVersion(BEFORE, empty)
        self._versions = deque(maxlen=VERSIONS)
        self.state = State(0, self._before)
        self._news = Condition()
        self._frames = ResultCache(self._open, FRAMES)
        self._pictures = ResultCache(self._render, PICTURES)
        self._reload()

    def follow(self) -> None:
        """Read the recipe again whenever it is saved, until `stopped` is set."""
        while changed(self._seen, inf, self.stopped):
            self._reload()

    def stop(self) -> None:
        """Stop following and waiting; what is being computed is finished."""
        self.stopped.set()
        with self._news:
            self._news.notify_all()
        self._frames.close()
        self._pictures.close()

    def wait(self, number: int, seconds: float) -> State:
        """The state as soon as its number is another, or after some seconds anyway."""
        with self._news:
            self._news.wait_for(
                lambda: self.state.number != number or self.stopped.is_set(), seconds
            )
            return self.state

    def rendering(self, index: int, version: int) -> Rendering:
        """A frame under one of the latest versions of the recipe, or under the empty recipe.

        Parameters
        ----------
        index : int
            0 or more.
        version : int
            Its number, or `BEFORE`.

        Raises
        ------
        NotThere
        Closed
            If following ends before it is computed.
        GradingError
            If the frame cannot be opened, or the recipe does not fit it.
        """
        with self._news:
            versions = {each.number: each for each in (self._before, *self._versions)}
        if index >= len(self.originals) or version not in versions:
            raise NotThere
        return self._pictures.get((index, versions[version]))

    def prepare(self, index: int) -> None:
        """Open a frame before it is asked for. Raises as `rendering` does."""
        if index >= len(self.originals):
            raise NotThere
        self._frames.begin(index)

    def _reload(self):
        """Read the recipe; one that is wrong gets a moment, as it may be half saved."""
        while True:
            self._seen = contents(files_of(self.path))
            recipe, error = self._load()
            if not (error and changed(self._seen, GRACE, self.stopped)):
                break
        with self._news:
            latest = self.state.latest
            if not error:
                latest = RecipeVersion(latest.number + 1, recipe)
                self._versions.append(latest)
            self.state = State(self.state.number + 1, latest, error)
            self._news.notify_all()

    def _load(self):
        try:
            return load_recipe(self.path), None
        except GradingError as error:
            return None, str(error)

    def _open(self, index):
        whole = open_frame(self.originals[index], accept_dark=self.accept_dark)
        return Opened(whole, preview(whole, PREVIEW_EDGE))

    def _render(self, key):
        index, version = key
        opened, output = self._frames.get(index), Output()
        resolved = resolve(version.recipe, opened.whole)
        plan = make_plan(resolved, opened.small)
        (((codes, clipping),),) = carry_out(opened.small, [plan], [output])
        picture = Picture(codes, output, resolved, clipping)
        return Rendering(opened, plan, picture, warnings(version.recipe, opened.whole))
