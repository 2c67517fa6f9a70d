"""Verbs that show frames on pages: diff, follow, sheet."""

import sys
from contextlib import suppress
from pathlib import Path

import click

from grading.cli.group import (
    Whole,
    dark_option,
    find,
    get_ready,
    main,
    measured,
    pairs_option,
    say_address,
)
from grading.errors import GradingError
from grading.terminal import progress, say, say_document


@main.command()
@click.argument("first", metavar="[SHOOT] FIRST")
@click.argument("second")
@click.argument("originals", nargs=-1, metavar="[ORIGINAL|FRAME]...")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Folder for one HTML page an original; made where there is none.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers as JSON.")
@click.option("--long-edge", type=Whole(16, 65500), metavar="PIXELS",
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

    After a SHOOT file, FIRST and SECOND are names of two of its looks, which are compared as the
    shoot settles them, on each FRAME (names or patterns) [all].

    A frame that cannot be compared is reported, and the others are compared.

    Exit status: 0 the same (every pixel, in its code), 1 different, 2 trouble, 130 stopped by
    Ctrl-C.
    """
    import json

    from grading.evening.kind import is_shoot
    from grading.pages.comparing import as_document
    from grading.pages.publish import compare_originals
    from grading.recipe.load import load_recipe

    if is_shoot(first):
        looks, wanted = _two_looks(first, [second, *originals], accept_dark)
    else:
        looks = load_recipe(first), load_recipe(second)
        wanted = [(path, *looks) for path in find(originals, pairs)]
    if out and not wanted:
        raise click.UsageError("--out needs an ORIGINAL to make a page of.")
    recipes, paths = [each for _, *both in wanted for each in both], [each[0] for each in wanted]
    get_ready(recipes, paths, {8, 16}, resized=long_edge is not None)
    frames = compare_originals(wanted, long_edge, out, overwrite, accept_dark)
    frames = list(_report_frames(progress(frames, len(paths), "Comparing"), as_json))
    document = as_document(*looks, [frame.numbers for frame in frames])
    if as_json:
        say_document(json.dumps(document, indent=1).replace("\x7f", "\\u007f") + "\n")
    elif not frames:
        lines = [line for change in document["changes"] for line in change["values"]]
        say(*lines or ["The recipes do the same."])
    failed = any(frame.problem for frame in frames)
    sys.exit(2 if failed else 0 if document["same"] else 1)


def _two_looks(path, words, accept_dark):
    """Two looks of a shoot as they are by themselves, and each frame with both settled."""
    from grading.evening.load import load_shoot
    from grading.pages.evening import two_looks

    _refuse_stated([path], {"pairs": "--pairs"})
    if len(words) < 2:
        raise click.UsageError("After a shoot file, name two of its looks.")
    evening, looks, names = load_shoot(path), tuple(words[:2]), words[2:]
    two_looks(evening, looks, names)  # finds what is wrong before anything is measured
    levels = measured(evening, None, accept_dark=accept_dark)
    both = tuple(evening.looks[look].checked() for look in looks)
    return both, two_looks(evening, looks, names, levels)


def _report_frames(frames, error):
    """Say of each frame what became of it, and pass it on."""
    for frame in frames:
        if frame.problem:
            say(*frame.problem.split("\n"), error=True)
        else:
            say(frame.words, *([f"  {frame.page}"] if frame.page else []), error=error)
        yield frame


@main.command()
@click.argument("recipe", metavar="RECIPE|SHOOT")
@click.argument("originals", nargs=-1, metavar="[ORIGINAL|FRAME]...")
@click.option("--port", type=Whole(1, 65535), metavar="N",
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
    """Show each ORIGINAL under RECIPE, or the frames of a SHOOT, again at each save.

    The page is for this machine only; its address is printed. Edit the recipe, or one that it
    extends, in an editor of your choice: the picture is rendered again, and an error is
    shown with its line and column. Nothing is written. Ctrl-C ends it.

    Of a SHOOT file, FRAMEs are names or patterns [all]. The page follows the file and its looks,
    shows two frames side by side and the course of the evening. Frames are measured for levelling
    at the start, and while that goes on they are shown without it.
    """
    import webbrowser

    from grading.evening.kind import is_shoot
    from grading.pages.follow.run import following
    from grading.recipe.load import load_recipe

    if is_shoot(recipe):
        _refuse_stated([recipe], {"pairs": "--pairs"})
        shown = originals
        paths, looks = _all_of_shoot(recipe, originals)
    else:
        shown = paths = find(originals, pairs)
        looks = _readable(recipe)
        if not paths:
            load_recipe(recipe)  # says what is wrong with a shoot file that cannot be read
            raise click.UsageError("Missing argument 'ORIGINAL...'; only a shoot file needs none.")
    get_ready(looks, paths, {8}, reduced=True)
    with following(recipe, shown, port or 0, accept_dark) as server, suppress(KeyboardInterrupt):
        say_address(server.url)
        if opens:
            webbrowser.open(server.url)
        server.session.follow()


def _readable(recipe):
    """A recipe, or none where the page shows what is wrong."""
    from grading.recipe.load import load_recipe

    with suppress(GradingError):
        return [load_recipe(recipe)]
    return []


def _all_of_shoot(path, names):
    """Originals and recipes of a shoot file, or none where the page shows what is wrong."""
    from grading.evening.load import load_shoot
    from grading.evening.settle import settle_all
    from grading.pages.evening import chosen

    try:
        evening = load_shoot(path)
        recipes = list(settle_all(evening).values())
    except GradingError:
        return [], []
    chosen(evening, names)  # a name that is none ends the command
    return [frame.path for frame in evening.rendered], recipes


@main.command()
@click.argument("originals", nargs=-1, required=True, metavar="SHOOT|ORIGINAL...")
@click.option("--look", "recipes", multiple=True, metavar="RECIPE",
              help="A recipe file or a shipped look; state it again for another column.")
@click.option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False),
              metavar="FILE", help="The sheet: .html for a screen, .pdf for paper.")
@click.option("--title", help="Its heading [that of the shoot].")
@pairs_option
@dark_option
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def sheet(
    originals: tuple[str, ...],
    recipes: tuple[str, ...],
    out: Path,
    title: str | None,
    pairs: str,
    accept_dark: bool,
    overwrite: bool,
) -> None:
    """Make a contact sheet of the ORIGINALs under one or several looks, or of a SHOOT.

    Frames are rows and looks are columns; below each are the facts of capture and what is
    clipped. A SHOOT file (see `grading shoot new`) states originals and looks itself, and adds
    marks, captions and levelling. A frame that cannot be opened is reported on the sheet. Larger
    views for a page go into a folder beside it, <name>-pictures.
    """
    from grading.evening.kind import is_shoot
    from grading.pages.printed import letters_lacking
    from grading.pages.publish import refuse_sheet, write_sheet

    refuse_sheet(out, overwrite)
    if is_shoot(originals[0]):
        _refuse_stated(originals, {"recipes": "--look", "pairs": "--pairs"})
        entries, looks, heading = _of_shoot(originals[0], accept_dark)
    else:
        entries, looks, heading = _of_originals(originals, recipes, pairs)
    wanted = [recipe for entry in entries for recipe in entry.recipes]
    get_ready(wanted, [entry.path for entry in entries], {8}, reduced=True, resized=True)
    rows = write_sheet(entries, looks, out, title or heading, overwrite, accept_dark)
    rows = list(progress(rows, len(entries), "Grading"))
    failed = [row for row in rows if row.problem]
    for row in failed:
        say(f"{row.path}: {row.problem}", error=True)
    if out.suffix.lower() == ".pdf" and (lacked := letters_lacking(rows, looks, title or heading)):
        say(f"printed as code points, for no font of this machine has them: {lacked}", error=True)
    say(f"{len(rows) - len(failed)} of {len(rows)} frames on {out}", error=True)
    sys.exit(1 if failed else 0)


def _of_shoot(path, accept_dark):
    """Entries of a sheet, names of looks, and a heading, from a shoot file."""
    from grading.evening.load import load_shoot
    from grading.pages.evening import sheet_entries

    evening = load_shoot(path)
    for remark in evening.remarks:
        say(remark, error=True)
    sheet_entries(evening)  # finds what is wrong before anything is measured
    entries = sheet_entries(evening, measured(evening, None, accept_dark=accept_dark))
    return entries, list(evening.looks), evening.model.title or evening.path.stem


def _of_originals(originals, recipes, pairs):
    """The same of originals and recipes."""
    from grading.pages.sheet import Entry
    from grading.recipe.load import load_recipe

    if not recipes:
        if Path(originals[0]).suffix in (".yaml", ".yml"):
            load_recipe(originals[0])  # says what is wrong with a shoot file that cannot be read
        raise click.UsageError("Missing option '--look'; a shoot file alone states looks itself.")
    looks = [load_recipe(recipe) for recipe in recipes]
    entries = [Entry(path, looks) for path in find(originals, pairs)]
    return entries, [look.title for look in looks], "Contact sheet"


def _refuse_stated(originals, options):
    """Refuse what a shoot file, the first of the arguments, states itself."""
    context = click.get_current_context()
    given = ["ORIGINAL"] if len(originals) > 1 else []
    given += [
        name
        for option, name in options.items()
        if context.get_parameter_source(option) is not click.core.ParameterSource.DEFAULT
    ]
    if given:
        raise GradingError(
            f"a shoot file states this itself: {given[0]}",
            place=originals[0],
            remedy="leave it out",
        )
