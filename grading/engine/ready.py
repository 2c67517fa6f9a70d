"""Prepare the engine for a first run: compile what it needs, in separate processes.

A failure here does no harm: a kernel that is not ready is compiled where it is first used.
"""

import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from contextlib import ExitStack

from grading.masks.where import is_grown, shapes_in
from grading.recipe.load import Recipe
from grading.stages.lens import NOTHING, PART
from grading.stages.registry import PARTS, STAGES

RAW = ("packed", "highlights", "patches", "colour_noise", "reduced")
LENS = (*PART.kernels, "turned")
DEVELOPED = ("mosaic", "colours", "lights")


def needed(
    recipes: Iterable[Recipe],
    kinds: set[str],
    bits: set[int],
    resized: bool = False,
    reduced: bool = False,
    lens: bool = False,
) -> set[str]:
    """Names of the rehearsals of all kernels that some work needs.

    Parameters
    ----------
    recipes : iterable of Recipe
    kinds : set of {"raw", "jpeg"}
        What there is among the originals.
    bits : set of int
        Of the pictures' channels: 8, 10 or 16.
    resized : bool
        Whether finished pictures are brought to another size or sharpened.
    reduced : bool
        Whether frames are graded at reduced size only.
    lens : bool
        Whether some original states errors of its lens, which are undone unless a recipe says no.

    Returns
    -------
    set of str
    """
    names = {"mix", "apply_tone_curve"}
    for recipe in recipes:
        names.update(_of_recipe(recipe))
        if lens and recipe.parts["lens"].from_ != NOTHING:
            names.update(LENS)
    if "jpeg" in kinds:
        names.add("scans")
    if "raw" in kinds:
        names.update(RAW, () if reduced else DEVELOPED)
    resized |= "turned" in names
    widths = {8 if each == 8 else 16 for each in bits}  # of the codes in memory
    depth = "both" if len(widths) > 1 else f"{min(widths)}-bit"
    if resized:
        names |= {f"{depth} resized", "sharpen"}
    return names | {f"{depth} codes"}


def _of_recipe(recipe):
    for part in PARTS:
        if recipe.parts[part.name] != part.parameters():
            yield from part.kernels
    for adjustment in recipe.local.values():
        yield "blend"
        yield from _of_mask(adjustment.where)
        for stage in STAGES:
            if stage.local and adjustment.stages[stage.name] != stage.through_mask.parameters():
                yield from stage.through_mask.kernels


def _of_mask(where):
    for shape in shapes_in(where):
        yield from shape.kernels
    if is_grown(where):
        yield "grown"


def compile_each(names: list[str]) -> Iterator[None]:
    """Compile kernels in separate processes, as many as there are processors at most.

    Ends early where no process can be started, or all are killed.

    Parameters
    ----------
    names : list of str
        From `grading.engine.rehearse.unrehearsed`.

    Yields
    ------
    None
        Whenever one of them is ready.
    """
    if getattr(sys, "frozen", False):
        return  # the executable is no interpreter
    with ExitStack() as stack:
        waiting, queue = map(stack.enter_context, _pipe())
        done, report = map(stack.enter_context, _pipe())
        try:
            for _ in range(min(len(names), os.cpu_count())):
                process = stack.enter_context(_start(names, waiting, report))
                stack.callback(process.kill)
        except OSError:
            pass  # those that were started do all
        queue.write(bytes(range(len(names))))
        for each in queue, waiting, report:
            each.close()
        while done.read(1):
            yield


def _pipe():
    """Both ends of a pipe. What several processes read from it is shared out among them."""
    reading, writing = os.pipe()
    return open(reading, "rb", 0), open(writing, "wb", 0)


def _start(names, waiting, report):
    command = [sys.executable, "-P", "-m", "grading.engine.rehearse", *names]
    places = {"PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen(
        command, stdin=waiting, stdout=report, stderr=subprocess.DEVNULL, env=os.environ | places
    )
