"""What a shoot hands over, as jobs: for each frame and look one grade, and the files made of it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from grading.engine.output import Output
from grading.errors import OutputError, RecipeError
from grading.evening.captured import Captured
from grading.evening.level.corrections import Levelled
from grading.evening.load import Evening
from grading.evening.model import Delivery
from grading.evening.names import filled
from grading.evening.settle import settle_all
from grading.files.formats.registry import FORMATS
from grading.files.metadata.label import Label
from grading.messages import shortened
from grading.shoot.jobs import Job, Target


def jobs_of(evening: Evening, levels: Mapping[str, Levelled] | None = None) -> list[Job]:
    """All that a shoot file asks for; jobs of one frame follow each other.

    Parameters
    ----------
    evening : Evening
    levels : mapping, optional
        What was measured of each frame, by its name.

    Raises
    ------
    RecipeError
        For a recipe that cannot be settled, a name that asks for a fact which a frame does not
        have, or two outputs of one name, with the place in the shoot file.
    """
    recipes, jobs, taken = settle_all(evening, levels), [], {}
    for frame in evening.rendered:
        for look in evening.looks:
            targets = tuple(_targets(evening, frame, look, taken))
            if targets:
                jobs.append(Job(frame.path, recipes[frame.name, look], targets))
    return jobs


def wants(delivery: Delivery, look: str, mark: int | None) -> bool:
    """Whether a delivery takes a frame of some mark under a look."""
    chosen = delivery.looks is None or look in delivery.looks
    return chosen and (delivery.marks is None or mark in delivery.marks)


def _targets(evening: Evening, frame: Captured, look: str, taken: dict) -> Iterator[Target]:
    note = evening.note(frame)
    for name, delivery in evening.model.deliveries.items():
        if not wants(delivery, look, note.mark):
            continue
        path = _path(evening, frame, look, name)
        here, at = (frame.name, look, name), os.path.normpath(path).casefold()
        if at in taken:
            raise _same_name(evening, path, taken[at], here)
        taken[at] = here
        label = _label(evening, note, name)
        yield Target(path, output_of(evening, name), label, delivery.manifest)


def output_of(evening: Evening, name: str) -> Output:
    """What a delivery asks of its files.

    Raises
    ------
    RecipeError
        If two sizes are stated, or the format cannot state the space.
    """
    delivery = evening.model.deliveries[name]
    try:
        return Output(
            delivery.format, delivery.space, delivery.long_edge, delivery.quality,
            delivery.short_edge, delivery.box, delivery.sharpen,
        )  # fmt: skip
    except OutputError as error:
        raise RecipeError(
            f"deliveries.{shortened(name)}: {error.problem}",
            place=_place(evening, name, "format"),
            allowed=error.allowed,
            remedy=error.remedy,
        ) from None


def _label(evening, note, name):
    """What the files of a frame say beside their pixels."""
    delivery, credits = evening.model.deliveries[name], {}
    for stated in (evening.model.credits, delivery.credits):
        credits |= stated.model_dump(exclude_unset=True) if stated else {}
    return Label(
        **credits | {"keywords": tuple(credits.get("keywords") or ())},
        caption=note.caption,
        rating=note.mark,
        place=delivery.place,
        dpi=delivery.dpi,
    )


def _path(evening, frame, look, name) -> Path:
    delivery, time = evening.model.deliveries[name], frame.time
    facts = {
        "stem": frame.path.stem,
        "look": look,
        "number": frame.number,
        "date": time and f"{time:%Y-%m-%d}",
        "time": time and f"{time:%H%M%S}",
        "mark": evening.note(frame).mark,
        "delivery": name,
    }
    parts = {}
    for key in ("folder", "name"):
        try:
            parts[key] = filled(getattr(delivery, key), facts)
        except KeyError as missing:
            raise RecipeError(
                f"deliveries.{shortened(name)}.{key}: the {missing.args[0]} of frame "
                f"{shortened(frame.name)} is not known",
                place=_place(evening, name, key),
                remedy="take that field out, or deliver only frames that have it",
            ) from None
    file = parts["name"] + FORMATS[delivery.format].suffix
    if Path(file).name != file or "\0" in file:
        raise RecipeError(
            f"deliveries.{shortened(name)}.name makes {shortened(file)}",
            place=_place(evening, name, "name"),
            allowed="the plain name of a file; folders are stated under folder",
        )
    return _in_short(evening.path.parent / parts["folder"]) / file


def _in_short(folder):
    """A folder without ``..``, where that is the same one."""
    short = Path(os.path.normpath(folder))
    return short if os.path.realpath(short) == os.path.realpath(folder) else folder


def _place(evening, name, key):
    """Where a key of a delivery is stated, or the delivery where it is left to its default."""
    at = ("deliveries", name, key)
    return evening.place(*(at if at in evening.positions else at[:2]))


def _same_name(evening, path, first, second):
    """The error of two outputs of one name, each of a frame under a look in a delivery."""
    frames, _, names = (set(pair) for pair in zip(first, second, strict=True))
    asked = "{look}" if len(frames) == 1 else "{stem} or {number}"
    remedy = f"put {asked} into its name or folder"
    return RecipeError(
        f"deliveries.{shortened(second[2])}: {path.name} would be made of {_words(first)} and of"
        f" {_words(second)}",
        place=_place(evening, second[2], "name"),
        remedy=remedy if len(names) == 1 else "give one of the two another folder or name",
    )


def _words(one):
    frame, look, delivery = one
    return f"{shortened(frame)} under {look} for {shortened(delivery)}"
