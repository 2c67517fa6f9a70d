"""Room on the disk for what is to be made: estimated before work starts."""

from __future__ import annotations

import os
import shutil
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from grading.engine.output import Output
from grading.errors import DiskFull, GradingError
from grading.files.formats.registry import FORMATS
from grading.files.originals.stated_size import stated_size
from grading.frame import Facts
from grading.framing.framing import settled, view_of
from grading.lens.optics import is_sound
from grading.shoot.jobs import Job, Target
from grading.stages.lens import distortion

QUALITIES = (1, 50, 80, 92, 100)
BYTES_A_PIXEL = (0.03, 0.12, 0.21, 0.38, 1.4)
"""Bytes of a JPEG for each pixel at these qualities: the demo set at a quarter of its size, where
every pixel is sharp. A soft or dark picture takes half of it or less, a noisy one twice as much."""

SHARES = {"avif": 0.95, "jxl": 0.5, "png": 0.5, "png16": 0.85}
"""Of the bytes of a JPEG, or of codes that are not compressed, as the demo set takes them."""

GREY = 0.5
"""Share of a lossy file's bytes without colour."""

SURELY = 0.25
"""Share of an estimate that a whole set of compressed files hardly falls below."""

SPARE = 1.25
"""A disk with less than so many times the estimate may become full."""

FEW = 10
"""Outputs below which nothing is refused: their sum may be far from any estimate, and whether
there is room for them shows at once."""

SAMPLE = 24
"""How many originals have their headers read; the others are taken to be like these."""

LARGEST_SIDECAR = 8192


@dataclass(frozen=True)
class Room:
    """One disk: what is to be written to it, and what is free.

    Attributes
    ----------
    folder : Path
        One of the folders for outputs on it.
    outputs : int
    about, surely : int
        Bytes that they will take as estimated, and bytes that they will hardly take less than.
    free : int
        Bytes, with those of earlier outputs that are replaced.
    """

    folder: Path
    outputs: int
    about: int
    surely: int
    free: int

    @property
    def too_small(self) -> bool:
        """Whether the outputs will hardly fit; never of `FEW`."""
        return self.outputs >= FEW and self.surely > self.free

    @property
    def narrow(self) -> bool:
        """Whether they may not fit."""
        return self.about * SPARE > self.free


def bytes_about(output: Output, width: int, height: int) -> tuple[float, float]:
    """Bytes of an output's file as estimated, and what it will hardly be less than.

    >>> bytes_about(Output("tiff", long_edge=300), 600, 400)
    (360000, 360000)
    """
    columns, rows = output.size(width, height)
    pixels, kind = columns * rows, FORMATS[output.format]
    if not kind.has_quality:
        whole = pixels * (1 if output.is_grey else 3) * kind.bits // 8
        about = whole * SHARES.get(kind.name, 1)
        return about, about if kind.name not in SHARES else SURELY * about
    about = pixels * float(np.interp(output.quality, QUALITIES, BYTES_A_PIXEL))
    about *= SHARES.get(kind.name, 1) * (GREY if output.is_grey else 1)
    return about, SURELY * about


def rooms(jobs: Sequence[Job]) -> list[Room]:
    """What some jobs will write, disk by disk.

    Headers of some originals are read.

    Parameters
    ----------
    jobs : sequence of Job
        With the targets that are to be made.
    """
    sizes = _sizes(list(dict.fromkeys(job.original for job in jobs)))
    by_disk: dict[int, list[tuple[Target, tuple[int, int]]]] = defaultdict(list)
    for job in jobs:
        size = _framed(job.recipe, *sizes[job.original])
        for target in job.targets:
            by_disk[os.stat(_standing(target.path.parent)).st_dev].append((target, size))
    return [_room(each) for each in by_disk.values()]


def _framed(recipe, width, height):
    """Width and height of the picture that a recipe frames; of the frame where it asks too much.

    Distortion counts where the recipe has its numbers; what a file or the database states of a lens
    is known only once the original is open, and changes a side by a few hundredths.
    """
    if not width or not height:
        return width, height
    warp = distortion(recipe.parts["lens"], Facts(Path(), width, height, "header"))
    if warp is not None and not is_sound(warp, width, height):
        warp = None
    try:
        framing = settled(recipe.parts["framing"], width, height, warp)
        return view_of(framing, width, height, warp).size
    except ValueError:
        return width, height


def _room(written):
    estimates = [bytes_about(target.output, *size) for target, size in written]
    about, surely = (int(sum(each)) for each in zip(*estimates, strict=True))
    replaced = sum(t.path.stat().st_size for t, _ in written if t.path.is_file())
    folder = written[0][0].path.parent
    free = shutil.disk_usage(_standing(folder)).free + replaced
    return Room(folder, len(written), about + LARGEST_SIDECAR * len(written), surely, free)


def _standing(folder):
    """The folder, or the nearest above it that exists."""
    return next(path for path in (folder.absolute(), *folder.absolute().parents) if path.exists())


def _sizes(originals):
    """Width and height of each original; of those not read, or not readable, the middle."""
    step = max(1, -(-len(originals) // SAMPLE))
    read = {path: size for path in originals[::step] if (size := stated_size(path))}
    middle = tuple(int(side) for side in np.median(list(read.values()) or [(0, 0)], axis=0))
    return {path: read.get(path, middle) for path in originals}


def check_room(found: Iterable[Room]) -> list[str]:
    """Refuse work for which a disk hardly has room.

    Parameters
    ----------
    found : iterable of Room

    Returns
    -------
    list of str
        Sentences about disks that may become full.

    Raises
    ------
    DiskFull
    """
    found = list(found)
    problems = [
        DiskFull(
            f"{in_bytes(room.surely)} or more are needed for {room.outputs} outputs, about "
            f"{in_bytes(room.about)}, and {in_bytes(room.free)} are free",
            place=str(room.folder),
            remedy="make room, choose another folder, or deliver smaller files",
        )
        for room in found
        if room.too_small
    ]
    if problems:
        raise GradingError.together(problems)
    return [
        f"{room.folder}: about {in_bytes(room.about)} are needed and {in_bytes(room.free)} are "
        "free, so the disk may become full"
        for room in found
        if room.narrow
    ]


def in_bytes(count: float) -> str:
    """A number of bytes in words, in powers of ten.

    >>> in_bytes(2_345_678_901), in_bytes(34_000_000), in_bytes(12)
    ('2.3 GB', '34 MB', '0.1 MB')
    """
    if count >= 1e9:
        return f"{count / 1e9:.1f} GB"
    return f"{count / 1e6:.0f} MB" if count >= 1e7 else f"{max(count / 1e6, 0.1):.1f} MB"
