"""The command line: verbs only; what they print goes through `grading.terminal`."""

import io
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from math import inf
from pathlib import Path
from typing import Any

import click

from grading.docstrings import docstring
from grading.errors import GradingError
from grading.stopping import orderly
from grading.terminal import progress, say, say_document, visible

STOPPED = 130
"""Exit status after Ctrl-C: 128 and the number of SIGINT, as shells have it."""

FORMATS = ("jpeg", "tiff")
SPACES = ("srgb", "display-p3", "bt2020")
PAIRS = ("raw", "jpeg", "both")
MEGA = 1_000_000


class Refusal(click.ClickException):
    """An error in what was asked for, found before any work."""

    exit_code = 2


class Redone(click.ParamType):
    """A number of outputs, or ``all``."""

    name = "number"

    def convert(
        self, value: str, parameter: click.Parameter | None, context: click.Context | None
    ) -> float:
        if value == "all":
            return inf
        return click.IntRange(0).convert(value, parameter, context)


class Verb(click.Command):
    """A verb whose help is its docstring."""

    def __init__(self, name: str, callback: Callable[..., Any], **settings: Any) -> None:
        settings["help"] = docstring(callback)
        super().__init__(name, callback=callback, **settings)


class Verbs(Verb, click.Group):
    """Turns errors, and a stop by the person, into a plain message and a status."""

    command_class = Verb

    def main(self, *arguments: Any, **settings: Any) -> None:
        """Run a verb and exit."""
        status = STOPPED
        try:
            with orderly():
                status = super().main(*arguments, **settings | {"standalone_mode": False}) or 0
        except click.Abort:
            say("Stopped. No file is half written, and no original was touched.", error=True)
        except GradingError as error:
            status = 2
            say(*f"Error: {error}".split("\n"), error=True)
        except click.ClickException as error:
            status = error.exit_code
            say(*_in_lines(error), error=True)
        sys.exit(status)

    def invoke(self, context: click.Context) -> Any:
        try:
            return super().invoke(context)
        except BrokenPipeError:
            raise  # click ends quietly
        except OSError as error:
            raise Refusal(f"{error.filename or 'output'}: {error.strerror}") from None


def _in_lines(error):
    """What click says of an error."""
    if not isinstance(error, click.exceptions.NoArgsIsHelpError):
        error.message = visible(error.message)
    text = io.StringIO()
    error.show(text)
    return text.getvalue().rstrip("\n").expandtabs(2).split("\n")


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="grading", prog_name="grading")
def main() -> None:
    """Grade photographs by recipe, many at a time, without touching the originals.

    Exit status: 0 all good, 1 some frame or check failed, 2 wrong usage or recipe, 130 stopped by
    Ctrl-C.
    """


_overwrite = click.option(
    "--overwrite", is_flag=True, help="Replace outputs that exist; never an original."
)
_originals = click.option(
    "--originals", type=click.Path(path_type=Path, exists=True, file_okay=False), metavar="DIR",
    help="Folder where the originals are now [where the sidecars say].",
)
_pairs = click.option(
    "--pairs", type=click.Choice(PAIRS), default="raw", show_default=True,
    help="Which to take of a raw and a JPEG of the same name in one folder.",
)
_limit = click.option(
    "--limit", type=click.IntRange(1), default=1000, show_default=True, metavar="MPX",
    help="Megapixels of an original; a larger one is refused, for want of memory.",
)
_workers = click.option(
    "--workers", type=click.IntRange(1, 256), metavar="N", help="Threads for grading [all cores]."
)


def _find(arguments, pairs):
    """Originals; what was left out is printed."""
    from grading.shoot.originals import find_originals

    found = find_originals(arguments, pairs)
    for note in found.notes:
        say(note, error=True)
    return found.paths


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
@_pairs
@_limit
@_overwrite
@_workers
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
    from grading.shoot.originals import find_originals

    loaded = load_recipe(recipe)
    output = Output(file_format, space, long_edge, quality)
    found = find_originals(originals, pairs)
    compare = partial(what_differs, output=output) if keep else None
    jobs = plan_jobs(dict.fromkeys(found.paths, loaded), out, file_format, overwrite, compare)
    remove_leftovers(out)
    originals = [job.original for job in jobs]
    _get_ready([loaded], originals, {output.bits}, resized=long_edge is not None)
    outcomes = render_all(jobs, output, overwrite, workers, limit * MEGA)
    _follow(outcomes, len(jobs), len(found.paths) - len(jobs), out, found.notes)


