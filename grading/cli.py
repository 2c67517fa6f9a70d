"""The command line: verbs only. Exit status: 0 all good, 1 something failed, 2 wrong usage."""

import sys
import time
from contextlib import suppress
from functools import partial
from pathlib import Path

import click

from grading.errors import GradingError

FORMATS = ("jpeg", "tiff")
SPACES = ("srgb", "display-p3", "bt2020")


class Refusal(click.ClickException):
    """An error in what was asked for, found before any work."""

    exit_code = 2


class Verbs(click.Group):
    """Turns our own errors, and what the system says of a file, into one plain message."""

    def invoke(self, context):
        try:
            return super().invoke(context)
        except GradingError as error:
            raise Refusal(str(error)) from None
        except BrokenPipeError:
            raise  # click ends quietly
        except OSError as error:
            raise Refusal(f"{error.filename or 'output'}: {error.strerror}") from None


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="grading", prog_name="grading")
def main():
    """Grade photographs by recipe, many at a time, without touching the originals.

    Exit status: 0 all good, 1 some frame or check failed, 2 wrong usage or recipe.
    """


_overwrite = click.option(
    "--overwrite", is_flag=True, help="Replace outputs that exist; never an original."
)
_originals = click.option(
    "--originals", type=click.Path(path_type=Path, exists=True, file_okay=False), metavar="DIR",
    help="Folder where the originals lie now [where the sidecars say].",
)
_workers = click.option(
    "--workers", type=click.IntRange(1, 256), metavar="N", help="Threads for grading [all cores]."
)


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
@_overwrite
@_workers
def render(
    recipe, originals, out, file_format, space, long_edge, quality, keep, overwrite, workers
):
    """Render each ORIGINAL by RECIPE.

    RECIPE is a file or the name of a shipped look (see `grading looks`). An ORIGINAL is a file, a
    folder (the originals directly in it) or a quoted pattern such as 'shoot/**/*.dng'. Each
    output is called <stem>.jpg or <stem>.tif and has a sidecar <output>.yaml.

    After a run that was stopped, --keep goes on where it ended. With --overwrite too, it makes
    again only what a change of the recipe, the settings or an original has left behind.
    """
    from grading.engine.output import Output
    from grading.recipe.load import load_recipe
    from grading.shoot.batch import render_all
    from grading.shoot.jobs import plan_jobs
    from grading.shoot.keep import what_differs
    from grading.shoot.originals import find_originals

    loaded = load_recipe(recipe)
    output = Output(file_format, space, long_edge, quality)
    paths = find_originals(originals)
    compare = partial(what_differs, recipe=loaded, output=output) if keep else None
    jobs = plan_jobs(paths, out, file_format, overwrite, compare)
    originals = [job.original for job in jobs]
    _get_ready([loaded], originals, {output.bits}, resized=long_edge is not None)
    outcomes = render_all(jobs, loaded, output, overwrite, workers)
    _follow(outcomes, len(jobs), len(paths) - len(jobs), out)


def _get_ready(recipes, originals, bits, **work):
    """Compile what the work needs and no run before did, and say so."""
    from grading.engine.ready import compile_each, needed
    from grading.kernels.rehearse import unrehearsed
    from grading.shoot.originals import is_rendered

    if not originals:
        return
    raw = not all(map(is_rendered, originals))
    names = unrehearsed(needed(recipes, raw, bits, **work))
    if not names:
        return
    start, label = time.monotonic(), "Compiling the engine for this processor, once"
    bar = click.progressbar(length=len(names), label=label, show_pos=True, file=sys.stderr)
    with bar:
        for _ in compile_each(names):
            bar.update(1)
    if bar.finished:
        click.echo(f"Compiled in {time.monotonic() - start:.0f} s", err=True)


def _follow(outcomes, total, kept, folder):
    """Show progress, then what failed and a summary; status 1 if anything failed."""
    start, done, stopped = time.monotonic(), [], False
    bar = click.progressbar(length=total, label="Rendering", show_pos=True, file=sys.stderr)
    try:
        with bar:
            for outcome in outcomes:
                done.append(outcome)
                bar.update(1)
    except KeyboardInterrupt:
        stopped = True
    for outcome in done:
        for warning in outcome.warnings:
            click.echo(f"{outcome.original}: note: {warning}", err=True)
    failed = [outcome for outcome in done if outcome.error]
    for outcome in failed:
        click.echo(outcome.error, err=True)
    made, seconds = len(done) - len(failed), time.monotonic() - start
    text = f"{made} of {total} rendered into {folder} in {seconds:.1f} s"
    click.echo(text + _remarks(kept, failed, stopped), err=True)
    if failed or stopped:
        sys.exit(1)


def _remarks(kept, failed, stopped):
    text = f", {kept} kept" if kept else ""
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
@_overwrite
@_workers
def redo(sidecars, out, originals, overwrite, workers):
    """Make outputs again from their SIDECARs alone.

    The result is compared with the record; only an output that comes out with the recorded bits is
    written.
    """
    from grading.shoot.redo import redo

    def work(path):
        output, written = redo(path, out, originals, overwrite, workers)
        return f"{output}: same bits, {'written' if written else 'there already'}"

    _each(sidecars, work)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@_originals
def verify(folder, originals):
    """Check the outputs in FOLDER against their sidecars.

    Their originals are checked too.
    """
    from grading.shoot.verify import verify_folder

    agreeing, troubles = verify_folder(folder, originals)
    if not agreeing and not troubles:
        raise Refusal(f"{folder}: no outputs with sidecars are here")
    for trouble in troubles:
        click.echo(trouble, err=True)
    click.echo(f"{agreeing} agree with their sidecars, {len(troubles)} in trouble")
    sys.exit(1 if troubles else 0)


