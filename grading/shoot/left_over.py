"""Outputs that earlier runs left under names that a run no longer gives.

Where a frame is gone or left out, numbers of others change with it, and what was made under the old
ones stays. Nothing is ever deleted; a run names what is left.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from grading.messages import listed
from grading.shoot.earlier import is_output
from grading.shoot.jobs import Job
from grading.shoot.verify import sidecars_in


def outputs_left(jobs: Sequence[Job]) -> dict[Path, list[Path]]:
    """Outputs, by their folder, that lie where jobs put theirs and are none of these.

    Parameters
    ----------
    jobs : sequence of Job
        All that a run makes or keeps.

    Returns
    -------
    dict from Path to list of Path
        Folders where there are some; names in natural order.
    """
    names = defaultdict(set)
    for target in (each for job in jobs for each in job.targets):
        names[target.path.parent].add(target.path.name.casefold())
    found = {folder: _others(folder, own) for folder, own in names.items()}
    return {folder: paths for folder, paths in found.items() if paths}


def _others(folder, own):
    outputs = [place.with_suffix("") for place in sidecars_in(folder)]
    return [
        path
        for path in outputs
        if path.name.casefold() not in own and path.is_file() and is_output(path)
    ]


def sentences_on_left(jobs: Sequence[Job]) -> list[str]:
    """A sentence for each folder with such outputs."""
    return [
        f"in {folder} {len(paths)} {'output' if len(paths) == 1 else 'outputs'} of earlier runs"
        f" under names that this run does not give: {listed([path.name for path in paths])}"
        " (move them away unless you want them)"
        for folder, paths in outputs_left(jobs).items()
    ]
