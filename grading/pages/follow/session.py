"""What is followed, as it was saved last, and frames rendered by it on demand."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import inf
from pathlib import Path
from threading import Condition, Event, Lock
from typing import NamedTuple

from grading.colour.profiles import icc_profile
from grading.engine.execute import Picture, carry_out
from grading.engine.output import Output
from grading.engine.plan import make_plan, view_for
from grading.engine.preview import preview
from grading.engine.resolve import resolve, warnings
from grading.engine.steps import Plan
from grading.errors import GradingError
from grading.files.formats.jpeg import encode_jpeg
from grading.files.originals import open_frame
from grading.frame import Frame
from grading.pages.follow.cache import ResultCache
from grading.pages.follow.followed import EMPTY, FollowedRecipe, FollowedShoot, Shown
from grading.pages.follow.influence import Influence, influences
from grading.pages.follow.watch import GRACE, changed, contents
from grading.pages.loopback import NotThere
from grading.recipe.load import Recipe

PREVIEW_EDGE = 2048
"""Pixels of a preview's long edge at most; a 24 Mpx frame comes to 1500 x 1000."""

FRAMES, PICTURES = 4, 8
"""How many opened frames and how many rendered pictures are kept: two at a time, and those to
come, or those without the recipe."""

VERSIONS = 64
"""How many of the latest versions of the recipe can still be rendered: a page goes on showing one
while later ones do not fit its frame."""

QUALITY = 90

BEFORE = 0
"""Number of the empty recipe."""


@dataclass(frozen=True, eq=False)
class Version:
    """What there is to show after one of the saves; `number` counts those that could be read."""

    number: int
    shown: Shown = field(repr=False)


@dataclass(frozen=True, eq=False)
class State:
    """What was read last without an error, what is wrong since, and what is being worked at.

    ``number`` rises with every change of any.
    """

    number: int
    latest: Version
    error: str | None = None
    work: str = ""


class Opened(NamedTuple):
    """A frame, on which recipes are resolved, and its smaller version, which is graded."""

    whole: Frame
    small: Frame


@dataclass
class Rendering:
    """A frame under a recipe, at reduced size; `acting` are the parts that the recipe has."""

    opened: Opened
    plan: Plan
    picture: Picture
    warnings: tuple[str, ...]
    acting: tuple[str, ...] = ()

    @cached_property
    def jpeg(self) -> bytes:
        """The picture as a file, sRGB with its profile."""
        return encode_jpeg(self.picture.array, icc_profile("srgb"), None, QUALITY)

    @cached_property
    def whole_plan(self) -> Plan:
        """The plan for the frame at its own size."""
        return make_plan(self.picture.resolved, self.opened.whole)

    @property
    def full_size(self) -> tuple[int, int]:
        """Width and height of the picture at the size of the original."""
        return view_for(self.picture.resolved, self.opened.whole).size

    @cached_property
    def influences(self) -> list[Influence]:
        """What each key of the recipe does to the picture."""
        return influences(self.opened.whole, self.picture.resolved, EMPTY)


class Session:
    """A recipe or a shoot being followed, and the frames that show it.

    Parameters
    ----------
    followed : FollowedRecipe or FollowedShoot
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.
    """

    def __init__(
        self, followed: FollowedRecipe | FollowedShoot, accept_dark: bool = False
    ) -> None:
        self.followed, self.accept_dark = followed, accept_dark
        self.stopped = Event()
        self._versions = deque(maxlen=VERSIONS)
        self.state = State(0, Version(BEFORE, followed.unread()))
        self._news, self._loading = Condition(), Lock()
        self._frames = ResultCache(self._open, FRAMES)
        self._pictures = ResultCache(self._render, PICTURES)
        followed.begin(self._reload, self._say)
        self._reload()

    def follow(self) -> None:
        """Read everything again whenever it is saved, until `stopped` is set."""
        while changed(self._seen, inf, self.stopped):
            self._reload()

    def stop(self) -> None:
        """Stop following and waiting; what is being computed is finished."""
        self.stopped.set()
        with self._news:
            self._news.notify_all()
        self.followed.close()
        self._frames.close()
        self._pictures.close()

    def wait(self, number: int, seconds: float) -> State:
        """The state as soon as its number is another, or after some seconds anyway."""
        with self._news:
            self._news.wait_for(
                lambda: self.state.number != number or self.stopped.is_set(), seconds
            )
            return self.state

    def shown(self, version: int) -> Shown:
        """What there is to show in one of the latest versions; `BEFORE` has the frames of the last.

        Raises
        ------
        NotThere
        """
        with self._news:
            versions = {each.number: each.shown for each in self._versions}
            versions[BEFORE] = self.state.latest.shown
        if version not in versions:
            raise NotThere
        return versions[version]

    def rendering(self, item: int, version: int, without: int = 0) -> Rendering:
        """A frame under one of the latest versions of a recipe, or under the empty recipe.

        Parameters
        ----------
        item : int
            0 or more, as `grading.pages.follow.followed.Shown` counts frames and looks.
        version : int
            Its number, or `BEFORE`.
        without : int
            Which part of the recipe is left out, counted from 1 as `Recipe.acting` names them.

        Raises
        ------
        NotThere
        Closed
            If following ends before it is computed.
        GradingError
            If the frame cannot be opened, or the recipe does not fit it.
        """
        shown = self.shown(version)
        path = _original(shown, item)
        recipe = EMPTY if version == BEFORE else shown.recipes[item]
        if without > len(recipe.acting):
            raise NotThere
        if without:
            recipe = recipe.without(recipe.acting[without - 1])
        return self._pictures.get(_Wanted(path, recipe.digest, recipe))

    def prepare(self, item: int) -> None:
        """Open a frame before it is asked for. Raises as `rendering` does."""
        self._frames.begin(_original(self.state.latest.shown, item))

    def _say(self, work):
        """Tell what is being worked at."""
        with self._news:
            self.state = replace(self.state, number=self.state.number + 1, work=work)
            self._news.notify_all()

    def _reload(self):
        """Read everything; what is wrong gets a moment, as it may be half saved."""
        with self._loading:
            while True:
                self._seen = contents(self.followed.files())
                shown, error = self._load()
                if not (error and changed(self._seen, GRACE, self.stopped)):
                    break
            with self._news:
                latest = self.state.latest
                if not error:
                    latest = Version(latest.number + 1, shown)
                    self._versions.append(latest)
                number = self.state.number + 1
                self.state = replace(self.state, number=number, latest=latest, error=error)
                self._news.notify_all()

    def _load(self):
        try:
            return self.followed.load(), None
        except GradingError as error:
            return None, str(error)

    def _open(self, path):
        whole = open_frame(path, accept_dark=self.accept_dark)
        return Opened(whole, preview(whole, PREVIEW_EDGE))

    def _render(self, wanted):
        opened, output = self._frames.get(wanted.path), Output()
        resolved = resolve(wanted.recipe, opened.whole)
        plan = make_plan(resolved, opened.small)
        (((codes, clipping),),) = carry_out([plan], [output])
        picture = Picture(codes, output, resolved, clipping)
        acting = tuple(wanted.recipe.acting)
        return Rendering(opened, plan, picture, warnings(wanted.recipe, opened.whole), acting)


@dataclass(frozen=True)
class _Wanted:
    """A picture, which a save that changes no value of its recipe leaves as it is."""

    path: Path
    digest: str
    recipe: Recipe = field(compare=False, repr=False)


def _original(shown, item):
    if item >= len(shown.recipes):
        raise NotThere
    return shown.originals[item % len(shown.originals)]
