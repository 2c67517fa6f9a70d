"""Shoot files, read and checked, with the frames that they mean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from grading.errors import RecipeError
from grading.evening.captured import (
    Captured,
    frame_named,
    frames_matching,
    in_order_of_capture,
    originals_stated,
    remarks_on_time,
    run_of_frames,
)
from grading.evening.clocks import check_clocks, offset
from grading.evening.course import Run, settle_course
from grading.evening.marks import Entry, Marks, load_marks
from grading.evening.model import VERSION, Note, Shoot, shoot_root
from grading.evening.spots import SpotsFile, read_spots, remarks_on_spots
from grading.messages import nearest, shortened
from grading.recipe.inheritance import find_beside
from grading.recipe.load import Stated, read_stated
from grading.recipe.problems import recipe_error
from grading.yaml_text import load_yaml, read_text


@dataclass(frozen=True)
class Evening:
    """A shoot file, checked, with its frames; the recipes are for `grading.evening.settle`.

    Attributes
    ----------
    path : Path
        The shoot file.
    model : Shoot
    data : mapping
        As it was read: notes hold recipe keys, with null where one goes back to its default.
    positions : mapping
        From path to `grading.yaml_text.EntryPosition`.
    frames : tuple of Captured
        All originals, in order of capture.
    looks : mapping from str to Stated
        What each look states, by its name.
    courses : tuple of Run
    groups : mapping from str to frozenset of str
        Names of the frames of each group.
    noted : mapping from str to str
        From a frame's name to what its notes stand under.
    remarks : list of str
        Sentences on files that were left out, and on those that do not say their time.
    spots : tuple of SpotsFile
        The recipes of spots that it names.
    marks : Marks or None
        The marks file that it names.
    marked : mapping from str to str
        From a frame's name to what its marks stand under.
    """

    path: Path
    model: Shoot
    data: Mapping[str, Any] = field(repr=False)
    positions: Mapping[tuple, Any] = field(repr=False)
    frames: tuple[Captured, ...] = field(repr=False)
    looks: Mapping[str, Stated] = field(repr=False)
    courses: tuple[Run, ...] = field(repr=False)
    groups: Mapping[str, frozenset[str]] = field(repr=False)
    noted: Mapping[str, str] = field(repr=False)
    remarks: list[str] = field(repr=False)
    spots: tuple[SpotsFile, ...] = field(default=(), repr=False)
    marks: Marks | None = field(default=None, repr=False)
    marked: Mapping[str, str] = field(default_factory=dict, repr=False)

    def note(self, frame: Captured) -> Note:
        """The note on a frame, over what its marks say; an empty one where there is neither."""
        key = self.noted.get(frame.name)
        note = Note() if key is None else self.model.frames[key]
        entry = self.entry(frame)
        stated = note.model_fields_set
        return note.model_copy(update={
            each: getattr(entry, each) for each in ("mark", "leave_out") if each not in stated
        })  # fmt: skip

    def entry(self, frame: Captured) -> Entry:
        """What the marks file says of a frame; an empty entry where it says nothing."""
        key = self.marked.get(frame.name)
        return Entry() if key is None else self.marks.entries[key]

    def named(self, name: str) -> str:
        """A frame's own name for one that the file uses, which may hold the ending."""
        return next(f.name for f in self.frames if name in (f.name, f.path.name))

    @property
    def is_measured(self) -> bool:
        """Whether its recipes depend on what is measured in the frames."""
        return self.model.level is not None or any(run.by == "light" for run in self.courses)

    @property
    def rendered(self) -> list[Captured]:
        """The frames that are not left out, in order of capture."""
        return [frame for frame in self.frames if not self.note(frame).leave_out]

    def place(self, *path: str | int) -> str:
        """Where a value stands, as ``file:line:column``."""
        return str(self.positions[path].value)


def load_shoot(path: str | PathLike[str], begins_marks: bool = False) -> Evening:
    """A shoot file and the frames that it means.

    Parameters
    ----------
    path : path-like
    begins_marks : bool
        Whether a marks file that it names need not be there yet.

    Returns
    -------
    Evening

    Raises
    ------
    RecipeError
        With ``file:line:column`` for what is wrong with the shoot file or one of its looks.
    OriginalError
        If what ``originals`` names is not there.
    """
    path = Path(path)
    data, positions = _read(path)
    model = _validated(data, positions, path)

    def place(*at):
        return str(positions[at].value)

    paths, remarks = originals_stated(model.originals, model.pairs, path.parent, place)
    frames = in_order_of_capture(paths, {of: offset(text) for of, text in model.clocks.items()})
    check_clocks(model.clocks, (frame.capture for frame in frames), place)

    marks, marked = _marks(model.marks, path, frames, positions, begins_marks)
    evening = Evening(
        path=path,
        model=model,
        data=data,
        positions=positions,
        frames=frames,
        looks=_looks(model.looks, path, place),
        courses=_courses(model.courses, frames, place),
        groups=_groups(model.groups, frames, place),
        noted=_noted(model.frames, frames, place_of=lambda key: positions["frames", key].key),
        remarks=remarks,
        spots=read_spots(model.spots or (), path, place),
        marks=marks,
        marked=marked,
    )
    _check_names_of_looks(evening)
    remarks += remarks_on_time(evening.rendered)
    remarks += remarks_on_spots(evening.spots, evening.rendered)
    if model.level and model.level.reference:
        frame_named(evening.rendered, model.level.reference, place("level", "reference"))
    return evening


