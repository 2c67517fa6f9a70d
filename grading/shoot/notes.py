"""Outputs in which a shoot file's courses, levels and notes are at work, by their sidecars."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable

from grading.files.sidecar import Sidecar
from grading.messages import listed

_LAID_OVER = re.compile(r"(.+?):\d+, ((?:course|level|group .*|frame .*))", re.DOTALL)
"""Where a value stands that a shoot file laid over the look: see `grading.recipe.load`."""


def laid_over(record: Sidecar) -> dict[str, list[str]]:
    """What shoot files laid over the look of an output.

    Parameters
    ----------
    record : Sidecar

    Returns
    -------
    dict from str to list of str
        Layers (``level``, ``frame DSC_4011``) by the name of the shoot file.
    """
    found = defaultdict(dict)
    for source in record.recipe.sources.values():
        if match := _LAID_OVER.fullmatch(source):
            found[match[1]][match[2]] = True
    return {file: list(layers) for file, layers in found.items()}


def notes_of_others(shoot: str | None) -> Callable[[Sidecar], str | None]:
    """What `grading.shoot.jobs.plan_jobs` spares: outputs with the notes of another shoot file.

    Parameters
    ----------
    shoot : str or None
        Name of the shoot file of this run; None for a run by a recipe alone.
    """

    def held(record):
        others = {file: layers for file, layers in laid_over(record).items() if file != shoot}
        if not others:
            return None
        (file, layers), *_ = others.items()
        return f"made with what {file} notes for it ({listed(layers)}), which this run leaves out"

    return held
