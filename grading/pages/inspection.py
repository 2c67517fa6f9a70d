"""The page of what was measured in a set: what speaks against frames, series, all figures."""

from collections.abc import Sequence

from grading.engine.execute import carry_out
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.evening.inspected import Inspected
from grading.evening.inspection import all_series, notes_once
from grading.frame import Frame
from grading.pages import pictures
from grading.pages.html import page
from grading.recipe.load import Recipe, recipe_from_mapping

EDGE = 300
"""Pixels of a picture's long edge; a page may hold hundreds."""


def as_exposed() -> Recipe:
    """A recipe that leaves all alone."""
    return recipe_from_mapping({"grading": 1, "title": "As exposed"}, "grading inspect")


def small_jpeg(frame: Frame) -> bytes:
    """A frame as the camera exposed it, small, as a JPEG file for `inspection_page`."""
    small = preview(frame, 2 * EDGE)
    plan = make_plan(resolve(as_exposed(), frame), small)
    (((codes, _),),) = carry_out([plan], [Output(long_edge=EDGE)], workers=1)
    return pictures.light_jpeg(codes)


def inspection_page(frames: Sequence[Inspected]) -> bytes:
    """The page, as bytes of an HTML file.

    Parameters
    ----------
    frames : sequence of Inspected
        In order of capture, each with what `small_jpeg` makes of it.
    """
    of_number = {frame.captured.number: frame for frame in frames}
    return page(
        "inspection.html",
        frames=frames,
        shown={number: pictures.in_page(frame.picture) for number, frame in of_number.items()},
        against=[frame for frame in frames if frame.verdicts or frame.problem],
        series=[
            (each.kind, [of_number[n] for n in each.frames], of_number.get(each.best))
            for each in all_series(frames)
        ],
        notes=notes_once(frames),
    )
