"""The page of what was measured in a set: what speaks against frames, series, all figures."""

from collections.abc import Sequence

from grading.evening.inspected import Inspected
from grading.evening.inspection import all_series, notes_once
from grading.pages.html import page


def inspection_page(frames: Sequence[Inspected]) -> bytes:
    """The page, as bytes of an HTML file.

    Parameters
    ----------
    frames : sequence of Inspected
        In order of capture.
    """
    names = {frame.captured.number: frame.captured.name for frame in frames}
    return page(
        "inspection.html",
        frames=frames,
        against=[frame for frame in frames if frame.verdicts or frame.problem],
        series=[
            (each.kind, [names[n] for n in each.frames], names.get(each.best))
            for each in all_series(frames)
        ],
        notes=notes_once(frames),
    )
