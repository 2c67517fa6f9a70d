"""Verbs that make outputs, and make them again: render, redo, verify."""

import sys
from math import inf
from pathlib import Path

import click

from grading.cli.group import (
    FORMATS,
    MEGA,
    PLACES,
    SPACES,
    Number,
    Whole,
    dark_option,
    each,
    limit_option,
    main,
    measured,
    originals_option,
    overwrite_option,
    pairs_option,
    workers_option,
)
from grading.cli.run import Wanted, Ways, carry_out, show_plan
from grading.errors import GradingError, SidecarError
from grading.terminal import say

SIDE = Whole(16, 65500)


class Redone(click.ParamType):
    """A number of outputs, or ``all``."""

    name = "number"

    def convert(
        self, value: str, parameter: click.Parameter | None, context: click.Context | None
    ) -> float:
        return inf if value == "all" else Whole(0).convert(value, parameter, context)


def _only_with_a_recipe(option):
    """A value of an option that a shoot file states itself; None where it is not given."""
    context = click.get_current_context()
    given = context.get_parameter_source(option) is not click.core.ParameterSource.DEFAULT
    return f"--{option.replace('file_', '').replace('_', '-')}" if given else None


@main.command()
@click.argument("recipe", metavar="RECIPE|SHOOT")
@click.argument("originals", nargs=-1, metavar="[ORIGINAL...]")
@click.option(
    "--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
    help="Folder for the outputs; made where there is none.",
)
@click.option("--format", "file_format", type=click.Choice(FORMATS), default="jpeg",
              show_default=True, help="tiff and png16 have 16 bits, avif 10, all others 8.")
@click.option("--space", type=click.Choice(SPACES), default="srgb", show_default=True,
              help="Colour space, stated in the file; grey has one channel.")
@click.option("--long-edge", type=SIDE, metavar="PIXELS",
              help="Longer side of the output [as the original]; never enlarged.")
@click.option("--short-edge", type=SIDE, metavar="PIXELS", help="The same of its shorter side.")
@click.option("--box", type=(SIDE, SIDE), metavar="WIDTH HEIGHT", help="What it fits into.")
@click.option("--dpi", type=Whole(1, 65535), metavar="N",
              help="Density in print that the file states; the pixels stay as they are.")
@click.option("--quality", type=Whole(1, 100), default=92, show_default=True, metavar="N",
              help="Of a format that loses something, 1 to 100.")
@click.option("--sharpen", type=Number(0, 1), metavar="SHARE",
              help="Share of the softness of one pixel's width that is taken back, 0 to 1 [0.25 "
              "where a size is stated, else 0].")
@click.option("--place", type=click.Choice(PLACES), default="leave_out", show_default=True,
              help="Whether outputs and sidecars say where the frames were taken.")
@click.option("--keep", is_flag=True,
              help="Leave outputs that already are what this run would make; make the rest.")
@click.option("--dry-run", is_flag=True,
              help="Print what would be made, kept or in the way and why, how large, and the room "
              "on the disk; make nothing.")
@click.option("--report", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="What was done, frame by frame, written at the end: .html or .json.")
@click.option("--discard-notes", is_flag=True,
              help="With --overwrite, replace outputs with notes of another shoot file, too.")
@click.option("--cluster", metavar="ADDRESS",
              help="Render on the Dask workers of the scheduler at ADDRESS, over shared storage.")
@pairs_option
@limit_option
@dark_option
@overwrite_option
@workers_option
def render(
    recipe: str,
    originals: tuple[str, ...],
    out: Path | None,
    file_format: str,
    space: str,
    long_edge: int | None,
    short_edge: int | None,
    box: tuple[int, int] | None,
    dpi: int | None,
    quality: int,
    sharpen: float | None,
    place: str,
    keep: bool,
    dry_run: bool,
    report: Path | None,
    discard_notes: bool,
    cluster: str | None,
    pairs: str,
    limit: int,
    accept_dark: bool,
    overwrite: bool,
    workers: int | None,
) -> None:
    """Render each ORIGINAL by RECIPE, or all that a SHOOT file asks for.

    RECIPE is a file or the name of a shipped look (see `grading looks`). An ORIGINAL is a file, a
    folder (the originals directly in it) or a quoted pattern such as 'shoot/**/*.dng'. Each
    output is called <stem>.jpg, .tif and so on, and has a sidecar <output>.yaml.

    A SHOOT file (see `grading shoot new`) names its originals, looks and deliveries itself.

    After a run that was stopped, --keep goes on where it ended. With --overwrite too, it makes
    again only what a change of the recipe, the settings or an original has made out of date.
    Outputs with notes of a shoot file are replaced by that shoot file alone.
    """
    from grading.engine.output import Output
    from grading.evening.kind import is_shoot
    from grading.files.metadata.label import Label

    opening = {"max_pixels": limit * MEGA, "accept_dark": accept_dark}
    if is_shoot(recipe):
        wanted = _of_shoot(recipe, originals, workers, opening)
    else:
        output = Output(file_format, space, long_edge, quality, short_edge, box, sharpen)
        label = Label(place=place, dpi=dpi)
        wanted = _of_recipe(recipe, originals, pairs, out, output, label)
    ways = Ways(keep, overwrite, discard_notes, workers, opening, report, cluster)
    (show_plan if dry_run else carry_out)(wanted, ways)


def _of_shoot(path, originals, workers, opening):
    """All that a shoot file asks for."""
    from grading.evening.deliveries import jobs_of
    from grading.evening.load import load_shoot

    stated = (
        "out", "file_format", "space", "long_edge", "short_edge", "box", "dpi", "quality",
        "sharpen", "place", "pairs",
    )  # fmt: skip
    given = ["ORIGINAL"] if originals else []
    given += filter(None, map(_only_with_a_recipe, stated))
    if given:
        raise GradingError(
            f"a shoot file states this itself: {given[0]}", place=path, remedy="leave it out"
        )
    evening = load_shoot(path)
    levels = measured(evening, workers, **opening)
    found = {each.captured.path: each.as_plain() for each in (levels or {}).values()}
    return Wanted(path, jobs_of(evening, levels), evening.remarks, evening.path.name, found)


def _of_recipe(recipe, originals, pairs, out, output, label):
    """Originals by one recipe into one folder."""
    from grading.recipe.load import load_recipe
    from grading.shoot.jobs import jobs_in_folder
    from grading.shoot.originals import find_originals

    if not originals:
        load_recipe(recipe)  # says what is wrong with a shoot file that cannot be read
        raise GradingError("Missing argument 'ORIGINAL...'; only a shoot file needs none.")
    if out is None:
        raise GradingError("Missing option '--out'.")
    loaded = load_recipe(recipe)
    paths, notes = find_originals(originals, pairs)
    return Wanted(recipe, jobs_in_folder(dict.fromkeys(paths, loaded), out, output, label), notes)


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
            raise SidecarError("no outputs with sidecars are here", place=path)
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
        raise SidecarError("no outputs with sidecars are here", place=folder)
    for trouble in found.troubles:
        say(*str(trouble).split("\n"), error=True)
    say(f"{found.agreeing} agree with their sidecars, {found.disagreeing} in trouble")
    sys.exit(1 if found.troubles else 0)
