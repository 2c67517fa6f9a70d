"""Verbs about recipes: check, explain, schema, looks, export."""

from pathlib import Path

import click

from grading.cli.group import (
    SPACES,
    each,
    main,
)
from grading.terminal import say, say_document


@main.command()
@click.argument("recipes", nargs=-1, required=True, metavar="RECIPE...")
def check(recipes: tuple[str, ...]) -> None:
    """Check each RECIPE and say what it does."""
    from grading.recipe.describe import summarise
    from grading.recipe.load import load_recipe

    each(recipes, lambda recipe: summarise(load_recipe(recipe)).rstrip("\n").split("\n"))


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
