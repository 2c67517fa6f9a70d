"""What is to be made from what, settled and checked before any work starts."""

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from grading.errors import OutputError
from grading.files.sidecar import sidecar_path

SUFFIXES = {"jpeg": ".jpg", "tiff": ".tif"}
"""Of an output, by format."""


@dataclass(frozen=True)
class Job:
    """One original and the output to be made from it."""

    original: Path
    output: Path


def plan_jobs(originals, folder, file_format, overwrite=False):
    """One job for each original, if nothing stands in the way of any.

    Parameters
    ----------
    originals : list of Path
    folder : Path
        Where outputs go; need not exist.
    file_format : {"jpeg", "tiff"}
    overwrite : bool
        Whether outputs of an earlier run may be replaced. Originals never are.

    Returns
    -------
    list of Job

    Raises
    ------
    OutputError
        That lists every clash: of two originals for one name, with an original, or with a file
        that exists.
    """
    jobs = [Job(path, folder / (path.stem + SUFFIXES[file_format])) for path in originals]
    problems = [*_same_names(jobs), *_over_originals(jobs)]
    if not overwrite:
        problems += _existing(jobs)
    if problems:
        raise OutputError("\n".join(map(str, problems)))
    return jobs


def _same_names(jobs):
    by_name = defaultdict(list)
    for job in jobs:
        by_name[job.output.name.casefold()].append(job)
    for same in by_name.values():
        if len(same) > 1:
            names = ", ".join(str(job.original) for job in same)
            yield OutputError(
                f"would be made from each of {names}",
                place=str(same[0].output),
                remedy="render them into different folders",
            )


def _over_originals(jobs):
    originals = {job.original.resolve() for job in jobs}
    for job in jobs:
        if job.output.resolve() in originals:
            yield OutputError(
                "would replace an original", place=str(job.output), remedy="choose another folder"
            )


def _existing(jobs):
    for job in jobs:
        here = [path for path in (job.output, sidecar_path(job.output)) if path.exists()]
        if here:
            yield OutputError(
                "exists already",
                place=str(here[0]),
                remedy="choose another folder, or state --overwrite",
            )
