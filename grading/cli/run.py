"""A run of many frames: its plan, its work, and what is said and written of it afterwards."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from grading.cli.group import STOPPED, get_ready
from grading.errors import GradingError
from grading.messages import listed
from grading.terminal import in_time, progress, say

if TYPE_CHECKING:
    from grading.shoot.jobs import Job


@dataclass(frozen=True)
class Wanted:
    """What is asked for: jobs of a recipe or a shoot file.

    Attributes
    ----------
    source : str
        The recipe or the shoot file.
    jobs : list of Job
    notes : sequence of str
        Sentences on what was left out.
    shoot : str or None
        Name of the shoot file, if it is one.
    levels : mapping
        Plain values of what levelling found of a frame, by its original.
    """

    source: str
    jobs: list[Job]
    notes: Sequence[str]
    shoot: str | None = None
    levels: Mapping[Path, dict] = field(default_factory=dict)

    @property
    def folders(self) -> list[Path]:
        """Where outputs go, in order."""
        return list(dict.fromkeys(each.path.parent for job in self.jobs for each in job.targets))

    @property
    def left_over(self) -> list[str]:
        """Of a shoot, what earlier runs left where it puts its outputs."""
        from grading.shoot.left_over import sentences_on_left

        return sentences_on_left(self.jobs) if self.shoot else []

    @property
    def remarks(self) -> list[tuple[Path, str]]:
        """What levelling remarks of frames."""
        return [(path, text) for path, level in self.levels.items() for text in level["remarks"]]


@dataclass(frozen=True)
class Ways:
    """How it is to be done, as the options of `grading render` say."""

    keep: bool
    overwrite: bool
    discard_notes: bool
    workers: int | None
    opening: dict[str, Any]
    report: Path | None = None
    cluster: str | None = None


def _spared(wanted, ways):
    from grading.shoot.notes import notes_of_others

    return None if ways.discard_notes else notes_of_others(wanted.shoot)


def _say_time(jobs, noise, ways):
    """About how long a run of jobs will take, where frames show it."""
    from grading.shoot.pace import TRIED, seconds_about

    if ways.cluster:
        return
    _prepare(jobs)
    rendering = {"workers": ways.workers, "noise_of_run": noise}
    seconds = seconds_about(jobs, **rendering, **ways.opening)
    if seconds:
        say(f"about {in_time(seconds)}, as {TRIED} of its frames show")


def _noise(wanted, ways):
    """What all frames of a run show of their cameras' noise."""
    from grading.shoot.noise import NoiseOfRun

    return NoiseOfRun(list(dict.fromkeys(job.original for job in wanted.jobs)), **ways.opening)


def show_plan(wanted: Wanted, ways: Ways) -> None:
    """Print what a run would do, output by output; status 2 if it would be refused."""
    from grading.shoot.foresee import AGAIN, KEEP, MAKE, REFUSE, counted, foresee, to_make
    from grading.shoot.keep import what_differs
    from grading.shoot.manifest import check_manifests
    from grading.shoot.room import check_room, in_bytes, rooms

    check_manifests(wanted.jobs)
    noise = _noise(wanted, ways)
    compare = partial(what_differs, noise_of_run=noise)
    foreseen = foresee(wanted.jobs, ways.overwrite, ways.keep, compare, _spared(wanted, ways))
    for each in foreseen:
        say(f"{each.fate:6}  {each.target.path}{f': {each.why}' if each.why else ''}")
    count = counted(foreseen)
    words = {MAKE: "to make", AGAIN: "to make again", KEEP: "kept", REFUSE: "in the way"}
    parts = [f"{count[fate]} {said}" for fate, said in words.items() if count[fate]]
    say(", ".join([*parts, *wanted.notes]) or "nothing to make")
    say(*(f"note: {sentence}" for sentence in wanted.left_over))
    _say_remarks(wanted.remarks)
    jobs = list(to_make(foreseen))
    _say_time(jobs, noise, ways)
    found = rooms(jobs)
    for room in found:
        say(f"{room.folder}: about {in_bytes(room.about)}, {in_bytes(room.free)} free")
    say(*(f"note: {sentence}" for sentence in check_room(found)))
    sys.exit(2 if count[REFUSE] else 0)


