"""Many frames, each through its recipe: the next is decoded and the last one encoded meanwhile.

At any time one frame is read ahead, one is graded and one is written, so that memory does not
grow with the number of frames. Only grading uses several threads.
"""

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from grading.errors import of_frame
from grading.files import sidecar
from grading.files.atomic import make_folder
from grading.files.limits import MOST_PIXELS
from grading.files.originals import open_frame
from grading.shoot import deliver
from grading.shoot.jobs import check_names
from grading.shoot.noise import NoiseOfRun


@dataclass(frozen=True)
class Outcome:
    """What became of one original: an error in words, or None, and warnings about it."""

    original: Path
    error: str | None = None
    warnings: tuple[str, ...] = ()


def render_all(
    jobs, output, overwrite=False, workers=None, most_pixels=MOST_PIXELS, noise_of_run=None
):
    """Render every job; one that fails does not stop the others.

    Parameters
    ----------
    jobs : list of Job
        From `grading.shoot.jobs.plan_jobs`. The folder of the outputs is made.
    output : Output
    overwrite : bool
    workers : int, optional
        Threads for grading.
    most_pixels : int
        An original of more is refused.
    noise_of_run : NoiseOfRun, optional
        Of all originals of the run, also those whose outputs are kept; of the jobs' unless given.

    Yields
    ------
    Outcome
        One a job, in order, when its files are complete.

    Raises
    ------
    OutputError
        If the folder cannot be made.
    """
    from grading.engine.execute import render

    if noise_of_run is None:
        noise_of_run = NoiseOfRun([job.original for job in jobs], most_pixels)
    for folder in {job.output.parent for job in jobs}:
        make_folder(folder)

    def read(job):
        check_names(job)
        return noise_of_run.settled(open_frame(job.original, most_pixels))

    def grade(job, frame):
        return render(frame, job.recipe, output, workers)

    def finish(job, frame, picture):
        resolved = picture.resolved
        made_with = sidecar.RecipeRecord(resolved.title, job.recipe.digest, resolved.as_mapping())
        delivery = deliver.make_delivery(job.output, frame, picture, made_with, workers)
        deliver.write(job.output, delivery, overwrite)
        return frame.facts.warnings

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
        return Outcome(job.original, warnings=writing.result())
    except Exception as error:
        return Outcome(job.original, error=str(of_frame(error, job.original)))