def _read(path):
    """Data without what is empty, and positions."""
    data, positions = load_yaml(read_text(path), path)
    if not isinstance(data, dict) or "shoot" not in data:
        raise RecipeError(
            "this is no shoot file",
            place=str(positions[()].value if positions else path),
            allowed="keys with values, shoot among them",
            remedy=f"begin with shoot: {VERSION}; `grading shoot new` writes one to start from",
        )
    data = {key: value for key, value in data.items() if value is not None}
    for kind in ("groups", "frames"):
        if isinstance(data.get(kind), dict):
            data[kind] = {name: {} if note is None else note for name, note in data[kind].items()}
    for key in ("originals", "spots"):
        if isinstance(data.get(key), str):
            data[key] = [data[key]]
            positions[key, 0] = positions[key,]
    return data, positions


def _validated(data, positions, path):
    try:
        return Shoot.model_validate(data)
    except ValidationError as error:
        raise recipe_error(error, data, positions, str(path), shoot_root()) from None


def _looks(names, path, place):
    found = {}
    for i, text in enumerate(names):
        where = place("looks", i)
        file = find_beside(text, path, where, f"looks[{i}]")
        if file.stem in found:
            raise RecipeError(
                f"looks[{i}] = {shortened(text)}: a second look of the name {shortened(file.stem)}",
                place=where,
                remedy="rename one of the two files",
            )
        found[file.stem] = read_stated(file)
    return found


def _courses(courses, frames, place):
    return tuple(
        settle_course(
            key,
            course,
            frames,
            {None: place("courses", key)}
            | {name: place("courses", key, "at", name) for name in course.at},
        )
        for key, course in courses.items()
    )


def _groups(groups, frames, place):
    found = {}
    for name, group in groups.items():
        members = []
        for i, each in enumerate(group.frames):
            where = place("groups", name, "frames", i)
            choose = frames_matching if isinstance(each, str) else run_of_frames
            members += choose(frames, each, where)
        found[name] = frozenset(frame.name for frame in members)
    return found


def _marks(name, path, frames, positions, begins):
    """The marks file that a shoot names, and what it says of which of its frames.

    What it says of files that are gone is passed over: it is kept, and it may be another shoot's.
    """
    if name is None:
        return None, {}
    marks = load_marks(path.parent / name)
    if marks.version is None and not begins:
        raise RecipeError(
            f"marks: there is no file {shortened(name)}",
            place=str(positions["marks",].value),
            remedy=f"`grading inspect ... --write {name}` begins one",
        )
    known = {each for frame in frames for each in (frame.name, frame.path.name)}
    of_these = [key for key in marks.entries if key in known]
    return marks, _noted(of_these, frames, place_of=lambda key: marks.positions["frames", key].key)


def _noted(notes, frames, place_of):
    found = {}
    for key in notes:
        where = str(place_of(key))
        name = frame_named(frames, key, where).name
        if name in found:
            raise RecipeError(
                f"frames: {shortened(key)} and {shortened(found[name])} are the same frame",
                place=where,
                remedy="put the notes under one of the two names",
            )
        found[name] = key
    return found


def _check_names_of_looks(evening):
    """Refuse notes and deliveries for a look that the shoot does not have."""
    stated = [
        (("groups", name, "looks", look), look)
        for name, group in evening.model.groups.items()
        for look in group.looks
    ]
    stated += [
        (("frames", name, "looks", look), look)
        for name, note in evening.model.frames.items()
        for look in note.looks
    ]
    stated += [
        (("deliveries", name, "looks", i), look)
        for name, delivery in evening.model.deliveries.items()
        for i, look in enumerate(delivery.looks or ())
    ]
    for path, look in stated:
        if look not in evening.looks:
            close = nearest(look, evening.looks)
            raise RecipeError(
                f"{path[0]}.{path[1]}: this shoot has no look {shortened(look)}",
                place=evening.place(*path),
                allowed=", ".join(evening.looks),
                remedy=f"did you mean {close}?" if close else None,
            )
