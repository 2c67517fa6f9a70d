"""The command and what its verbs share; what they print goes through `grading.terminal`."""

import io
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from grading.docstrings import docstring
from grading.errors import GradingError
from grading.stopping import orderly
from grading.terminal import progress, say, visible

STOPPED = 130
"""Exit status after Ctrl-C: 128 and the number of SIGINT, as shells have it."""

FORMATS = ("jpeg", "tiff", "tiff8", "png", "png16", "avif", "jxl")
RGB_SPACES = ("srgb", "display-p3", "bt2020", "oprgb")
SPACES = (*RGB_SPACES, "grey")
PLACES = ("leave_out", "keep")
PAIRS = ("raw", "jpeg", "both")
MEGA = 1_000_000


class Whole(click.IntRange):
    """A whole number in a range, called so in messages."""

    name = "whole number"


class Number(click.FloatRange):
    """A number in a range, called so in messages."""

    name = "number"


class Verb(click.Command):
    """A verb whose help is its docstring, whose first sentence says in a list what it does."""

    def __init__(self, name: str, callback: Callable[..., Any], **settings: Any) -> None:
        text = docstring(callback) or ""
        says = " ".join(text.partition("\n\n")[0].split())
        super().__init__(name, callback=callback, **settings | {"help": text, "short_help": says})


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
        except OSError as error:  # but for a broken pipe, at which click ends quietly
            status = 2
            say(f"Error: {error.filename or 'output'}: {error.strerror}", error=True)
        sys.exit(status)


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


overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace outputs that exist; never an original."
)
originals_option = click.option(
    "--originals", type=click.Path(path_type=Path, exists=True, file_okay=False), metavar="DIR",
    help="Folder where the originals are now [where the sidecars say].",
)
pairs_option = click.option(
    "--pairs", type=click.Choice(PAIRS), default="raw", show_default=True,
    help="Which to take of a raw and a JPEG of the same name in one folder.",
)
limit_option = click.option(
    "--limit", type=Whole(1), default=1000, show_default=True, metavar="MPX",
    help="Megapixels of an original; a larger one is refused, for want of memory.",
)
dark_option = click.option(
    "--accept-dark", is_flag=True,
    help="Open raws that are nearly black: lens cap on, hardly exposed, or not decoded [refused].",
)
workers_option = click.option(
    "--workers", type=Whole(1, 256), metavar="N", help="Threads for grading [all cores]."
)


def say_address(url: str) -> None:
    """Where a live page is, and how to end it."""
    say(url)
    say("open this address in a browser of this machine; Ctrl-C ends it", error=True)


def make_way(out: Path | None, overwrite: bool) -> None:
    """Refuse a file that could not be written, and make its folder, before work starts."""
    from grading.files.atomic import make_folder

    if out is None:
        return
    if out.exists() and not overwrite:
        raise GradingError(
            "exists already", place=str(out), remedy="choose another name, or state --overwrite"
        )
    make_folder(out.parent)


def find(arguments, pairs):
    """Originals; what was left out is printed."""
    from grading.shoot.originals import find_originals

    paths, notes = find_originals(arguments, pairs)
    for note in notes:
        say(note, error=True)
    return paths


def get_ready(recipes, originals, bits, **work):
    """Compile what the work needs and no run before did, and say so."""
    from grading.engine.ready import compile_each, needed
    from grading.engine.rehearse import unrehearsed
    from grading.shoot.originals import kinds, may_state_lenses

    if not originals:
        return
    lens = may_state_lenses(originals)
    names = unrehearsed(needed(recipes, kinds(originals), bits, lens=lens, **work))
    if not names:
        return
    start, label = time.monotonic(), "Compiling the engine for this processor, once"
    say(f"{label}, for what this work needs", error=True)
    done = sum(1 for _ in progress(compile_each(names), len(names), "Compiling"))
    if done == len(names):
        say(f"Compiled in {time.monotonic() - start:.0f} s", error=True)


def measured(evening, workers, **opening):
    """What was measured of each frame of a shoot, by its name; None where nothing needs it."""
    from grading.evening.level.measure import Measuring

    if not evening.is_measured:
        return None
    measuring = Measuring(evening, workers, **opening)
    for _ in progress(measuring, len(measuring), "Measuring"):
        pass
    return measuring.levels()


def each(items, work):
    """Print the lines that come of each, or its error; status 1 if any failed."""
    failed = False
    for item in items:
        try:
            say(*work(item))
        except GradingError as error:
            say(*str(error).split("\n"), error=True)
            failed = True
    sys.exit(1 if failed else 0)
