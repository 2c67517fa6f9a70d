"""Verbs that help to choose frames: inspect, choose."""

import sys
from contextlib import suppress
from datetime import tzinfo
from pathlib import Path
from threading import Event
from typing import Any

import click

from grading.cli.group import (
    Whole,
    dark_option,
    find,
    get_ready,
    main,
    make_way,
    overwrite_option,
    pairs_option,
    say_address,
    workers_option,
)
from grading.cli.sky import PlaceType, Zone
from grading.terminal import progress, say, say_document


@main.command()
@click.argument("originals", nargs=-1, required=True, metavar="ORIGINAL...")
@click.option("--json", "as_json", is_flag=True, help="Print all measures as JSON.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write them as a page too (.html).",
)
@click.option(
    "--write",
    "marks",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="MARKS",
    help="Propose marks and angles in a marks file; what a person stated there stays.",
)
@click.option(
    "--at",
    "place",
    type=PlaceType(),
    metavar="LAT,LON",
    help="Where the frames were taken, degrees, north and east positive [as they say].",
)
@click.option(
    "--zone",
    type=Zone(),
    metavar="ZONE",
    help="Zone of the camera's clock, such as Europe/Lisbon or +01:00 [as they say].",
)
@pairs_option
@dark_option
@overwrite_option
@workers_option
def inspect(
    originals: tuple[str, ...],
    as_json: bool,
    out: Path | None,
    marks: Path | None,
    place: Any,
    zone: tzinfo | None,
    pairs: str,
    accept_dark: bool,
    overwrite: bool,
    workers: int | None,
) -> None:
    """Measure each ORIGINAL, to help choosing: nothing is rendered, and nothing is sorted out.

    Says how sharp a frame is at its sharpest places, whether it is shaken or out of focus, what is
    clipped, how much room is left, how noisy it is, how bright the scene was (ISO 2720, K = 12.5),
    by how much it leans, where the sun stood, which frames are a burst or a bracket, and which of
    a burst is the sharpest. What speaks against a frame is said with its number.

    Exit status: 0 all measured, 1 some frame could not be opened, 2 wrong usage, 130 stopped by
    Ctrl-C.
    """
    import json

    from grading.evening.inspected import Inspecting
    from grading.evening.inspection import as_document, table
    from grading.files.atomic import write_atomically
    from grading.pages.inspection import as_exposed, inspection_page, small_jpeg

    make_way(out, overwrite)
    found, shown = find(originals, pairs), {"picture": small_jpeg} if out else {}
    get_ready([as_exposed()] if out else [], found, {8}, reduced=True, resized=bool(out))
    inspecting = Inspecting(found, workers, accept_dark=accept_dark, **shown)
    for _ in progress(inspecting, len(inspecting), "Measuring"):
        pass
    frames = inspecting.frames(place, zone)
    if as_json:
        say_document(json.dumps(as_document(frames), indent=1).replace("\x7f", "\\u007f") + "\n")
    elif frames:
        say(*table(frames))
    if out:
        write_atomically(out, inspection_page(frames), overwrite)
    if marks:
        _propose(marks, frames)
    sys.exit(1 if any(frame.problem for frame in frames) else 0)


def _propose(path, frames):
    """Add proposals to a marks file."""
    from grading.evening.inspected import proposals
    from grading.evening.marks import load_marks, save_marks

    proposed, before = proposals(frames), load_marks(path)
    after = before.with_proposals(proposed)
    save_marks(after)
    kept = sum(name in before.entries and not before.entries[name].proposed for name in proposed)
    stayed = f"; {kept} stay as they were stated" if kept else ""
    say(f"{path}: {len(proposed) - kept} frames proposed{stayed}; a shoot names it with"
        f" marks: {path.name}", error=True)  # fmt: skip


@main.command()
@click.argument("shoot", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--port", type=Whole(1, 65535), metavar="N",
              help="Port to listen on [any that is free].")
@click.option("--open", "opens", is_flag=True, help="Open the page in the web browser.")
@dark_option
def choose(shoot: Path, port: int | None, opens: bool, accept_dark: bool) -> None:
    """Choose frames of a SHOOT by eye: mark, leave out, level and crop them on a page.

    The page is for this machine only; its address is printed. Each word is kept at once in one
    marks file beside the shoot, which the shoot names (`marks: FILE`); originals and the shoot file
    stay as they are. Frames are measured meanwhile, and what speaks against one is said beside it.
    Begin again and you are where you stopped. Ctrl-C ends it.
    """
    import webbrowser

    from grading.evening.load import load_shoot
    from grading.pages.choose.run import choosing

    evening = load_shoot(shoot, begins_marks=True)
    looks = [look.checked() for look in evening.looks.values()]
    get_ready(looks, [frame.path for frame in evening.frames], {8}, reduced=True)
    with choosing(shoot, port or 0, accept_dark=accept_dark) as server, suppress(KeyboardInterrupt):
        if evening.marks is None:
            name = server.session.marks.path.name
            say(f"note: add `marks: {name}` to {shoot}, so that it takes them over", error=True)
        say_address(server.url)
        if opens:
            webbrowser.open(server.url)
        Event().wait()
