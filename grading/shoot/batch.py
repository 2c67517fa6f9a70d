"""Many frames, each through its recipe: the next is decoded and the last one encoded meanwhile.

At any time one frame is read ahead, one is graded and one is written, so that memory does not
grow with the number of frames. Each of the three may use several threads.
"""

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from grading.engine.resolve import warnings
from grading.errors import of_frame
from grading.files import sidecar
from grading.files.atomic import make_folder
from grading.files.originals import open_frame
from grading.shoot import deliver
from grading.shoot.jobs import Job, check_names
from grading.shoot.noise import NoiseOfRun


@dataclass(frozen=True)
class Outcome:
    """What became of one job: the error in words, or None, and warnings about its original."""

    job: Job
    error: str | None = None
    warnings: tuple[str, ...] = ()


def render_all(jobs, overwrite=False, workers=None, noise_of_run=None, **opening):
    """Render every job; one that fails does not stop the others.

    Jobs of one original that follow each other open it once; outputs of one job are graded once.

    Parameters
    ----------
    jobs : list of Job
        From `grading.shoot.jobs.plan_jobs`. The folders of the outputs are made.
    overwrite : bool
    workers : int, optional
        Threads for grading.
    noise_of_run : NoiseOfRun, optional
        Of all originals of the run, also those whose outputs are kept; of the jobs' unless given.
    **opening
        How originals are opened: ``max_pixels``, ``accept_dark`` of `grading.open_frame`.

    Yields
    ------
    Outcome
        One a job, in order, when its files are complete.

    Raises
    ------
    OutputError
        If a folder cannot be made.
    """
    from grading.engine.execute import render_outputs

    if noise_of_run is None:
        noise_of_run = NoiseOfRun([job.original for job in jobs], **opening)
    for folder in {target.path.parent for job in jobs for target in job.targets}:
        make_folder(folder)
    opened = deque(maxlen=1)

    def read(job):
        check_names(job)
        if not (opened and opened[0].facts.path == job.original):
            opened.append(noise_of_run.settled(open_frame(job.original, **opening)))
        return opened[0]

    def grade(job, frame):
        outputs = [target.output for target in job.targets]
        return render_outputs(frame, job.recipe, outputs, workers)

    def finish(job, frame, pictures):
        resolved = pictures[0].resolved
        made_with = sidecar.RecipeRecord(
            resolved.title, job.recipe.digest, resolved.as_mapping(), job.recipe.sources
        )
        for target, picture in zip(job.targets, pictures, strict=True):
            label = target.label
            made = deliver.make_delivery(target.path, frame, picture, made_with, label, workers)
            deliver.write(target.path, *made, overwrite)
        return warnings(job.recipe, frame)

    return overlap(jobs, read, grade, finish)


def overlap(jobs, read, grade, finish):
    """Read, grade and finish jobs in order, neighbouring jobs at the same time.

    ``read(job)`` and ``finish(job, frame, picture)`` each run on a thread of their own,
    ``grade(job, frame)`` on the caller's. ``finish`` returns warnings.

    Yields
    ------
    Outcome

    Raises
    ------
    KeyboardInterrupt
        After the outcomes of all that was being finished when it came.
    """
    begun = deque()

    def next_outcome():
        outcome = _outcome(*begun[0])  # waits, and may be interrupted
        begun.popleft()
        return outcome

    with ThreadPoolExecutor(1) as reader, ThreadPoolExecutor(1) as writer:
        reads = (reader.submit(read, job) for job in jobs)
        ahead = next(reads, None)
        try:
            for job in jobs:
                reading, ahead = ahead, next(reads, None)
                begun.append((job, _grade_then_finish(job, reading, grade, writer, finish)))
                if len(begun) == 2:
                    yield next_outcome()
        except KeyboardInterrupt:
            while begun:
                yield next_outcome()
            raise
        while begun:
            yield next_outcome()


def _grade_then_finish(job, reading, grade, writer, finish):
    """The future of a job's end; it holds the error of whichever step failed."""
    try:
        frame = reading.result()
        return writer.submit(finish, job, frame, grade(job, frame))
    except Exception as error:
        failed = Future()
        failed.set_exception(error)
        return failed


def _outcome(job, writing):
    try:
        return Outcome(job, warnings=writing.result())
    except Exception as error:
        return Outcome(job, error=str(of_frame(error, job.original)))
