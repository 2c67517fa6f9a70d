"""Verbs that show frames on pages: diff, follow, sheet."""

import sys
from contextlib import suppress
from pathlib import Path

import click

from grading.cli.group import (
    dark_option,
    find,
    get_ready,
    main,
    pairs_option,
)
from grading.errors import GradingError
from grading.terminal import progress, say, say_document


@main.command()
@click.argument("first")
@click.argument("second")
@click.argument("originals", nargs=-1, metavar="[ORIGINAL]...")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Folder for one HTML page an original; made where there is none.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers as JSON.")
@click.option("--long-edge", type=click.IntRange(16, 65500), metavar="PIXELS",
              help="Longer side of the pictures [as the original].")
@pairs_option
@dark_option
@click.option("--overwrite", is_flag=True, help="Replace pages that exist.")
def diff(
    first: str,
    second: str,
    originals: tuple[str, ...],
    out: Path | None,
    as_json: bool,
    long_edge: int | None,
    pairs: str,
    accept_dark: bool,
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
    paths = find(originals, pairs)
    if out and not paths:
        raise click.UsageError("--out needs an ORIGINAL to make a page of.")
    get_ready(looks, paths, {8, 16}, resized=long_edge is not None)
    frames = compare_originals(paths, *looks, long_edge, out, overwrite, accept_dark)
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
@pairs_option
@dark_option
def follow(
    recipe: str,
    originals: tuple[str, ...],
    port: int | None,
    opens: bool,
    pairs: str,
    accept_dark: bool,
) -> None:
    """Show each ORIGINAL under RECIPE, again at each save.

    The page is for this machine only; its address is printed. Edit the recipe, or one that it
    extends, in an editor of your choice: the picture is rendered again, and an error is
    shown with its line and column. Nothing is written. Ctrl-C ends it.
    """
    import webbrowser

    from grading.pages.follow.run import following
    from grading.recipe.load import load_recipe

    paths, looks = find(originals, pairs), []
    with suppress(GradingError):  # the page shows what is wrong
        looks.append(load_recipe(recipe))
    get_ready(looks, paths, {8}, reduced=True)
    with following(recipe, paths, port or 0, accept_dark) as server, suppress(KeyboardInterrupt):
        say(server.url)
        if opens:
            webbrowser.open(server.url)
        server.session.follow()


@main.command()
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option("--look", "recipes", multiple=True, required=True, metavar="RECIPE",
              help="A recipe file or a shipped look; state it again for another column.")
@click.option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False),
              metavar="FILE", help="The sheet: .html for a screen, .pdf for paper.")
@click.option("--title", default="Contact sheet", show_default=True, help="Its heading.")
@pairs_option
@dark_option
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def sheet(
    originals: tuple[str, ...],
    recipes: tuple[str, ...],
    out: Path,
    title: str,
    pairs: str,
    accept_dark: bool,
    overwrite: bool,
) -> None:
    """Make a contact sheet of the ORIGINALs under one or several looks.

    Frames are rows and looks are columns; below each are the facts of capture and what is
    clipped. A frame that cannot be opened is reported on the sheet.
    """
    from grading.pages.publish import write_sheet
    from grading.recipe.load import load_recipe

    looks = [load_recipe(recipe) for recipe in recipes]
    paths = find(originals, pairs)
    get_ready(looks, paths, {8}, reduced=True)
    rows = write_sheet(paths, looks, out, title, overwrite, accept_dark)
    rows = list(progress(rows, len(paths), "Grading"))
    failed = [row for row in rows if row.problem]
    for row in failed:
        say(f"{row.path}: {row.problem}", error=True)
    say(f"{len(rows) - len(failed)} of {len(rows)} frames on {out}", error=True)
    sys.exit(1 if failed else 0)
