"""How long a run will take: a few of its frames are rendered into a folder that goes again."""

import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from grading.shoot.batch import render_all
from grading.shoot.jobs import Job

TRIED = 4
"""Frames that are rendered; from the first on, neighbours are under way at the same time."""

WORTH_TRYING = 12
"""A run of fewer frames is over soon."""


def seconds_about(jobs: Sequence[Job], **rendering: Any) -> float | None:
    """Seconds that a run will take, or None where it is too short to be tried or cannot be.

    Parameters
    ----------
    jobs : sequence of Job
        With the targets that are to be made.
    **rendering
        Of `grading.shoot.batch.render_all`.
    """
    if len(jobs) < WORTH_TRYING:
        return None
    some = [jobs[i * (len(jobs) - 1) // (TRIED - 1)] for i in range(TRIED)]
    with TemporaryDirectory() as folder:
        moved = [_into(Path(folder, str(i)), job) for i, job in enumerate(some)]
        tried = render_all(moved, **rendering)
        moments = [time.monotonic() for outcome in tried if outcome.error is None]
    if len(moments) < 2:
        return None
    return (moments[-1] - moments[0]) / (len(moments) - 1) * len(jobs)


def _into(folder, job):
    """A job whose outputs go below another folder."""
    targets = [
        replace(target, path=folder / str(i) / target.path.name, manifest=False)
        for i, target in enumerate(job.targets)
    ]
    return replace(job, targets=tuple(targets))
