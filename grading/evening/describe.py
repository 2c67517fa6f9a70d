"""What a shoot file can state, and what it states: schema, `explain shoot` and `check`."""

from __future__ import annotations

import json
from collections.abc import Iterator

from grading.evening.captured import Captured
from grading.evening.deliveries import jobs_of, wants
from grading.evening.load import Evening
from grading.evening.model import shoot_root, shoot_schema
from grading.recipe.describe import NAME, explain_key, for_editors
from grading.recipe.keys import in_yaml, kinds, properties
from grading.recipe.model import RECIPE_KEYS
from grading.recipe.problems import dotted
from grading.terminal import visible

_HEAD = """\
A shoot file: the frames of one evening, how each is graded, and what is handed over.

From frame to recipe: the look, then the spots file, then courses through the evening, then notes of
groups in order, then framing from the marks file, then notes of the frame itself, each for all
looks and then for one. A later layer replaces what an earlier one states, key by key. `grading
shoot new` writes a file to start from."""


def schema_text() -> str:
    """JSON schema (draft 2020-12) of a shoot file, as the text of a file."""
    return json.dumps(for_editors(shoot_schema(), "Shoot file", "shoot"), indent=1) + "\n"


def topics() -> set[str]:
    """Keys that stand in a shoot file and in no recipe."""
    return set(properties(shoot_root())) - set(RECIPE_KEYS)


def explain_shoot(topic: str | None = None) -> str:
    """Every key of a shoot file, or those of one topic, but for those of recipes.

    Parameters
    ----------
    topic : str, optional
        One of `topics`.
    """
    keys = [
        explain_key(dotted(path), node)
        for path, node in _keys(shoot_root())
        if topic in (None, path[0])
    ]
    if topic:
        return "\n\n".join(keys) + "\n"
    more = "Notes of frames and groups also take the keys of a recipe: see `grading explain`."
    paragraphs = [_HEAD, *keys, more]
    return "\n\n".join(paragraphs) + "\n"


def _keys(node: dict, inside: tuple = ()) -> Iterator[tuple[tuple, dict]]:
    for key, below in properties(node).items():
        if key in RECIPE_KEYS and inside[1:] == (NAME,):
            continue
        named = next((k["additionalProperties"] for k in kinds(below) if _is_named(k)), None)
        here = (*inside, key)
        if named and properties(named) and not inside:
            yield from _keys(named, (*here, NAME))
        elif properties(below):
            yield from _keys(below, here)
        else:
            yield here, below


def _is_named(kind):
    return bool(kind.get("additionalProperties"))


def summarise_shoot(evening: Evening) -> str:
    """What a shoot file means: frames, looks, courses frame by frame, notes, deliveries.

    Raises
    ------
    RecipeError
        For what can only be seen once recipes are settled.
    """
    jobs_of(evening)  # finds what is wrong with any
    title = evening.model.title or evening.path.stem
    lines = [f"{title} ({evening.path})"]
    left_out = len(evening.frames) - len(evening.rendered)
    frames = f"  {len(evening.frames)} frames" + (f", {left_out} left out" if left_out else "")
    lines.append(f"{frames}; looks: {', '.join(evening.looks)}")
    lines += [f"  {remark}" for remark in evening.remarks]
    lines += _courses(evening)
    for name, members in evening.groups.items():
        lines.append(f"  Group {name}: {', '.join(sorted(members))}")
    lines += [line for frame in evening.frames for line in _note(evening, frame)]
    if evening.data.get("credits"):
        lines.append(f"  Credits: {in_yaml(evening.data['credits'], 160)}")
    for name, delivery in evening.model.deliveries.items():
        count = sum(
            wants(delivery, look, evening.note(frame).mark)
            for frame in evening.rendered
            for look in evening.looks
        )
        lines.append(
            f"  Delivery {name}: {count} files into {delivery.folder}, {delivery.format},"
            f" {delivery.space}{_size(delivery)}"
        )
    return "\n".join(map(visible, lines)) + "\n"


def _size(delivery):
    for name in ("long_edge", "short_edge"):
        if getattr(delivery, name):
            return f", {name.replace('_', ' ')} {getattr(delivery, name)} pixels"
    return ", within {} x {} pixels".format(*delivery.box) if delivery.box else ""


def _courses(evening):
    for run in evening.courses:
        if run.by == "light":
            words = "by the light, which is measured when it is rendered"
        else:
            words = ", ".join(f"{run.value(frame):.4g}" for frame in evening.rendered)
        yield f"  Course {dotted(run.path)}: {words}"


def _note(evening, frame: Captured):
    key = evening.noted.get(frame.name)
    if key is not None and evening.data["frames"][key]:
        yield f"  Frame {key}: {in_yaml(evening.data['frames'][key], 160)}"
