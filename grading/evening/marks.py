"""The marks file: what was chosen of a set, or proposed; ours to write, beside the person's shoot.

It is YAML, with the words of a shoot file's notes::

    marks: 1
    frames:
      harbour_01:
        mark: 4
      harbour_02:
        framing:
          straighten: -1.4
        proposed: true

`inspect` writes proposals and `choose` what a person says; a proposal never replaces that. A shoot
names the file with its key ``marks``, and its own notes win. Who saves it says which version was
read: where another program wrote meanwhile, nothing is written.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from grading.errors import GradingError, RecipeError
from grading.evening.model import Mark
from grading.files.atomic import write_atomically
from grading.framing.framing import Framing
from grading.recipe.keys import linked
from grading.recipe.problems import recipe_error
from grading.stages.stage import Model, parameter
from grading.yaml_text import dump_yaml, load_yaml, read_text

try:
    import fcntl
except ImportError:  # Windows, where only the version is compared
    fcntl = None

class Entry(Model):
    mark: Mark | None = parameter(None, "How good it is; 5 is the best.")
    leave_out: bool = parameter(False, "true: this frame is not rendered.")
    framing: Framing | None = parameter(
        None, "How it is turned and cropped; keys as in a recipe, straighten in degrees."
    )
    proposed: bool = parameter(False, "true: measured, and not yet looked at by a person.")


class MarksFile(Model):
    marks: Literal[1] = parameter(..., "Version of the format of marks files.")
    frames: dict[str, Entry] = parameter({}, "What is said of each frame, under its name.")


@dataclass(frozen=True)
class Marks:
    """What is said of frames, and the version of the file that says it.

    Attributes
    ----------
    path : Path
    entries : mapping from str to Entry
        By the names of frames.
    version : str or None
        SHA-256 of the file's text; None where there is no file yet.
    positions : mapping
        From path to `grading.yaml_text.EntryPosition`.
    """

    path: Path
    entries: Mapping[str, Entry] = field(repr=False)
    version: str | None = None
    positions: Mapping[tuple, Any] = field(default_factory=dict, repr=False, compare=False)

    def stating(self, name: str, entry: Entry | None) -> Marks:
        """The same with another entry of a frame, or with none."""
        entries = {key: value for key, value in self.entries.items() if key != name}
        return replace(self, entries=entries if entry is None else entries | {name: entry})

    def with_proposals(self, proposals: Mapping[str, Entry]) -> Marks:
        """The same with new proposals; what a person stated stays, older proposals go.

        Parameters
        ----------
        proposals : mapping from str to Entry
            By the names of the frames that were measured.
        """
        kept = {name: entry for name, entry in self.entries.items() if not entry.proposed}
        measured = {
            name: entry.model_copy(update={"proposed": True})
            for name, entry in proposals.items()
            if name not in kept
        }
        older = {
            name: entry for name, entry in self.entries.items() if name not in kept | proposals
        }
        return replace(self, entries=dict(sorted((kept | older | measured).items())))


class MarksChanged(GradingError):
    """Another program wrote the marks file since it was read."""


def marks_beside(shoot: Path) -> Path:
    """Where the marks of a shoot are kept that names no file for them.

    >>> marks_beside(Path("evening.yaml")).name
    'evening.marks.yaml'
    """
    return shoot.with_suffix(".marks.yaml")


def load_marks(path: str | os.PathLike[str]) -> Marks:
    """Read a marks file; empty marks where there is none.

    Raises
    ------
    RecipeError
        With ``file:line:column`` for what is wrong with it.
    """
    path = Path(path)
    if not path.exists():
        return Marks(path, {})
    text = read_text(path)
    data, positions = load_yaml(text, path)
    if not isinstance(data, dict) or "marks" not in data:
        raise RecipeError(
            "this is no marks file",
            place=str(path),
            allowed="a file that begins with marks: 1",
            remedy="name another file; `grading inspect --write` begins one",
        )
    if data.get("frames") is None:
        data = {key: value for key, value in data.items() if key != "frames"}
    try:
        model = MarksFile.model_validate(data)
    except ValidationError as error:
        root = linked(MarksFile.model_json_schema(by_alias=True))
        raise recipe_error(error, data, positions, str(path), root) from None
    return Marks(path, model.frames, _version(text), positions)


def save_marks(marks: Marks) -> Marks:
    """Write a marks file, whole or not at all, if nobody else did since it was read.

    Returns
    -------
    Marks
        The same with the version that was written.

    Raises
    ------
    MarksChanged
        If the file is not the one that was read.
    OutputError
        If it cannot be written.
    """
    text = marks_text(marks)
    with _alone(marks.path.parent):
        there = _version(read_text(marks.path)) if marks.path.exists() else None
        if there != marks.version:
            raise MarksChanged(
                "another program changed the marks since they were read",
                place=str(marks.path),
                remedy="read them again and state the change once more; nothing was written",
            )
        write_atomically(marks.path, text.encode("utf-8"), overwrite=there is not None)
    return replace(marks, version=_version(text))


def marks_text(marks: Marks) -> str:
    """The text of a marks file, the same for the same marks."""
    frames = {
        name: entry.model_dump(exclude_defaults=True) for name, entry in marks.entries.items()
    }
    return dump_yaml({"marks": 1, "frames": frames})


def _version(text):
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


@contextmanager
def _alone(folder) -> Iterator[None]:
    """Hold off other programs that save marks in a folder, where the platform can."""
    if fcntl is None:
        yield
        return
    descriptor = None
    with suppress(OSError):  # a folder that cannot be opened, or a file system without locks
        descriptor = os.open(folder, os.O_RDONLY)
        fcntl.flock(descriptor, fcntl.LOCK_EX)
    try:
        yield
    finally:
        if descriptor is not None:
            os.close(descriptor)