@main.command()
@click.argument("recipes", nargs=-1, required=True, metavar="RECIPE...")
def check(recipes):
    """Check each RECIPE and say what it does."""
    from grading.recipe.describe import summarise
    from grading.recipe.load import load_recipe

    _each(recipes, lambda recipe: summarise(load_recipe(recipe)))


def _each(items, work):
    """Print the result of each, or its error; status 1 if any failed."""
    failed = False
    for item in items:
        try:
            click.echo(work(item).rstrip())
        except GradingError as error:
            click.echo(error, err=True)
            failed = True
    sys.exit(1 if failed else 0)


@main.command()
@click.argument("stage", required=False)
def explain(stage):
    """Tell the pipeline, or the keys of a STAGE.

    STAGE may also be `where`, for the masks, or one key such as exposure.stops.
    """
    from grading.recipe.describe import explain

    click.echo(explain(stage).rstrip("\n"))


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path, dir_okay=False))
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def schema(file, overwrite):
    """Write the JSON schema of recipes.

    An editor that reads it completes keys and shows their ranges. Without FILE it is printed.
    """
    from grading.files.atomic import write_atomically
    from grading.recipe.describe import schema_text

    if file is None:
        click.echo(schema_text(), nl=False)
    else:
        write_atomically(file, schema_text().encode(), overwrite)


@main.command()
def looks():
    """List the shipped looks."""
    from grading.recipe.inheritance import look_names
    from grading.recipe.load import load_recipe

    names = look_names()
    width = max(map(len, names)) + 2
    for name in names:
        click.echo(f"{name:{width}}{load_recipe(name).description}")


@main.command()
@click.argument("first")
@click.argument("second")
@click.argument("originals", nargs=-1, metavar="[ORIGINAL]...")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Folder for one HTML page an original; made where there is none.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers as JSON.")
@click.option("--long-edge", type=click.IntRange(16, 65500), metavar="PIXELS",
              help="Longer side of the pictures [as the original].")
@click.option("--overwrite", is_flag=True, help="Replace pages that exist.")
def diff(first, second, originals, out, as_json, long_edge, overwrite):
    """Compare two looks, FIRST and SECOND, on each ORIGINAL.

    Says what the recipes state differently, how far the pictures lie apart, and which change
    weighs most. Without an ORIGINAL only the recipes are compared.

    Exit status: 0 the same (every pixel, in its code), 1 different, 2 trouble.
    """
    import json

    from grading.pages.comparing import as_document, as_numbers, in_short
    from grading.pages.publish import compare_originals
    from grading.recipe.load import load_recipe
    from grading.shoot.originals import find_originals

    looks = load_recipe(first), load_recipe(second)
    paths = find_originals(originals)
    if out and not paths:
        raise click.UsageError("--out needs an ORIGINAL to make a page of.")
    _get_ready(looks, paths, {8, 16}, resized=long_edge is not None)
    frames = []
    for compared, page in compare_originals(paths, *looks, long_edge, out, overwrite):
        frames.append(as_numbers(compared))
        click.echo(in_short(compared) + (f"\n  {page}" if page else ""), err=as_json)
    document = as_document(*looks, frames)
    if as_json:
        click.echo(json.dumps(document, indent=1, ensure_ascii=False))
    elif not frames:
        lines = [line for change in document["changes"] for line in change["values"]]
        click.echo("\n".join(lines) or "The recipes do the same.")
    sys.exit(0 if document["same"] else 1)


@main.command()
@click.argument("recipe")
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option("--port", type=click.IntRange(1, 65535), metavar="N",
              help="Port to listen on [any that is free].")
@click.option("--open", "opens", is_flag=True, help="Open the page in the web browser.")
def follow(recipe, originals, port, opens):
    """Show each ORIGINAL under RECIPE, again whenever it is saved.

    The page is for this machine only; its address is printed. Edit the recipe, or one that it
    extends, in an editor of your choice: the picture is renewed at each save, and an error is
    told with its line and column. Nothing is written. Ctrl-C ends it.
    """
    import webbrowser

    from grading.pages.follow.run import follow
    from grading.recipe.load import load_recipe
    from grading.shoot.originals import find_originals

    def announce(url):
        click.echo(url)
        if opens:
            webbrowser.open(url)

    paths, looks = find_originals(originals), []
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
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def sheet(originals, recipes, out, title, overwrite):
    """Make a contact sheet of the ORIGINALs under one or several looks.

    Frames are rows and looks are columns; below each stand the facts of capture and what is
    clipped. A frame that cannot be opened is told on the sheet.
    """
    from grading.pages.publish import write_sheet
    from grading.recipe.load import load_recipe
    from grading.shoot.originals import find_originals

    looks = [load_recipe(recipe) for recipe in recipes]
    paths = find_originals(originals)
    _get_ready(looks, paths, {8}, reduced=True)
    rows = write_sheet(paths, looks, out, title, overwrite)
    failed = [row for row in rows if row.problem]
    for row in failed:
        click.echo(f"{row.path}: {row.problem}", err=True)
    click.echo(f"{len(rows) - len(failed)} of {len(rows)} frames on {out}", err=True)
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
def export(recipe, kind, space, out, overwrite):
    """Write what of RECIPE an open format can carry, and tell what it cannot.

    RECIPE is a recipe file or the name of a shipped look. What is left out goes to standard
    error, and into the file as its description.
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
        click.echo(text, nl=False)
    else:
        write_atomically(out, text.encode(), overwrite)
    for sentence in left_out:
        click.echo(sentence, err=True)
