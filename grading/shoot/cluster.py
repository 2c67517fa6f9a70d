"""The same batch on several machines: jobs go to Dask workers, over storage that all of them see.

Dask's own client, scheduler and workers carry the jobs, and give those of a worker that died to
another. A worker opens, grades and writes as `grading.shoot.batch` does, so the bits are the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from grading.errors import GradingError
from grading.files.atomic import remove_leftovers
from grading.files.sidecar import EngineRecord, engine_facts
from grading.recipe.load import Recipe, recipe_from_mapping
from grading.shoot.batch import Outcome, Seconds, Work, failed, made_of, make_folders, timed
from grading.shoot.earlier import earlier_output
from grading.shoot.jobs import Job, Target
from grading.shoot.keep import what_differs
from grading.shoot.noise import NoiseOfRun

PATIENCE = 20
"""Seconds to wait for the scheduler, and for its first worker."""


class Parcel(NamedTuple):
    """A job as it is sent: plain values, and paths from the root.

    ``numbers`` are all values of the recipe, files that it names read; ``stated`` is what its
    ``path``, ``stated``, ``positions`` and ``layers`` are, for sidecars and messages.
    """

    original: Path
    targets: tuple[Target, ...]
    numbers: dict
    stated: dict
    overwrite: bool
    workers: int
    opening: dict
    engine: EngineRecord


def packed(
    job: Job, overwrite: bool = False, workers: int | None = None, **opening: Any
) -> Parcel:
    """A job ready to be sent.

    Parameters
    ----------
    job : Job
    overwrite, **opening
        As in `grading.shoot.batch.Work`.
    workers : int, optional
        Threads for one frame; 1 unless given, since there are as many workers as one likes.
    """
    recipe = job.recipe
    return Parcel(
        job.original.absolute(),
        tuple(replace(target, path=target.path.absolute()) for target in job.targets),
        recipe.as_mapping(),
        {
            "path": recipe.path,
            "stated": dict(recipe.stated),
            "positions": dict(recipe.positions),
            "layers": dict(recipe.layers),
        },
        overwrite,
        workers or 1,
        opening,
        engine_facts(),
    )


def unpacked(parcel: Parcel) -> Job:
    """The job that was sent, its recipe with the digest and the sources that it had."""
    recipe: Recipe = recipe_from_mapping(parcel.numbers, str(parcel.stated["path"] or "recipe"))
    return Job(parcel.original, replace(recipe, **parcel.stated), parcel.targets)


def do(parcel: Parcel, originals: Sequence[Path]) -> Outcome:
    """Do a job, on a worker.

    What is there already, of these very values, a worker that died has written: it is left.

    Parameters
    ----------
    parcel : Parcel
    originals : sequence of Path
        All of the run, from the root: what they show of their cameras' noise makes pixels.

    Returns
    -------
    Outcome
        Without the job, which the sender has.
    """
    job = unpacked(parcel)
    try:
        _check_engine(parcel.engine)
        noise = _noise_of(tuple(originals), tuple(parcel.opening.items()))
        outcome = _done(job, Work(parcel.overwrite, parcel.workers, noise, **parcel.opening))
    except Exception as error:
        outcome = failed(job, error)
    return replace(outcome, job=None)


@lru_cache(1)
def _noise_of(originals, opening):
    """The noise of a run, for all jobs of it that this worker does."""
    return NoiseOfRun(originals, **dict(opening))


def _done(job, work):
    noise = work.noise_of_run
    there = {target: made for target in job.targets if (made := _there(job, target, noise))}
    left = replace(job, targets=tuple(target for target in job.targets if target not in there))
    if not left.targets:
        return Outcome(job, outputs=tuple(there.values()))
    frame, opening = timed(work.read, left)
    pictures, grading = timed(work.grade, left, frame)
    done, writing = timed(work.finish, left, frame, pictures)
    there |= dict(zip(left.targets, done.outputs, strict=True))
    outputs = tuple(there[target] for target in job.targets)
    return Outcome(job, None, done.warnings, outputs, Seconds(opening, grading, writing))


def _there(job, target, noise):
    """The output of a target, if it is the one that would be made."""
    earlier = earlier_output(target.path)
    if not (earlier and earlier.whole) or what_differs(job, target, earlier.record, noise):
        return None
    return made_of(target.path, earlier.record)


def _check_engine(sender):
    """Refuse to work with other versions than the sender's: pixels might come out otherwise."""
    wanted, here = _versions(sender), _versions(engine_facts())
    apart = [name for name in wanted if wanted[name] != here.get(name)]
    if apart:
        raise GradingError(
            "a worker has " + ", ".join(f"{name} {here.get(name)}" for name in apart),
            allowed=", ".join(f"{name} {wanted[name]}" for name in apart),
            remedy="install the same versions on all workers",
        )


