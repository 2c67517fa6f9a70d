"""What a run would do, output by output, before it does anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from grading.errors import OriginalError, OutputError
from grading.files.sidecar import Sidecar
from grading.shoot.earlier import earlier_output
from grading.shoot.jobs import Job, Target, is_needed, refuse_clashes

MAKE, AGAIN, KEEP, REFUSE = "make", "again", "keep", "refuse"


@dataclass(frozen=True)
class Foreseen:
    """What would become of one output.

    Attributes
    ----------
    job : Job
    target : Target
    fate : {"make", "again", "keep", "refuse"}
        Made where nothing is, made again in place of an earlier one, left as it is, or in the way
        of the whole run.
    why : str or None
        What sets the earlier output apart, or stands in the way.
    """

    job: Job
    target: Target
    fate: str
    why: str | None = None


def foresee(
    jobs: Sequence[Job],
    overwrite: bool,
    keep: bool,
    compare: Callable[[Job, Target, Sidecar], str | None],
    spare: Callable[[Sidecar], str | None] | None = None,
) -> list[Foreseen]:
    """What a run would do; nothing is written.

    Parameters
    ----------
    jobs : sequence of Job
    overwrite, keep : bool
        As the run has them.
    compare : callable
    spare : callable, optional
        As in `grading.shoot.jobs.plan_jobs`.

    Raises
    ------
    OutputError
        If two outputs have one name, or one would replace an original.
    """
    refuse_clashes(jobs)
    return [
        _fate(job, target, overwrite, keep, compare, spare)
        for job in jobs
        for target in job.targets
    ]


def _fate(job, target, overwrite, keep, compare, spare):
    try:
        needed = is_needed(job, target, overwrite, compare if keep else None, spare)
    except OutputError as error:
        return Foreseen(job, target, REFUSE, _in_the_way(job, target, compare, error))
    if not needed:
        return Foreseen(job, target, KEEP)
    earlier = earlier_output(target.path)
    if earlier is None or earlier.found is None:
        return Foreseen(job, target, MAKE)
    return Foreseen(job, target, AGAIN, _apart(job, target, compare, earlier))


def _in_the_way(job, target, compare, error):
    """Why it is refused, and, of an output of an earlier run, whether it is out of date."""
    try:
        earlier = earlier_output(target.path)
    except OutputError:
        return error.problem
    same = earlier and earlier.whole and _apart(job, target, compare, earlier) == _SAME
    return f"{error.problem}, {_SAME}" if same else error.problem


_SAME = "the same as this run would make"


def _apart(job, target, compare, earlier):
    try:
        return compare(job, target, earlier.record) or _SAME
    except OriginalError as error:
        return f"its original {error.problem}"


def counted(foreseen: Sequence[Foreseen]) -> Counter:
    """How many outputs have each fate."""
    return Counter(each.fate for each in foreseen)


def to_make(foreseen: Sequence[Foreseen]) -> Iterator[Job]:
    """Jobs with the outputs that would be made."""
    made = (each for each in foreseen if each.fate in (MAKE, AGAIN))
    for _, group in groupby(made, key=lambda each: id(each.job)):
        together = list(group)
        yield replace(together[0].job, targets=tuple(each.target for each in together))
