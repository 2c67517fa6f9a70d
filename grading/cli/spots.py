"""The verb that finds dust on a sensor."""

from pathlib import Path

import click

from grading.cli.group import (
    MEGA,
    dark_option,
    find,
    get_ready,
    limit_option,
    main,
    make_way,
    overwrite_option,
    pairs_option,
)
from grading.terminal import progress, say


@main.command()
@click.argument("originals", nargs=-1, required=True, metavar="CARD...")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              default="spots.yaml", show_default=True, help="The recipe that is written.")
@pairs_option
@limit_option
@dark_option
@overwrite_option
def spots(
    originals: tuple[str, ...],
    out: Path,
    pairs: str,
    limit: int,
    accept_dark: bool,
    overwrite: bool,
) -> None:
    """Find dust on the sensor and write a recipe that mends it.

    CARD is frames of one camera, or folders of them. What counts is a spot that is darker than its
    surroundings at the same place of the sensor in three scenes or more, and in most of those that
    are smooth there: skies at a small aperture show most.
    """
    from grading.files.atomic import write_atomically
    from grading.inspect.dust import FEWEST
    from grading.shoot.dust import CardSearch, dust_text

    make_way(out, overwrite)
    paths = find(originals, pairs)
    get_ready([], paths, {8}, reduced=True)
    search = CardSearch(paths, max_pixels=limit * MEGA, accept_dark=accept_dark)
    for _ in progress(search, len(search), "Looking for dust"):
        pass
    for error in search.errors:
        say(f"Error: {error}", error=True)
    found = search.dust()
    if not found:
        few = f"; {FEWEST} are needed" if search.scenes < FEWEST else ""
        say(f"no dust found in {search.scenes} different scenes{few}", error=True)
        raise SystemExit(1 if search.errors else 0)
    text = dust_text(found, search.camera, search.serial, search.scenes, out.name)
    write_atomically(out, text.encode(), overwrite)
    say(f"{out}: {len(found)} spots, found in {search.scenes} different scenes", error=True)
    raise SystemExit(1 if search.errors else 0)
