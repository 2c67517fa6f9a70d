"""Many frames, each through its recipe: the next is decoded and the last one encoded meanwhile.

At any time one frame is read ahead, one is graded and one is written, so that memory does not
grow with the number of frames. Each of the three may use several threads.
"""

import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from grading.engine.resolve import warnings
from grading.errors import DiskFull, of_frame
from grading.files import sidecar
from grading.files.atomic import make_folder
from grading.files.originals import open_frame
from grading.shoot import deliver
from grading.shoot.jobs import Job, check_names
from grading.shoot.noise import NoiseOfRun
from grading.stages.spots import note_of_left


class Made(NamedTuple):
    """An output that was written: its path, bytes, pixels, and what is clipped in it."""

    path: Path
    size: int
    width: int
    height: int
    clipping: dict


class Done(NamedTuple):
    """What comes of a job that did not fail: warnings about its original, and its outputs."""

    warnings: tuple[str, ...] = ()
    outputs: tuple[Made, ...] = ()


class Seconds(NamedTuple):
    """How long each step of a job took by the clock, beside the steps of its neighbours."""

    opening: float
    grading: float
    writing: float


@dataclass(frozen=True)
class Outcome:
    """What became of one job.

    Attributes
    ----------
    job : Job
    error : str or None
        In words.
    warnings : tuple of str
        About its original.
    outputs : tuple of Made
    seconds : Seconds or None
        None where it failed.
    disk_full : bool
        Whether it failed for want of room.
    """

    job: Job
    error: str | None = None
    warnings: tuple[str, ...] = ()
    outputs: tuple[Made, ...] = ()
    seconds: Seconds | None = None
    disk_full: bool = False


class Work:
    """The three steps of a job; neighbours of one original open it once.

    Parameters
    ----------
    overwrite : bool
        Whether outputs of an earlier run may be replaced.
    workers : int or None
        Threads for grading and encoding.
    noise_of_run : NoiseOfRun
        Of all originals of the run.
    **opening
        How originals are opened: ``max_pixels``, ``accept_dark`` of `grading.open_frame`.
    """

    def __init__(
        self, overwrite: bool, workers: int | None, noise_of_run: NoiseOfRun, **opening: Any
    ) -> None:
        self.overwrite, self.workers, self.opening = overwrite, workers, opening
        self.noise_of_run = noise_of_run
        self._opened = deque(maxlen=1)

    def read(self, job: Job):
        """The frame of a job."""
        check_names(job)
        if not (self._opened and self._opened[0].facts.path == job.original):
            frame = open_frame(job.original, **self.opening)
            self._opened.append(self.noise_of_run.settled(frame))
        return self._opened[0]

    def grade(self, job: Job, frame):
        """Its pictures, one a target."""
        from grading.engine.execute import render_outputs

        outputs = [target.output for target in job.targets]
        return render_outputs(frame, job.recipe, outputs, self.workers)

    def finish(self, job: Job, frame, pictures) -> Done:
        """Encode and write them."""
        resolved = pictures[0].resolved
        made_with = sidecar.RecipeRecord(
            resolved.title, job.recipe.digest, resolved.as_mapping(), job.recipe.sources
        )
        made = []
        for target, picture in zip(job.targets, pictures, strict=True):
            data, record = deliver.make_delivery(
                target.path, frame, picture, made_with, target.label, self.workers
            )
            deliver.write(target.path, data, record, self.overwrite)
            made.append(made_of(target.path, record))
        notes = (*warnings(job.recipe, frame), *note_of_left(pictures[0].spots_left))
        return Done(notes, tuple(made))


def made_of(path: Path, record: sidecar.Sidecar) -> Made:
    """An output as its sidecar describes it."""
    output = record.output
    return Made(path, output.size, output.width, output.height, record.measured["clipping"])


def make_folders(jobs: Sequence[Job]) -> None:
    """Make the folders of all outputs.

    Raises
    ------
    OutputError
        If one cannot be made.
    """
    for folder in {target.path.parent for job in jobs for target in job.targets}:
        make_folder(folder)


def render_all(
    jobs: Sequence[Job],
    overwrite: bool = False,
    workers: int | None = None,
    noise_of_run: NoiseOfRun | None = None,
    **opening: Any,
) -> Iterator[Outcome]:
    """Render every job; one that fails does not stop the others, but for a disk that is full.

    Jobs of one original that follow each other open it once; outputs of one job are graded once.

    Parameters
    ----------
    jobs : list of Job
        From `grading.shoot.jobs.plan_jobs`. The folders of the outputs are made.
    overwrite, workers, **opening
        As in `Work`.
    noise_of_run : NoiseOfRun, optional
        Of all originals of the run, also those whose outputs are kept; of the jobs' unless given.

    Yields
    ------
    Outcome
        One a job, in order, when its files are complete. After one that found the disk full no
        other job is begun.

    Raises
    ------
    OutputError
        If a folder cannot be made.
    """
    if noise_of_run is None:
        noise_of_run = NoiseOfRun([job.original for job in jobs], **opening)
    make_folders(jobs)
    work = Work(overwrite, workers, noise_of_run, **opening)
    return overlap(jobs, work.read, work.grade, work.finish)


def overlap(
    jobs: Sequence[Job], read: Callable, grade: Callable, finish: Callable
) -> Iterator[Outcome]:
    """Read, grade and finish jobs in order, neighbouring jobs at the same time.

    ``read(job)`` and ``finish(job, frame, picture)`` each run on a thread of their own,
    ``grade(job, frame)`` on the caller's. ``finish`` returns what is `Done`.

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
        reads = (reader.submit(timed, read, job) for job in jobs)
        ahead = next(reads, None)
        try:
            for job in jobs:
                reading, ahead = ahead, next(reads, None)
                begun.append((job, _grade_then_finish(job, reading, grade, writer, finish)))
                if len(begun) == 2:
                    outcome = next_outcome()
                    yield outcome
                    if outcome.disk_full:
                        break
        except KeyboardInterrupt:
            while begun:
                yield next_outcome()
            raise
        while begun:
            yield next_outcome()


def timed(step: Callable, *arguments: Any) -> tuple[Any, float]:
    """What a step gives, and its seconds by the clock."""
    start = time.monotonic()
    return step(*arguments), time.monotonic() - start


def _grade_then_finish(job, reading, grade, writer, finish):
    """The future of a job's end; it holds the error of whichever step failed."""
    try:
        frame, opening = reading.result()
        pictures, grading = timed(grade, job, frame)
    except Exception as error:
        failed = Future()
        failed.set_exception(error)
        return failed

    def last():
        done, writing = timed(finish, job, frame, pictures)
        return done, Seconds(opening, grading, writing)

    return writer.submit(last)


def _outcome(job, writing):
    try:
        done, seconds = writing.result()
    except Exception as error:
        return failed(job, error)
    return Outcome(job, None, *done, seconds)


def failed(job: Job, error: Exception) -> Outcome:
    """The outcome of a job that ended with an error."""
    return Outcome(job, str(of_frame(error, job.original)), disk_full=isinstance(error, DiskFull))
