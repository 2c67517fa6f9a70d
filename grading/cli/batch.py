"""Verbs that make outputs, and make them again: render, redo, verify."""

import sys
import time
from functools import partial
from math import inf
from pathlib import Path

import click

from grading.cli.group import (
    FORMATS,
    MEGA,
    SPACES,
    STOPPED,
    Refusal,
    each,
    get_ready,
    limit_option,
    main,
    originals_option,
    overwrite_option,
    pairs_option,
    workers_option,
)
from grading.terminal import progress, say


class Redone(click.ParamType):
    """A number of outputs, or ``all``."""

    name = "number"

    def convert(
        self, value: str, parameter: click.Parameter | None, context: click.Context | None
    ) -> float:
        if value == "all":
            return inf
        return click.IntRange(0).convert(value, parameter, context)


@main.command()
@click.argument("recipe")
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option(
    "--out", required=True, type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
    help="Folder for the outputs; made where there is none.",
)
@click.option("--format", "file_format", type=click.Choice(FORMATS), default="jpeg",
              show_default=True, help="8-bit JPEG or 16-bit TIFF.")
@click.option("--space", type=click.Choice(SPACES), default="srgb", show_default=True,
              help="Colour space, stated in the file by its ICC profile.")
@click.option("--long-edge", type=click.IntRange(16, 65500), metavar="PIXELS",
              help="Longer side of the output [as the original]; never enlarged.")
@click.option("--quality", type=click.IntRange(1, 100), default=92, show_default=True, metavar="N",
              help="Of a JPEG, 1 to 100.")
@click.option("--keep", is_flag=True,
              help="Leave outputs that already are what this run would make; make the rest.")
@pairs_option
@limit_option
@overwrite_option
@workers_option
def render(
    recipe: str,
    originals: tuple[str, ...],
    out: Path,
    file_format: str,
    space: str,
    long_edge: int | None,
    quality: int,
    keep: bool,
    pairs: str,
    limit: int,
    overwrite: bool,
    workers: int | None,
) -> None:
    """Render each ORIGINAL by RECIPE.

    RECIPE is a file or the name of a shipped look (see `grading looks`). An ORIGINAL is a file, a
    folder (the originals directly in it) or a quoted pattern such as 'shoot/**/*.dng'. Each
    output is called <stem>.jpg or <stem>.tif and has a sidecar <output>.yaml.

    After a run that was stopped, --keep goes on where it ended. With --overwrite too, it makes
    again only what a change of the recipe, the settings or an original has made out of date.
    """
    from grading.engine.output import Output
    from grading.files.atomic import remove_leftovers
    from grading.recipe.load import load_recipe
    from grading.shoot.batch import render_all
    from grading.shoot.jobs import plan_jobs
    from grading.shoot.keep import what_differs
    from grading.shoot.noise import NoiseOfRun
    from grading.shoot.originals import find_originals

    loaded = load_recipe(recipe)
    output = Output(file_format, space, long_edge, quality)
    found = find_originals(originals, pairs)
    noise = NoiseOfRun(found.paths, limit * MEGA)
    compare = partial(what_differs, output=output, noise_of_run=noise) if keep else None
    jobs = plan_jobs(dict.fromkeys(found.paths, loaded), out, file_format, overwrite, compare)
    remove_leftovers(out)
    originals = [job.original for job in jobs]
    get_ready([loaded], originals, {output.bits}, resized=long_edge is not None)
    outcomes = render_all(jobs, output, overwrite, workers, limit * MEGA, noise)
    _follow(outcomes, len(jobs), len(found.paths) - len(jobs), out, found.notes)


def _follow(outcomes, total, kept, folder, notes):
    """Show progress, then what failed and a summary; status 1 if anything failed."""
    start, done, stopped = time.monotonic(), [], False
    try:
        for outcome in progress(outcomes, total, "Rendering"):
            done.append(outcome)
    except KeyboardInterrupt:
        stopped = True
    for outcome in done:
        for warning in outcome.warnings:
            say(f"{outcome.original}: note: {warning}", error=True)
    failed = [outcome for outcome in done if outcome.error]
    for outcome in failed:
        say(*outcome.error.split("\n"), error=True)
    made, seconds = len(done) - len(failed), time.monotonic() - start
    text = f"{made} of {total} rendered into {folder} in {seconds:.1f} s"
    say(text + _remarks(kept, failed, stopped, notes), error=True)
    if failed or stopped:
        sys.exit(STOPPED if stopped else 1)


def _remarks(kept, failed, stopped, notes):
    text = f", {kept} kept" if kept else ""
    text += "".join(f", {note}" for note in notes)
    if failed:
        text += f", {len(failed)} failed"
    if stopped:
        text += ", stopped; every file there is whole: --keep goes on from here"
    return text


@main.command()
@click.argument(
    "sidecars", nargs=-1, required=True, metavar="SIDECAR...", type=click.Path(path_type=Path)
)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Folder for the outputs [that of each sidecar].")
@originals_option
@limit_option
@overwrite_option
@workers_option
def redo(
    sidecars: tuple[Path, ...],
    out: Path | None,
    originals: Path | None,
    limit: int,
    overwrite: bool,
    workers: int | None,
) -> None:
    """Make outputs again from their SIDECARs alone.

    A SIDECAR may also be a folder, for all in it. The result is compared with the record; only an
    output with the recorded bits is written.
    """
    from grading.files.atomic import remove_leftovers
    from grading.shoot.redo import redo
    from grading.shoot.verify import sidecars_in

    def work(path):
        output, written = redo(path, out, originals, overwrite, workers, limit * MEGA)
        return [f"{output}: same bits, {'written' if written else 'there already'}"]

    places = []
    for path in sidecars:
        inside = sidecars_in(path) if path.is_dir() else [path]
        if not inside:
            raise Refusal(f"{path}: no outputs with sidecars are here")
        places += inside
    for folder in {out or place.parent for place in places}:
        remove_leftovers(folder)
    each(places, work)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@originals_option
@click.option("--redo", "redone", type=Redone(), default="0", metavar="N|all",
              help="Render so many again, or all, and compare every bit and number [none].")
@workers_option
def verify(folder: Path, originals: Path | None, redone: float, workers: int | None) -> None:
    """Check the outputs in FOLDER against their sidecars.

    A sidecar that was changed is noticed, as is a picture, an original or a fact of capture that
    is not what it says. What only rendering can show is checked by --redo.
    """
    from grading.shoot.verify import verify_folder

    found = verify_folder(folder, originals, redone, workers)
    if not found.agreeing and not found.troubles:
        raise Refusal(f"{folder}: no outputs with sidecars are here")
    for trouble in found.troubles:
        say(*str(trouble).split("\n"), error=True)
    say(f"{found.agreeing} agree with their sidecars, {found.disagreeing} in trouble")
    sys.exit(1 if found.troubles else 0)