def _get_ready(recipes, originals, bits, **work):
    """Compile what the work needs and no run before did, and say so."""
    from grading.engine.ready import compile_each, needed
    from grading.engine.rehearse import unrehearsed
    from grading.shoot.originals import kinds

    if not originals:
        return
    names = unrehearsed(needed(recipes, kinds(originals), bits, **work))
    if not names:
        return
    start, label = time.monotonic(), "Compiling the engine for this processor, once"
    say(f"{label}, for what this work needs", error=True)
    done = sum(1 for _ in progress(compile_each(names), len(names), "Compiling"))
    if done == len(names):
        say(f"Compiled in {time.monotonic() - start:.0f} s", error=True)


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
@_originals
@_limit
@_overwrite
@_workers
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
    _each(places, work)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@_originals
@click.option("--redo", "redone", type=Redone(), default="0", metavar="N|all",
              help="Render so many again, or all, and compare every bit and number [none].")
@_workers
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


@main.command()
@click.argument("recipes", nargs=-1, required=True, metavar="RECIPE...")
def check(recipes: tuple[str, ...]) -> None:
    """Check each RECIPE and say what it does."""
    from grading.recipe.describe import summarise
    from grading.recipe.load import load_recipe

    _each(recipes, lambda recipe: summarise(load_recipe(recipe)).rstrip("\n").split("\n"))


def _each(items, work):
    """Print the lines that come of each, or its error; status 1 if any failed."""
    failed = False
    for item in items:
        try:
            say(*work(item))
        except GradingError as error:
            say(*str(error).split("\n"), error=True)
            failed = True
    sys.exit(1 if failed else 0)


@main.command()
@click.argument("stage", required=False)
def explain(stage: str | None) -> None:
    """Show the pipeline, or the keys of a STAGE.

    STAGE may also be `where`, for the masks, or one key such as exposure.stops.
    """
    from grading.recipe.describe import explain

    say(*explain(stage).rstrip("\n").split("\n"))


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path, dir_okay=False))
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def schema(file: Path | None, overwrite: bool) -> None:
    """Write the JSON schema of recipes.

    An editor that reads it completes keys and shows their ranges. Without FILE it is printed.
    """
    from grading.files.atomic import write_atomically
    from grading.recipe.describe import schema_text

    if file is None:
        say_document(schema_text())
    else:
        write_atomically(file, schema_text().encode(), overwrite)


@main.command()
def looks() -> None:
    """List the shipped looks."""
    from grading.recipe.inheritance import look_names
    from grading.recipe.load import load_recipe

    names = look_names()
    width = max(map(len, names)) + 2
    for name in names:
        say(f"{name:{width}}{load_recipe(name).description}")


@main.command()
@click.argument("first")
@click.argument("second")
@click.argument("originals", nargs=-1, metavar="[ORIGINAL]...")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Folder for one HTML page an original; made where there is none.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers as JSON.")
@click.option("--long-edge", type=click.IntRange(16, 65500), metavar="PIXELS",
              help="Longer side of the pictures [as the original].")
@_pairs
@click.option("--overwrite", is_flag=True, help="Replace pages that exist.")
def diff(
    first: str,
    second: str,
    originals: tuple[str, ...],
    out: Path | None,
    as_json: bool,
    long_edge: int | None,
    pairs: str,
    overwrite: bool,
) -> None:
    """Compare two looks, FIRST and SECOND, on each ORIGINAL.

    Says what the recipes state differently, how much the pictures differ, and which change
    matters most. Without an ORIGINAL only the recipes are compared.

    A frame that cannot be compared is reported, and the others are compared.

    Exit status: 0 the same (every pixel, in its code), 1 different, 2 trouble, 130 stopped by
    Ctrl-C.
    """
    import json

    from grading.pages.comparing import as_document
    from grading.pages.publish import compare_originals
    from grading.recipe.load import load_recipe

    looks = load_recipe(first), load_recipe(second)
    paths = _find(originals, pairs)
    if out and not paths:
        raise click.UsageError("--out needs an ORIGINAL to make a page of.")
    _get_ready(looks, paths, {8, 16}, resized=long_edge is not None)
    frames = compare_originals(paths, *looks, long_edge, out, overwrite)
    frames = list(_report_frames(progress(frames, len(paths), "Comparing"), as_json))
    document = as_document(*looks, [frame.numbers for frame in frames])
    if as_json:
        say_document(json.dumps(document, indent=1).replace("\x7f", "\\u007f") + "\n")
    elif not frames:
        lines = [line for change in document["changes"] for line in change["values"]]
        say(*lines or ["The recipes do the same."])
    failed = any(frame.problem for frame in frames)
    sys.exit(2 if failed else 0 if document["same"] else 1)


