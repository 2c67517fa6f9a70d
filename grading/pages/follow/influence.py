"""Which keys of a recipe change what is at a place, and how much."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from grading.engine.execute import render_each
from grading.engine.preview import preview
from grading.engine.resolve import Resolved, resolve
from grading.frame import Frame
from grading.inspect.compare import difference_map, tristimulus
from grading.pages.comparing import EXPLAINED_EDGE, MEASURED
from grading.recipe.differences import differences, with_difference
from grading.recipe.load import Recipe

LEAST = 0.3
"""CIEDE2000 below which a key is taken to do nothing at a place."""


class Influence(NamedTuple):
    """A key, or keys that state one thing, and what the frame would lose without it.

    ``change`` is CIEDE2000 at each pixel of a small version of the picture.
    """

    name: str
    change: np.ndarray


def influences(whole: Frame, resolved: Resolved, bare: Recipe) -> list[Influence]:
    """What each key does to a frame: how the picture changes when it alone is taken back.

    Parameters
    ----------
    whole : Frame
        The original.
    resolved : Resolved
        Its recipe.
    bare : Recipe
        The recipe that states nothing.
    """
    plain = resolve(bare, whole)
    moves = differences(resolved, plain)
    taken_back = [resolve(with_difference(resolved, plain, move), whole) for move in moves]
    small = preview(whole, EXPLAINED_EDGE)
    pictures = render_each(small, [resolved, *taken_back], MEASURED)
    shown, *others = (tristimulus(picture.array, MEASURED.space) for picture in pictures)
    return [
        Influence(move.name, difference_map(shown, other))
        for move, other in zip(moves, others, strict=True)
        if other.shape == shown.shape
    ]


def at_place(found: Sequence[Influence], point: Sequence[float]) -> list[tuple[str, float]]:
    """Names of the keys that act at a place, and the CIEDE2000 that each makes, largest first.

    Parameters
    ----------
    found : sequence of Influence
    point : sequence of two float
        [x, y] in fractions of the picture.

    Examples
    --------
    >>> at_place([Influence("exposure.stops", np.full((4, 4), 7.0))], [0.5, 0.5])
    [('exposure.stops', 7.0)]
    """
    def there(change):
        rows, columns = change.shape
        row = min(int(point[1] * rows), rows - 1)
        return float(change[row, min(int(point[0] * columns), columns - 1)])

    acting = [(each.name, there(each.change)) for each in found]
    return sorted((each for each in acting if each[1] >= LEAST), key=lambda each: -each[1])
