"""What a run did, frame by frame, as plain data for a report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from grading.shoot.batch import Made, Outcome
from grading.shoot.jobs import Job

VERSION = 1
"""Of the format of reports."""

RENDERED, FAILED, KEPT, NOT_BEGUN = "rendered", "failed", "kept", "not begun"
WHOLE, STOPPED, FULL = "went through", "was stopped", "ended at a full disk"


@dataclass(frozen=True)
class Run:
    """A run that has ended, in whatever way.

    Attributes
    ----------
    source : str
        The recipe or the shoot file, as it was named.
    wanted, jobs : sequence of Job
        All that was asked for, and what of it was to be done.
    outcomes : sequence of Outcome
    began : datetime
    seconds : float
    stopped : bool
        By the person.
    notes : sequence of str
        Sentences about the whole run.
    levels : mapping
        Plain values of what levelling found of a frame, by its original.
    """

    source: str
    wanted: Sequence[Job]
    jobs: Sequence[Job]
    outcomes: Sequence[Outcome]
    began: datetime
    seconds: float
    stopped: bool = False
    notes: Sequence[str] = ()
    levels: Mapping[Path, dict] = field(default_factory=dict)

    @property
    def end(self) -> str:
        """How it ended."""
        if self.stopped:
            return STOPPED
        return FULL if any(outcome.disk_full for outcome in self.outcomes) else WHOLE


def as_document(run: Run) -> dict[str, Any]:
    """A report as plain data, which JSON can hold.

    Parameters
    ----------
    run : Run

    Returns
    -------
    dict
        ``outputs`` are numbers of files; ``frames`` has an entry for each frame under each look, in
        the order of the run: its state, outputs, what was clipped, what levelling did, notes and
        the error, if there is one.
    """
    ended = {id(outcome.job): outcome for outcome in run.outcomes}
    doing = {_name(job): job for job in run.jobs}
    frames = []
    for job in run.wanted:
        begun = doing.get(_name(job))
        frames.append(_frame(job, begun, begun and ended.get(id(begun)), run.levels))
    return {
        "report": VERSION,
        "source": run.source,
        "began": run.began.isoformat(timespec="seconds"),
        "seconds": round(run.seconds, 1),
        "end": run.end,
        "outputs": _outputs(run),
        "notes": list(run.notes),
        "frames": frames,
    }


def _name(job):
    """What tells a job from others, whichever of its targets are left to do."""
    return job.original, id(job.recipe)


def _outputs(run):
    wanted, doing, made, failed = (
        sum(len(job.targets) for job in jobs)
        for jobs in (
            run.wanted,
            run.jobs,
            [outcome.job for outcome in run.outcomes if not outcome.error],
            [outcome.job for outcome in run.outcomes if outcome.error],
        )
    )
    size = sum(each.size for outcome in run.outcomes for each in outcome.outputs)
    return {
        "wanted": wanted, KEPT: wanted - doing, RENDERED: made, FAILED: failed,
        NOT_BEGUN: doing - made - failed, "bytes": size,
    }  # fmt: skip


def _frame(job, begun, outcome, levels):
    seconds = outcome and outcome.seconds
    doing = {target.path for target in begun.targets} if begun else set()
    return {
        "original": str(job.original),
        "look": job.recipe.title,
        "state": _state(begun, outcome),
        "error": outcome and outcome.error,
        "notes": list(outcome.warnings) if outcome else [],
        "level": levels.get(job.original),
        "outputs": [_output(made) for made in outcome.outputs] if outcome else [],
        KEPT: [str(target.path) for target in job.targets if target.path not in doing],
        "seconds": {k: round(s, 3) for k, s in seconds._asdict().items()} if seconds else None,
    }


def _state(begun, outcome):
    if begun is None:
        return KEPT
    if outcome is None:
        return NOT_BEGUN
    return FAILED if outcome.error else RENDERED


def _output(made: Made):
    return {
        "path": str(made.path),
        "bytes": made.size,
        "width": made.width,
        "height": made.height,
        "clipping": made.clipping,
    }


def in_groups(remarks: Sequence[tuple[Path, str]]) -> dict[str, list[Path]]:
    """Remarks about frames, each with all frames that it is made of, in order, once.

    >>> found = in_groups([(Path("a"), "soft"), (Path("b"), "soft"), (Path("a"), "soft")])
    >>> [path.name for path in found["soft"]]
    ['a', 'b']
    """
    found: dict[str, dict[Path, None]] = {}
    for path, sentence in remarks:
        found.setdefault(sentence, {})[path] = None
    return {sentence: list(paths) for sentence, paths in found.items()}


def states(document: Mapping[str, Any]) -> Counter:
    """How many entries of a report are in each state."""
    return Counter(frame["state"] for frame in document["frames"])
