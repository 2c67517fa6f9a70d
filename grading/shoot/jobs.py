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


def plan_jobs(originals, folder, file_format, overwrite=False, compare=None):
    """A job for each original, if nothing stands in the way of any.

    Parameters
    ----------
    originals : list of Path
    folder : Path
        Where outputs go; need not exist.
    file_format : {"jpeg", "tiff"}
    overwrite : bool
        Whether outputs of an earlier run, which have sidecars, may be replaced. Originals never
        are.
    compare : callable, optional
        Tells of a job whose output exists what sets that apart from what is wanted: words, or
        None where nothing does, and the output is kept. Without it none is kept.

    Returns
    -------
    list of Job
        Without those whose outputs are kept.

    Raises
    ------
    OutputError
        That lists every clash: of two originals for one name, with an original, or with a file
        that exists.
    """
    jobs = [Job(path, folder / (path.stem + SUFFIXES[file_format])) for path in originals]
    problems = [*_same_names(jobs), *_over_originals(jobs)]
    if problems:
        raise OutputError.together(problems)
    standing = {job: compare(job) if compare else "" for job in jobs if _existing(job)}
    clashes = [_clash(job, apart) for job, apart in standing.items() if apart is not None]
    if clashes and not overwrite:
        raise OutputError.together(clashes)
    return [job for job in jobs if standing.get(job, "") is not None]


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
                remedy="name one of them only, as by a pattern such as 'shoot/*.dng', "
                "or render them into different folders",
            )


def _over_originals(jobs):
    originals = {identity(job.original) for job in jobs if job.original.exists()}
    found = (over_original(job.output, originals) for job in jobs)
    return [error for error in found if error]


def over_original(output, originals):
    """The error of an output that would replace an original, or what may be one; else None.

    Parameters
    ----------
    output : Path
    originals : set
        What `identity` gives of each.
    """
    if not output.exists():
        return None
    if identity(output) in originals:
        return OutputError(
            "would replace an original", place=str(output), remedy="choose another folder"
        )
    if sidecar_path(output).exists():
        return None
    return OutputError(
        "exists without a sidecar, so it may be an original",
        place=str(output),
        remedy="choose another folder, or move that file away",
    )


def identity(path):
    """What tells a file from any other, however its name is spelt."""
    status = path.stat()
    return status.st_dev, status.st_ino


def _existing(job):
    return [path for path in (job.output, sidecar_path(job.output)) if path.exists()]


def _clash(job, apart):
    return OutputError(
        f"exists already, {apart}" if apart else "exists already",
        place=str(_existing(job)[0]),
        remedy="choose another folder, or state --overwrite"
        + ("" if apart else ", or --keep to make only what is missing"),
    )
