"""What is to be made from what, settled and checked before any work starts."""

import os
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from grading.engine.output import Output
from grading.errors import OriginalError, OutputError
from grading.files.formats.registry import FORMATS
from grading.files.metadata.label import Label
from grading.files.sidecar import Sidecar, sidecar_path
from grading.recipe.load import Recipe
from grading.shoot.earlier import earlier_output
from grading.shoot.originals import camera_pairs

FEW = 3
"""Files of which the same is said in a line each; of more it is said once."""

LONGEST_NAME = 255
"""Bytes of a file's name, of a sidecar's too, that common file systems hold."""


@dataclass(frozen=True)
class Target:
    """An output that is to be made: where, what is asked of it, and what it says beside it.

    With ``manifest`` it is put on a list of checksums in its folder.
    """

    path: Path
    output: Output
    label: Label = Label()
    manifest: bool = False


@dataclass(frozen=True)
class Job:
    """One original, by which recipe it is graded, and the outputs to be made of that grade."""

    original: Path
    recipe: Recipe
    targets: tuple[Target, ...]


def jobs_in_folder(
    recipes: Mapping[Path, Recipe], folder: Path, output: Output, label: Label = Label()
) -> list[Job]:
    """A job for each original, with one output called after it.

    Parameters
    ----------
    recipes : mapping from Path to Recipe
        Of each original.
    folder : Path
        Where outputs go; need not exist.
    output : Output
    label : Label
    """
    beside_raw = {jpeg for _, jpeg in camera_pairs(recipes)}
    jobs = []
    for path, recipe in recipes.items():
        stem = f"{path.stem}-{path.suffix[1:].lower()}" if path in beside_raw else path.stem
        target = Target(folder / (stem + FORMATS[output.format].suffix), output, label)
        jobs.append(Job(path, recipe, (target,)))
    return jobs


def plan_jobs(
    jobs: Sequence[Job],
    overwrite: bool = False,
    compare: Callable[[Job, Target, Sidecar], str | None] | None = None,
    spare: Callable[[Sidecar], str | None] | None = None,
) -> list[Job]:
    """What of some jobs is to be done, if nothing stands in the way of any.

    Parameters
    ----------
    jobs : sequence of Job
    overwrite : bool
        Whether outputs of an earlier run may be replaced. Originals and other files never are.
    compare : callable, optional
        Says of a target and the sidecar of its earlier output what sets that apart from what is
        wanted: words, or None where nothing does, and the output is kept, or made where it is
        missing. Without it none is kept.
    spare : callable, optional
        Says of the sidecar of an earlier output why it is not to be replaced, whatever
        ``overwrite`` says: words, or None. Without it none is spared.

    Returns
    -------
    list of Job
        With the targets that are to be made; a job with none is left out.

    Raises
    ------
    OutputError
        That lists the clashes: of two originals for one name, with an original, or with a file that
        exists.
    """
    refuse_clashes(jobs)
    needed, problems = [], []
    for job in jobs:
        targets = []
        for target in job.targets:
            try:
                needs = is_needed(job, target, overwrite, compare, spare)
                targets += [target] if needs else []
            except OutputError as error:
                problems.append(error)
        needed += [replace(job, targets=tuple(targets))] if targets else []
    _refuse(problems)
    return needed


def refuse_clashes(jobs: Sequence[Job]) -> None:
    """Refuse jobs of which two would make one file, or one would replace an original.

    Raises
    ------
    OutputError
    """
    _refuse([*_same_names(jobs), *_over_originals(jobs)])


def _refuse(problems):
    if problems:
        raise OutputError.together(list(_once(problems)))


def _once(problems):
    """Problems; what is said of many files in the same words, as one."""
    alike = defaultdict(list)
    for each in problems:
        alike[each.problem, each.remedy].append(each)
    for same in alike.values():
        if len(same) > FEW:
            place = f"{same[0].place} and {len(same) - 1} more"
            yield OutputError(same[0].problem, place=place, remedy=same[0].remedy)
        else:
            yield from same


def is_needed(
    job: Job,
    target: Target,
    overwrite: bool,
    compare: Callable[[Job, Target, Sidecar], str | None] | None,
    spare: Callable[[Sidecar], str | None] | None = None,
) -> bool:
    """Whether one output of a job is to be made; parameters as in `plan_jobs`.

    One whose original can no longer be read counts as needed: the job says so, and writes nothing.

    Raises
    ------
    OutputError
        If something stands in its way.
    """
    if not (overwrite or compare):
        for path in filter(os.path.lexists, (target.path, sidecar_path(target.path))):
            raise _clash(
                path, "", ", or state --overwrite, or --keep to make only what is missing"
            )
        return True
    earlier = earlier_output(target.path)
    if earlier is None:
        return True
    try:
        apart = compare(job, target, earlier.record) if compare else ""
    except OriginalError:
        return True
    if apart is None and earlier.whole:
        return False
    if overwrite and spare and (held := spare(earlier.record)):
        raise _clash(target.path, f", {held}", ", or state --discard-notes")
    if overwrite or (apart is None and earlier.found is None):
        return True
    if apart is None:
        apart = "from before a run that was stopped while it replaced it"
    raise _clash(target.path, f", {apart}", ", or state --overwrite")


def _clash(path, apart, ways):
    return OutputError(
        f"exists already{apart}", place=str(path), remedy=f"choose another folder{ways}"
    )


def check_names(job):
    """Refuse an original whose name no sidecar could record, or whose output's no disk could hold.

    Raises
    ------
    OutputError
    """
    try:
        job.original.name.encode()
    except UnicodeEncodeError:
        raise OutputError(
            "this name is not UTF-8, so no sidecar could record it",
            place=str(job.original),
            remedy="rename the file",
        ) from None
    for target in job.targets:
        size = len(os.fsencode(sidecar_path(target.path).name))
        if size > LONGEST_NAME:
            raise OutputError(
                f"its output's sidecar would have a name of {size} bytes",
                place=str(job.original),
                allowed=f"up to {LONGEST_NAME} bytes",
                remedy="shorten the name of the file",
            )


def _same_names(jobs):
    by_name = defaultdict(list)
    for job in jobs:
        for target in job.targets:
            folder = os.path.realpath(target.path.parent)
            by_name[folder, target.path.name.casefold()].append((target.path, job.original))
    for same in by_name.values():
        if len(same) > 1:
            names = ", ".join(str(original) for _, original in same)
            yield OutputError(
                f"would be made from each of {names}",
                place=str(same[0][0]),
                remedy="name one of them only, as by a pattern such as 'shoot/*.dng', "
                "or render them into different folders",
            )


def _over_originals(jobs):
    originals = {identity(job.original) for job in jobs if job.original.exists()}
    targets = (target for job in jobs for target in job.targets)
    return filter(None, (over_original(target.path, originals) for target in targets))


def over_original(output, originals):
    """The error of an output that would replace an original, else None.

    Parameters
    ----------
    output : Path
    originals : set
        What `identity` gives of each.
    """
    if not os.path.exists(output) or identity(output) not in originals:
        return None
    return OutputError(
        "would replace an original", place=str(output), remedy="choose another folder"
    )


def identity(path):
    """What tells a file from any other, however its name is spelt."""
    status = os.stat(path)
    return status.st_dev, status.st_ino