def _report_frames(frames, error):
    """Say of each frame what became of it, and pass it on."""
    for frame in frames:
        if frame.problem:
            say(*frame.problem.split("\n"), error=True)
        else:
            say(frame.words, *([f"  {frame.page}"] if frame.page else []), error=error)
        yield frame


@main.command()
@click.argument("recipe")
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option("--port", type=click.IntRange(1, 65535), metavar="N",
              help="Port to listen on [any that is free].")
@click.option("--open", "opens", is_flag=True, help="Open the page in the web browser.")
@_pairs
def follow(
    recipe: str, originals: tuple[str, ...], port: int | None, opens: bool, pairs: str
) -> None:
    """Show each ORIGINAL under RECIPE, again at each save.

    The page is for this machine only; its address is printed. Edit the recipe, or one that it
    extends, in an editor of your choice: the picture is rendered again, and an error is
    shown with its line and column. Nothing is written. Ctrl-C ends it.
    """
    import webbrowser

    from grading.pages.follow.run import follow
    from grading.recipe.load import load_recipe

    def announce(url):
        say(url)
        if opens:
            webbrowser.open(url)

    paths, looks = _find(originals, pairs), []
    with suppress(GradingError):  # the page shows what is wrong
        looks.append(load_recipe(recipe))
    _get_ready(looks, paths, {8}, reduced=True)
    follow(recipe, paths, port or 0, announce)


@main.command()
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option("--look", "recipes", multiple=True, required=True, metavar="RECIPE",
              help="A recipe file or a shipped look; state it again for another column.")
@click.option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False),
              metavar="FILE", help="The sheet: .html for a screen, .pdf for paper.")
@click.option("--title", default="Contact sheet", show_default=True, help="Its heading.")
@_pairs
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def sheet(
    originals: tuple[str, ...],
    recipes: tuple[str, ...],
    out: Path,
    title: str,
    pairs: str,
    overwrite: bool,
) -> None:
    """Make a contact sheet of the ORIGINALs under one or several looks.

    Frames are rows and looks are columns; below each are the facts of capture and what is
    clipped. A frame that cannot be opened is reported on the sheet.
    """
    from grading.pages.publish import write_sheet
    from grading.recipe.load import load_recipe

    looks = [load_recipe(recipe) for recipe in recipes]
    paths = _find(originals, pairs)
    _get_ready(looks, paths, {8}, reduced=True)
    rows = write_sheet(paths, looks, out, title, overwrite)
    rows = list(progress(rows, len(paths), "Grading"))
    failed = [row for row in rows if row.problem]
    for row in failed:
        say(f"{row.path}: {row.problem}", error=True)
    say(f"{len(rows) - len(failed)} of {len(rows)} frames on {out}", error=True)
    if failed:
        sys.exit(1)


@main.command()
@click.argument("recipe")
@click.option("--as", "kind", required=True, type=click.Choice(["cdl", "clf"]),
              help="An ASC CDL (.cc), or a Common LUT Format file (SMPTE ST 2136-1).")
@click.option("--space", type=click.Choice(SPACES), default="srgb", show_default=True,
              help="Colour space that a CLF file leads to; a CDL is always for sRGB.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Where to write it [standard output].")
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def export(recipe: str, kind: str, space: str, out: Path | None, overwrite: bool) -> None:
    """Write the part of RECIPE that an open format can carry, and say what is left out.

    RECIPE is a recipe file or the name of a shipped look. The list of what is left out goes to
    standard error, and into the file as its description.
    """
    from grading.files.atomic import write_atomically
    from grading.recipe.load import load_recipe

    if kind == "cdl":
        from grading.interchange.cdl import export_cdl

        text, left_out = export_cdl(load_recipe(recipe))
    else:
        from grading.interchange.clf import export_clf

        text, left_out = export_clf(load_recipe(recipe), space)
    if out is None:
        say_document(text)
    else:
        write_atomically(out, text.encode(), overwrite)
    for sentence in left_out:
        say(sentence, error=True)
