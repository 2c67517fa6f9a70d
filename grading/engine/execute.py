"""Carry out a plan: tiles on a pool of threads, whatever their size with the same bits."""

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from grading import kernels
from grading.colour import transfer
from grading.colour.gamut import gamut
from grading.engine.output import Output
from grading.engine.plan import make_plan, part, resolve

TILE = (192, 1024)
"""Rows and columns of a tile. Between kernels a thread needs the interpreter's lock, so a tile is
work for milliseconds, or threads would wait for each other; larger ones fall out of the cache."""

CHANNELS = ("red", "green", "blue")


@dataclass(frozen=True)
class Picture:
    """A finished picture, not yet a file.

    Attributes
    ----------
    array : ndarray, shape (height, width, 3), uint8 or uint16
    output : Output
    resolved : Recipe
        With the numbers that were used.
    clipping : dict
        Shares of pixels, 0..1: ``black`` and ``white`` with one for each of ``red``, ``green``
        and ``blue``, and ``outside``, those that the colour space could not show as they were.
    """

    array: np.ndarray = field(repr=False)
    output: Output
    resolved: Any
    clipping: dict


def render(frame, recipe, output=Output(), workers=None):
    """Grade a frame.

    Parameters
    ----------
    frame : Frame
        From `grading.open_frame`.
    recipe : Recipe
        From `grading.load_recipe`.
    output : Output
    workers : int, optional
        Threads; as many as there are processors unless given. The result does not depend on it.

    Returns
    -------
    Picture
    """
    return render_each(frame, [recipe], output, workers)[0]


def render_each(frame, recipes, output=Output(), workers=None):
    """Grade a frame by several recipes; what they begin with alike is computed once.

    Parameters
    ----------
    frame, output, workers
        As in `render`.
    recipes : list of Recipe

    Returns
    -------
    list of Picture
    """
    workers = workers or os.cpu_count()
    recipes = [resolve(recipe, frame) for recipe in recipes]
    plans = [make_plan(recipe, frame) for recipe in recipes]
    graded = _grade(frame.pixels, plans, output, workers)
    return [
        _finish(*made, recipe, output, workers)
        for made, recipe in zip(graded, recipes, strict=True)
    ]


def _finish(array, ends, outside, recipe, output, workers):
    height, width = array.shape[:2]
    outside /= height * width
    size = output.size(width, height)
    if size != (width, height):
        array, ends = _resize(array, size, output, workers)
    return Picture(array, output, recipe, _clipping(ends / (size[0] * size[1]), outside))


def tiles(height, width, shape=TILE):
    """(y0, y1, x0, x1) of the tiles that cover a frame."""
    for y in range(0, height, shape[0]):
        for x in range(0, width, shape[1]):
            yield y, min(y + shape[0], height), x, min(x + shape[1], width)


def _spread(work, tasks, workers):
    """What `work` makes of each task, in no order; the caller's thread is one of the workers.

    A thread that is done with a task takes the next itself. Once a task has failed, or the caller
    was interrupted, none is begun any more.
    """
    waiting = iter(list(tasks))

    def run():
        try:
            return [work(task) for task in waiting]
        finally:
            list(waiting)  # takes what is left

    with ThreadPoolExecutor(workers) as pool:
        others = [pool.submit(run) for _ in range(workers - 1)]
        return run() + [made for other in others for made in other.result()]


def _grade(pixels, plans, output, workers):
    """Codes, counts of their ends and of what lay outside, for each plan."""
    height, width = pixels.height, pixels.width
    bits = output.bits if output.size(width, height) == (width, height) else 16
    pictures = [_empty(height, width, bits) for _ in plans]
    destination, curve = gamut(output.space), transfer.parameters(output.curve)
    shared, left = part(plans)

    def work(tile):
        begun = shared.apply(pixels.read(*tile), *tile)
        y0, _, x0, _ = tile
        return [
            kernels.to_codes(
                plan.apply(begun, *tile), destination, curve, picture, y0, x0, dither=bits == 8
            )
            for plan, picture in zip(left, pictures, strict=True)
        ]

    counted = zip(*_spread(work, tiles(height, width), workers), strict=True)
    for picture, counts in zip(pictures, counted, strict=True):
        ends, outside = zip(*counts, strict=True)
        yield picture, sum(ends), sum(outside)


def _empty(height, width, bits):
    return np.empty((height, width, 3), np.uint8 if bits == 8 else np.uint16)


def _resize(array, size, output, workers):
    """Resample in linear light, strip by strip."""
    width, height = size
    out = _empty(height, width, output.bits)
    curve = transfer.parameters(output.curve)
    decode = transfer.decode(output.curve, np.arange(65536) / 65535).astype(np.float32)

    def work(y0):
        light = kernels.resample(array, size, y0, min(y0 + 64, height), decode)
        return kernels.encode(light, curve, out, y0, 0, dither=output.bits == 8)

    return out, sum(_spread(work, range(0, height, 64), workers))


def _clipping(ends, outside):
    black, white = (dict(zip(CHANNELS, row.tolist(), strict=True)) for row in ends)
    return {"black": black, "white": white, "outside": outside}