def _versions(engine):
    facts: Mapping[str, Any] = asdict(engine)
    return facts.pop("libraries") | facts


def render_on(
    address: str,
    jobs: Sequence[Job],
    overwrite: bool = False,
    workers: int | None = None,
    originals: Sequence[Path] | None = None,
    **opening: Any,
) -> Iterator[Outcome]:
    """Render every job on the workers of a Dask scheduler.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://studio:8786``.
    jobs, overwrite, **opening
        As in `grading.shoot.batch.render_all`.
    workers : int, optional
        Threads for one frame; 1 unless given.
    originals : sequence of Path, optional
        All of the run, also those whose outputs are kept; those of the jobs unless given.

    Yields
    ------
    Outcome
        One a job, as they end. After one that found the disk full no other job is begun.

    Raises
    ------
    GradingError
        If dask.distributed is not installed, or no scheduler with a worker answers.
    OutputError
        If a folder cannot be made.
    """
    with _client(address) as client:
        make_folders(jobs)
        parcels = [packed(job, overwrite, workers, **opening) for job in jobs]
        run = dict.fromkeys(path.absolute() for path in originals or [j.original for j in jobs])
        shared = client.submit(tuple, run, pure=False)  # sent once, and made again where lost
        futures = client.map(do, parcels, originals=shared, pure=False)
        try:
            yield from _as_they_end(client, dict(zip(futures, jobs, strict=True)))
        finally:
            for folder in {target.path.parent for job in jobs for target in job.targets}:
                remove_leftovers(folder)


@contextmanager
def _client(address):
    try:
        from distributed import Client
    except ImportError:
        raise GradingError(
            "--cluster needs dask.distributed, which is not installed",
            remedy="pip install 'grading[cluster]', here and on all workers",
        ) from None
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:  # TimeoutError is an OSError
        raise GradingError(
            f"no scheduler answers ({error})",
            place=address,
            remedy="start one with `dask scheduler`, and state the address that it prints",
        ) from None
    with client:
        try:
            client.wait_for_workers(1, timeout=PATIENCE)
        except TimeoutError:
            raise GradingError(
                "the scheduler has no worker",
                place=address,
                remedy=f"start some with `dask worker {address} --nthreads 1`",
            ) from None
        yield client


def _as_they_end(client, jobs):
    """Outcomes of futures, as long as there are room and a scheduler.

    On Ctrl-C come those that have ended, and the rest is called off; what workers are at they
    finish, and nobody hears of it before a run with --keep finds it there.
    """
    from distributed import as_completed

    left = dict(jobs)
    try:
        for future in as_completed(list(jobs), loop=client.loop):
            outcome, goes_on = _outcome(future, left[future])
            del left[future]
            yield outcome
            if outcome.disk_full or not goes_on:
                break
    except KeyboardInterrupt:
        for future, job in left.items():
            if future.status == "finished":
                yield _outcome(future, job)[0]
        raise
    finally:
        client.cancel([future for future in left if not future.done()])


def _outcome(future, job):
    """What became of a job, and whether the cluster goes on."""
    from distributed import KilledWorker

    try:
        return replace(future.result(), job=job), True
    except KilledWorker:
        problem, remedy = "each worker that took it died", "do they have memory enough for it?"
        goes_on = True
    except Exception as error:
        problem = f"the cluster gave up ({type(error).__name__})"
        remedy = "is its scheduler there, and this package on all workers? Then --keep goes on"
        goes_on = False
    return failed(job, GradingError(problem, place=str(job.original), remedy=remedy)), goes_on