def carry_out(wanted: Wanted, ways: Ways) -> None:
    """Do what is to be done, with everything that is printed on the way."""
    from grading.files.atomic import remove_leftovers
    from grading.shoot.jobs import plan_jobs
    from grading.shoot.keep import what_differs
    from grading.shoot.manifest import check_manifests, write_manifests
    from grading.shoot.room import check_room, rooms

    check_manifests(wanted.jobs)
    if ways.report:
        from grading.pages.report import check_report

        check_report(ways.report, ways.overwrite)
    noise = _noise(wanted, ways)
    compare = partial(what_differs, noise_of_run=noise) if ways.keep else None
    jobs = plan_jobs(wanted.jobs, ways.overwrite, compare, _spared(wanted, ways))
    for folder in wanted.folders:
        remove_leftovers(folder)
    for sentence in check_room(rooms(jobs)):
        say(f"note: {sentence}", error=True)
    _follow(_outcomes(jobs, noise, ways), jobs, wanted, ways)
    for path, count in write_manifests(wanted.jobs):
        say(f"{path}: checksums of {count} outputs", error=True)


def _outcomes(jobs, noise, ways) -> Iterator:
    if ways.cluster:
        from grading.shoot.cluster import render_on

        return render_on(
            ways.cluster, jobs, ways.overwrite, ways.workers, noise.originals, **ways.opening
        )
    from grading.shoot.batch import render_all

    _prepare(jobs)
    return render_all(jobs, ways.overwrite, ways.workers, noise, **ways.opening)


def _prepare(jobs):
    """Compile what some jobs need."""
    outputs = [target.output for job in jobs for target in job.targets]
    get_ready(
        [job.recipe for job in jobs],
        [job.original for job in jobs],
        {output.bits for output in outputs},
        resized=any(output.resizes or output.sharpen for output in outputs),
    )


def _follow(outcomes, jobs, wanted, ways):
    """Show progress, then what failed and a summary; status 1 if anything failed."""
    from datetime import datetime

    from grading.shoot.report import Run

    began, start, done, stopped = datetime.now().astimezone(), time.monotonic(), [], False
    try:
        for outcome in progress(outcomes, len(jobs), "Rendering"):
            done.append(outcome)
    except KeyboardInterrupt:
        stopped = True
    seconds = time.monotonic() - start
    left = wanted.left_over
    run = Run(
        wanted.source, wanted.jobs, jobs, done, began, seconds, stopped, [*wanted.notes, *left],
        wanted.levels,
    )  # fmt: skip
    remarks = [(each.job.original, note) for each in done for note in each.warnings]
    _say_remarks([*wanted.remarks, *remarks])
    say(*(f"note: {sentence}" for sentence in left), error=True)
    _say_failures(done)
    failed = any(outcome.error for outcome in done)
    failed |= not _written(run, ways)
    _say_summary(run, wanted)
    if stopped or failed:
        sys.exit(STOPPED if stopped else 1)


def _say_remarks(remarks):
    """Each remark once, with the frames that it is made of."""
    from grading.shoot.report import in_groups

    for sentence, paths in in_groups(remarks).items():
        if len(paths) == 1:
            say(f"{paths[0]}: note: {sentence}", error=True)
        else:
            names = listed([path.name for path in paths])
            say(f"note on {len(paths)} frames: {sentence} ({names})", error=True)


def _say_failures(done):
    """Every error once, however many looks a frame has; of those for want of room the first."""
    full = next((each for each in done if each.disk_full), None)
    errors = [each.error for each in done if each.error and (not each.disk_full or each is full)]
    for error in dict.fromkeys(errors):
        say(*error.split("\n"), error=True)


def _written(run, ways):
    """Write the report, if one is asked for; whether that went well."""
    if not ways.report:
        return True
    from grading.pages.report import write_report
    from grading.shoot.report import as_document

    try:
        write_report(ways.report, as_document(run), ways.overwrite)
    except GradingError as error:
        say(*str(error).split("\n"), error=True)
        return False
    return True


def _say_summary(run, wanted):
    from grading.shoot.report import FULL, as_document

    count = as_document(run)["outputs"]
    failed = sum(1 for outcome in run.outcomes if outcome.error)
    total = count["wanted"] - count["kept"]
    where = ", ".join(map(str, wanted.folders)) or "no folder"
    goes_on = "every file there is whole: --keep goes on from here"
    rendered = f"{count['rendered']} of {total} rendered into {where} in {run.seconds:.1f} s"
    said = (
        rendered if total else f"nothing to render into {where}",
        f"{count['kept']} kept" if count["kept"] else "",
        *wanted.notes,
        f"{failed} failed" if failed else "",
        f"{count['not begun']} not begun" if count["not begun"] and not run.stopped else "",
        f"the disk is full; {goes_on} once there is room" if run.end == FULL else "",
        f"stopped; {goes_on}" if run.stopped else "",
    )
    say(", ".join(filter(None, said)), error=True)
