"""Verbs about recipes: check, explain, schema, looks, export."""

from pathlib import Path

import click

from grading.cli.group import (
    RGB_SPACES,
    each,
    main,
)
from grading.terminal import say, say_document


@main.command()
@click.argument("recipes", nargs=-1, required=True, metavar="RECIPE|SHOOT...")
def check(recipes: tuple[str, ...]) -> None:
    """Check each RECIPE or SHOOT file and say what it does."""
    from grading.evening.kind import is_shoot

    def work(path):
        text = (_summary_of_shoot if is_shoot(path) else _summary_of_recipe)(path)
        return text.rstrip("\n").split("\n")

    each(recipes, work)


def _summary_of_recipe(path):
    from grading.recipe.describe import summarise
    from grading.recipe.load import load_recipe

    return summarise(load_recipe(path))


def _summary_of_shoot(path):
    from grading.evening.describe import summarise_shoot
    from grading.evening.load import load_shoot

    return summarise_shoot(load_shoot(path))


@main.command()
@click.argument("stage", required=False)
def explain(stage: str | None) -> None:
    """Show the pipeline, or the keys of a STAGE.

    STAGE may also be `where`, for the masks, one key such as exposure.stops, `shoot`, for shoot
    files, or what stands in these alone, such as level.
    """
    from grading.evening.describe import explain_shoot, topics
    from grading.recipe.describe import explain

    if stage == "shoot" or stage in topics():
        text = explain_shoot(None if stage == "shoot" else stage)
    else:
        text = explain(stage)
    say(*text.rstrip("\n").split("\n"))


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path, dir_okay=False))
@click.option("--of", "kind", type=click.Choice(["recipe", "shoot"]), default="recipe",
              show_default=True, help="Which kind of file it describes.")
@click.option("--overwrite", is_flag=True, help="Replace FILE where it exists.")
def schema(file: Path | None, kind: str, overwrite: bool) -> None:
    """Write the JSON schema of recipes or of shoot files.

    An editor that reads it completes keys and shows their ranges. Without FILE it is printed.
    """
    from grading.evening import describe as of_shoot
    from grading.files.atomic import write_atomically
    from grading.recipe import describe as of_recipe

    text = (of_shoot if kind == "shoot" else of_recipe).schema_text()
    if file is None:
        say_document(text)
    else:
        write_atomically(file, text.encode(), overwrite)


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
@click.option("--space", type=click.Choice(RGB_SPACES), default="srgb", show_default=True,
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
