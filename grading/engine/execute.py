"""Carry out plans, tile by tile on a pool of threads; the tiles do not change the bits.

Tiles come row by row. Those of a strip follow each other, so that rows which were computed for one
need not be computed again for the next.
"""

import os
from dataclasses import dataclass, field, replace

import numpy as np

from grading import kernels
from grading.engine.finish import Finish
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.resolve import Resolved, resolve
from grading.engine.steps import Plan
from grading.engine.strip import Strip
from grading.engine.threads import run_all
from grading.frame import Frame
from grading.recipe.load import Recipe
from grading.region import Region, around_all
from grading.stages.spots import places_left

TILE = (192, 1024)
"""Rows and columns of a tile at most. Between kernels a thread needs the interpreter's lock, so a
tile is work for milliseconds, or threads would wait for each other; larger ones fall out of the
cache."""

np.empty(16 << 20, np.uint8)
"""Given back at once, untouched. From then on glibc keeps what tiles give back, up to twice as much
a thread, for those to come, instead of having the system clear it for each: it takes the size of a
block that comes back for what a program needs now and then (mallopt(3), M_MMAP_THRESHOLD)."""


@dataclass(frozen=True)
class Picture:
    """A finished picture, not yet a file.

    Attributes
    ----------
    array : ndarray, shape (height, width, 3), uint8 or uint16
        Shape (height, width) where the output is grey; 0 to 1023 where it has 10 bits.
    output : Output
    resolved : Resolved
        The recipe with the numbers that were used.
    clipping : dict
        Shares of pixels, 0..1: ``black`` and ``white`` with one for each of ``red``, ``green``
        and ``blue``, or for ``grey``, and ``outside``, those that the colour space could not show
        as they were.
    spots_left : list of [float, float]
        Where spots stay as they are, in fractions of the frame.
    """

    array: np.ndarray = field(repr=False)
    output: Output
    resolved: Resolved
    clipping: dict
    spots_left: list[list[float]] = field(default_factory=list)


def render(
    frame: Frame, recipe: Recipe, output: Output = Output(), workers: int | None = None
) -> Picture:
    """Grade a frame.

    Parameters
    ----------
    frame : Frame
        From `grading.open_frame`.
    recipe : Recipe
        From `grading.load_recipe`; for a smaller version of a frame it must be resolved already.
    output : Output
    workers : int, optional
        Threads; as many as there are processors unless given. The result does not depend on it.

    Returns
    -------
    Picture
    """
    return render_each(frame, [recipe], output, workers)[0]


def render_each(
    frame: Frame, recipes: list[Recipe], output: Output = Output(), workers: int | None = None
) -> list[Picture]:
    """Grade a frame by several recipes; the steps that they begin with in common are computed once.

    Parameters
    ----------
    frame, output, workers
        As in `render`.
    recipes : list of Recipe

    Returns
    -------
    list of Picture
    """
    resolved = [resolve(recipe, frame) for recipe in recipes]
    plans = [make_plan(each, frame) for each in resolved]
    made = carry_out(plans, [output], workers)
    return [
        Picture(codes, output, each, clipping, places_left(plan.pixels))
        for each, plan, ((codes, clipping),) in zip(resolved, plans, made, strict=True)
    ]


def render_outputs(
    frame: Frame, recipe: Recipe, outputs: list[Output], workers: int | None = None
) -> list[Picture]:
    """Grade a frame once, and finish the result for several outputs.

    Parameters
    ----------
    frame, recipe, workers
        As in `render`.
    outputs : list of Output

    Returns
    -------
    list of Picture
    """
    resolved = resolve(recipe, frame)
    plan = make_plan(resolved, frame)
    (made,) = carry_out([plan], outputs, workers)
    return [
        Picture(codes, output, resolved, clipping, places_left(plan.pixels))
        for output, (codes, clipping) in zip(outputs, made, strict=True)
    ]


def carry_out(
    plans: list[Plan], outputs: list[Output], workers: int | None = None
) -> list[list[tuple[np.ndarray, dict]]]:
    """Take a frame through plans, to codes.

    Parameters
    ----------
    plans : list of Plan
        Of one frame.
    outputs : list of Output
    workers : int, optional

    Returns
    -------
    list of list of (ndarray, dict)
        For each plan and each output the codes, and the shares that are clipped, as in `Picture`.
    """
    workers = workers or os.cpu_count()
    finishes = [Finish(output, plan.view, 2 * TILE[0]) for plan in plans for output in outputs]
    shown = around_all(finish.needed for finish in finishes)
    columns = _columns_of_a_tile(shown, workers)
    strips = {
        strip.left: Strip(plans, _wanted_rows(strip, finishes))
        for strip in shown.tiles(shown.shape[0], columns)
    }

    def work(tile):
        try:
            graded, region = strips[tile.left].grade(tile, _wanted(tile, finishes))
            each = (lab for lab in graded for _ in outputs)
            taken = zip(finishes, each, strict=True)
            return [finish.add(lab, region, tile) for finish, lab in taken]
        except BaseException as error:
            for waiting in (*strips.values(), *finishes):
                waiting.give_up(error)
            raise

    counted = zip(*run_all(work, shown.tiles(TILE[0], columns), workers), strict=True)
    clipping = [
        _clipping(finish, counts, workers)
        for finish, counts in zip(finishes, counted, strict=True)
    ]
    finished = [(finish.codes, shares) for finish, shares in zip(finishes, clipping, strict=True)]
    return [finished[i : i + len(outputs)] for i in range(0, len(finished), len(outputs))]


def render_part(
    plan: Plan, part: Region, output: Output = Output(), workers: int | None = None
) -> np.ndarray:
    """Codes of a part of a picture, pixel for pixel.

    Parameters
    ----------
    plan : Plan
    part : Region
        In pixels of the picture that the plan shows.
    output : Output
        Of the picture's own size.
    workers : int, optional

    Returns
    -------
    ndarray, shape (rows, columns, 3), uint8 or uint16
    """
    shown = replace(plan, view=plan.view.part(part))
    (((codes, _),),) = carry_out([shown], [output], workers)
    return codes


def _columns_of_a_tile(shown, workers):
    """So many that each thread has as many strips as any other; rows of whole cache lines."""
    width, line = shown.shape[1], kernels.primitives.CACHE_LINE // 4
    strips = -(-width // (TILE[1] * workers)) * workers
    return min(-(-width // (strips * line)) * line, TILE[1])


def _wanted_rows(strip, finishes):
    """The rows of a strip that matter to pictures; none where nothing does."""
    top, bottom, _, _ = _wanted(strip, finishes)
    return strip._replace(top=top, bottom=bottom)


def _wanted(region, finishes):
    """What of a region matters to pictures, without rows where nothing does; its columns begin at
    a cache line, as those of the region do."""
    wanted = around_all(finish.wanted(region) for finish in finishes)
    if wanted is None:
        return region._replace(bottom=region.top)
    line = kernels.primitives.CACHE_LINE // 4
    return wanted._replace(left=region.left + (wanted.left - region.left) // line * line)


def _clipping(finish, counts, workers):
    """Complete a picture, and say what of it is clipped."""
    ends, outside, seen = zip(*counts, strict=True)
    ends = sum(ends) + finish.complete(workers)
    black, white = finish.shares(ends)
    return {"black": black, "white": white, "outside": sum(outside) / sum(seen)}
