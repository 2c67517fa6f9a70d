"""The text of a new shoot file: what is there, in order of capture, and how to go on."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from grading.evening.captured import Captured
from grading.evening.marks import marks_beside
from grading.frame import Capture

_PLAIN = re.compile(r"(?!(?:true|false|null)$)[A-Za-z_][\w-]*", re.IGNORECASE | re.ASCII)

_TEXT = """\
# A shoot file: the frames of one evening, how they are graded, and what is handed over.
#
#   grading check {file}     says what it means
#   grading render {file}    makes all of it
#   grading explain shoot    shows every key
#
# It is yours: no command writes into it.
shoot: 1
title: {title}

# Files, folders and patterns, relative to this file.
originals:
{originals}
{pairs}{clocks}
# Recipes of your own (a path) or shipped looks (`grading looks`). With several, every frame is
# rendered under each of them.
looks: [evenlight]

# What `grading choose` and `grading inspect --write {marks}` say of frames.
marks: {marks}

# Even out exposure and white over the set; `grading level {file}` shows what that does.
#
# level: {{keep_fall: 0.2}}

# Keys of the recipe that run through the evening: values at frames, or at times such as 19:30, and
# a smooth course between them. They are laid over the look.
#
# courses:
#   exposure.stops:
#     at: {{{first}: 0, {last}: 0.5}}

# Frames that share something. A list names frames, patterns, or runs [first, last].
#
# groups:
#   start:
#     frames: [[{first}, {last}]]
#     white_balance: {{shift: 10}}

# Notes on frames, in order of capture: leave_out: true, a mark from 1 to 5, a caption, and any keys
# of a recipe, which come last and win; below looks: those for one look only. Such as:
#
#   {first}:
#     mark: 5
#     exposure: {{stops: 0.3}}
frames:
{frames}

# What is handed over. Names may hold {{stem}}, {{look}}, {{number:03}}, {{date}}, {{time}} and
# {{mark}}. The files carry captions, marks and credits, which a delivery may state too; they do not
# say where a frame was taken, but for a delivery with place: keep.
#
# credits:
#   creator: Your name
#   rights: "© Your name"
deliveries:
  web:
    folder: web
    name: "{{stem}}-{{look}}"
    long_edge: 2048
"""


def begin_shoot(
    file: Path, originals: Sequence[str], frames: Sequence[Captured], pairs: str = "raw"
) -> str:
    """Text of a shoot file to start from.

    Parameters
    ----------
    file : Path
        What it will be called, and where it will lie.
    originals : sequence of str
        What the frames were found by.
    frames : sequence of Captured
        In order of capture.
    pairs : {"raw", "jpeg", "both"}
        What was taken of a raw and a JPEG of one exposure.
    """
    names = [_quoted(frame.name) for frame in frames]
    widest = max(map(len, names)) + 1
    listed = [
        f"  {name + ':':{widest}}  # {_facts(frame)}".rstrip(" #")
        for name, frame in zip(names, frames, strict=True)
    ]
    places = [f"  - {_quoted(_from_folder(each, file.parent))}" for each in originals]
    return _TEXT.format(
        file=file.name,
        marks=_quoted(marks_beside(file).name),
        title=_quoted(_title(frames)),
        originals="\n".join(places),
        clocks=_clocks(frames),
        pairs="" if pairs == "raw" else f"pairs: {pairs}\n",
        first=names[0],
        last=names[-1],
        frames="\n".join(listed),
    )


def _clocks(frames):
    """How a clock is set right, where there are several cameras."""
    models = sorted({frame.capture.model for frame in frames if frame.capture.model})
    if len(models) < 2:
        return ""
    return (
        "\n# What is added to the times of a camera whose clock was wrong.\n#\n"
        f"# clocks: {{{_quoted(models[-1])}: +0:00:00}}\n"
    )


def _title(frames):
    time = frames[0].time
    return f"{time.day} {time:%B %Y}" if time else "An evening"


def _quoted(text):
    """Text as YAML reads it back as text."""
    if _PLAIN.fullmatch(text):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _from_folder(path, folder):
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:
        return Path(path).resolve().as_posix()


def _facts(frame):
    """``18:52:08  1/50 s  f/8  ISO 100  35 mm``, as far as it is known."""
    capture: Capture = frame.capture
    known = (
        (frame.time, lambda time: f"{time:%H:%M:%S}"),
        (capture.shutter, lambda seconds: f"{_shutter(seconds)} s"),
        (capture.aperture, lambda number: f"f/{number:g}"),
        (capture.iso, lambda iso: f"ISO {iso:g}"),
        (capture.focal_length, lambda length: f"{length:g} mm"),
    )
    return "  ".join(words(value) for value, words in known if value is not None)


def _shutter(seconds):
    """
    >>> _shutter(0.0125), _shutter(0.5), _shutter(1.6)
    ('1/80', '1/2', '1.6')
    """
    if seconds > 0.5:
        return f"{seconds:g}"
    return f"1/{round(1 / Fraction(seconds).limit_denominator(100_000))}"
