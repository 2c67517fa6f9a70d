"""Two looks of a frame, side by side: rendered, measured, and the changes explained."""

from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from grading.engine.execute import Picture, render_each
from grading.engine.output import Output
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Facts, Frame
from grading.inspect.codes import clipped, histogram
from grading.inspect.compare import Comparison, compare, difference_map, tristimulus
from grading.pages.words import percent
from grading.recipe.differences import Difference, differences, with_difference
from grading.recipe.load import Recipe

MEASURED_EDGE = 1024
"""Long edge, in pixels at most, of the previews on which differences of colour are measured."""

EXPLAINED_EDGE = 256
"""The same for each change alone, of which there may be many. On frames of the demo set shares
at 192 pixels lay within 0.008 of those at full size."""

MEASURED = Output("tiff")
"""16 bit without dither."""


@dataclass(frozen=True)
class Explanation:
    """How far one change alone takes the first look towards the second.

    ``share`` is the part of the mean CIEDE2000 that it takes away, at most 1; below 0 where the
    change alone leads away. Changes act on one another, so the shares need not sum to 1.
    """

    difference: Difference
    share: float


@dataclass(frozen=True)
class LooksCompared:
    """A frame under two looks.

    Attributes
    ----------
    facts : Facts
    same : bool
        Whether the two pictures have the same code in every pixel, and are framed alike.
    reframed : bool
        Whether the second look frames otherwise; it is compared as the first frames.
    pictures : pair of Picture
        8-bit sRGB, at the size asked for.
    comparison : Comparison
    explained : list of Explanation
        Of each difference between the recipes, the largest share first.
    histograms : pair of ndarray, shape (3, 64)
        Of the pictures that were measured.
    marks : pair of ndarray, shape (2, rows, columns), bool
        Where the pictures are clipped, at about the size of the map.
    """

    facts: Facts
    same: bool
    reframed: bool
    pictures: tuple[Picture, Picture] = field(repr=False)
    comparison: Comparison = field(repr=False)
    explained: list[Explanation]
    histograms: Any = field(repr=False)
    marks: Any = field(repr=False)


def compare_looks(
    frame: Frame, first: Recipe, second: Recipe, long_edge: int | None = None
) -> LooksCompared:
    """Render a frame under two looks and measure how they differ.

    Parameters
    ----------
    frame : Frame
    first, second : Recipe
    long_edge : int, optional
        Of the pictures, in pixels; as the original unless given.

    Returns
    -------
    LooksCompared
    """
    looks = [resolve(recipe, frame) for recipe in (first, second)]
    framings = [look.parts["framing"] for look in looks]
    reframed = framings[0] != framings[1]
    looks[1] = replace(looks[1], parts={**looks[1].parts, "framing": framings[0]})
    output = Output("jpeg", long_edge=long_edge, quality=90)
    pictures = tuple(render_each(frame, looks, output))
    codes = [picture.array for picture in pictures]
    small = preview(frame, MEASURED_EDGE)
    measured = [picture.array for picture in render_each(small, looks, MEASURED)]
    factor = -(-max(codes[0].shape) // MEASURED_EDGE)
    return LooksCompared(
        facts=frame.facts,
        same=np.array_equal(*codes) and not reframed,
        reframed=reframed,
        pictures=pictures,
        comparison=compare(*(tristimulus(each, MEASURED.space) for each in measured)),
        explained=explain(frame, preview(small, EXPLAINED_EDGE), *looks),
        histograms=tuple(histogram(each) for each in measured),
        marks=tuple(clipped(c, factor) for c in codes),
    )


def explain(frame: Frame, small: Frame, first: Recipe, second: Recipe) -> list[Explanation]:
    """How far each change alone takes a look towards another.

    Parameters
    ----------
    frame : Frame
        The original, on which each change alone is resolved.
    small : Frame
        A preview of it, which is graded once for each difference.
    first, second : Recipe
        Resolved for the frame.

    Returns
    -------
    list of Explanation
        The largest share first.
    """
    moves = differences(first, second)
    changed = [resolve(with_difference(first, second, move), frame) for move in moves]
    pictures = render_each(small, [first, second, *changed], MEASURED)
    start, goal, *alone = (tristimulus(picture.array, MEASURED.space) for picture in pictures)
    whole = difference_map(start, goal).mean()
    left = [difference_map(seen, goal).mean() for seen in alone]
    shares = [float(1 - each / whole) if whole else 0.0 for each in left]
    return sorted(map(Explanation, moves, shares), key=lambda each: -each.share)


def in_short(compared: LooksCompared) -> str:
    """A comparison in one line."""
    if compared.same:
        return f"{compared.facts.path}: the same in every pixel"
    measured = compared.comparison
    text = (
        f"{compared.facts.path}: CIEDE2000 {measured.mean:.2f} on average, "
        f"{measured.largest:.2f} at most, above 1 in {percent(measured.over[1])}"
    )
    if compared.reframed:
        text += "; framed otherwise, and compared as the first look frames"
    if compared.explained and compared.explained[0].share > 0:
        strongest = compared.explained[0]
        text += f"; most by {strongest.difference.name} ({100 * strongest.share:.0f} % alone)"
    return text


def as_document(first: Recipe, second: Recipe, frames: list[dict]) -> dict[str, Any]:
    """What `grading diff --json` prints, as plain data.

    Parameters
    ----------
    first, second : Recipe
    frames : list of dict
        From `as_numbers`; of a frame that could not be compared its ``original`` and the
        ``error``, which says that the looks are not known to be the same.
    """
    moves = differences(first, second)
    return {
        "diff": 1,
        "first": {"title": first.title, "digest": first.digest},
        "second": {"title": second.title, "digest": second.digest},
        "same": all(frame.get("same") for frame in frames) if frames else not moves,
        "changes": [{"change": each.name, "values": list(each.lines)} for each in moves],
        "frames": frames,
    }


def as_numbers(compared: LooksCompared) -> dict[str, Any]:
    """A comparison as plain data: names, shares 0..1, CIEDE2000, Oklab, degrees of hue."""
    measured = compared.comparison
    first, second = compared.pictures
    return {
        "original": str(compared.facts.path),
        "same": compared.same,
        "size": list(first.array.shape[1::-1]),
        "measured_size": list(measured.delta_e.shape[::-1]),
        "delta_e_2000": {
            "mean": measured.mean,
            "median": measured.median,
            "below_for_95_percent": measured.percentile_95,
            "largest": measured.largest,
            "share_over": {str(limit): share for limit, share in measured.over.items()},
        },
        "shift": {
            "whole": asdict(measured.whole),
            "tones": {name: asdict(shift) for name, shift in measured.tones.items()},
            "hue_families": {name: asdict(shift) for name, shift in measured.families.items()},
        },
        "clipping": {"first": first.clipping, "second": second.clipping},
        "explained": [
            {"change": each.difference.name, "values": list(each.difference.lines)}
            | {"share": each.share}
            for each in compared.explained
        ],
    }
