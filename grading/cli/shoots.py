"""Verbs about shoot files: shoot new, level."""

from pathlib import Path

import click

from grading.cli.group import (
    Verbs,
    main,
    make_way,
    measured,
    overwrite_option,
    pairs_option,
    workers_option,
)
from grading.errors import GradingError
from grading.terminal import say


@main.group(cls=Verbs)
def shoot() -> None:
    """Begin the shoot file of an evening."""


@shoot.command()
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The shoot file, such as evening.yaml; never replaced.",
)
@pairs_option
def new(originals: tuple[str, ...], out: Path, pairs: str) -> None:
    """Write a shoot file to start from: what is there, in order of capture, and how to go on.

    An ORIGINAL is a file, a folder or a quoted pattern, as for `grading render`. Beside it a marks
    file is begun, in which `grading choose` keeps what you say.
    """
    from grading.evening.begin import begin_shoot
    from grading.evening.captured import in_order_of_capture
    from grading.evening.marks import load_marks, marks_beside, save_marks
    from grading.files.atomic import write_atomically
    from grading.shoot.originals import find_originals

    paths, notes = find_originals(originals, pairs)
    frames = in_order_of_capture(paths)
    marks = load_marks(marks_beside(out))
    write_atomically(out, begin_shoot(out, originals, frames, pairs).encode())
    if marks.version is None:
        save_marks(marks)
    for note in notes:
        say(note, error=True)
    say(f"{out}: {len(frames)} frames; next: grading check {out}")


@main.command()
@click.argument("file", metavar="SHOOT", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write it as a page too (.html).")
@overwrite_option
@workers_option
def level(file: Path, out: Path | None, overwrite: bool, workers: int | None) -> None:
    """Show what levelling finds in the frames of a SHOOT file, and does about it.

    The course of the evening's light, how each frame recorded it (o), what it is brought to (*),
    and the white; nothing is rendered.
    """
    from grading.evening.level.table import table
    from grading.evening.load import load_shoot
    from grading.files.atomic import write_atomically
    from grading.pages.course import course_page

    make_way(out, overwrite)
    evening = load_shoot(file)
    if not evening.is_measured:
        raise GradingError(f"{file}: nothing is levelled; write level: {{exposure: 1}}")
    levels = list(measured(evening, workers).values())
    if not levels:
        raise GradingError(
            "no two frames of one camera could be opened, so there is nothing to level",
            place=str(file),
            remedy="name more originals, or leave out level",
        )
    say(*table(levels))
    if out:
        title = evening.model.title or file.stem
        write_atomically(out, course_page(title, levels), overwrite)
