"""How often the lean of a frame is told, and how near it is.

    python tests/benchmarks/horizon.py [--frames 40] [--shaken 10] [--only NAME,NAME]

Frames are simulated (`tests/lean_frames`, and the older seas of `tests/sea_frames`). A line for
each kind says how many have a proposal, how many of these are within 0.3 degrees and more than one
off, and the worst. Open seas are summed up, other kinds, and frames of both that were shaken: those
taken for shaken get no proposal.
"""

import argparse
import sys
import time
from functools import partial
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

import lean_frames
import sea_frames
from grading.inspect.lean import find_lean
from grading.inspect.measure import measure

OLDER = dict.fromkeys((*sea_frames.TUNED, *sea_frames.HELD_BACK, *sea_frames.UNSEEN))


def older_sea(kind, seed):
    """A sea of the older model, its noise and its roll."""
    stops, at = sea_frames.sea(seed, kind=kind)
    return *sea_frames.recorded(stops, seed), at.roll


def no_older_sea(scene, seed):
    """Another scene of the older model, its noise and its roll."""
    rng = np.random.default_rng(seed)
    at = sea_frames.eye(rng)
    return *sea_frames.recorded(scene(rng, at), seed), at.roll


def told(drawn, seeds):
    """Errors of proposals in degrees, and the milliseconds of a frame."""
    off, spent = [], []
    for seed in seeds:
        light, noise, roll = drawn(seed)
        begin = time.thread_time()
        lean = find_lean(light, noise)
        spent.append(1e3 * (time.thread_time() - begin))
        if lean:
            off.append(lean.straighten - roll)
    return np.abs(off), float(np.median(spent))


def told_of_shaken(scene, seeds):
    """The same of originals that were taken with a camera that moved, without the time."""
    off = []
    for seed in seeds:
        frame, roll, _ = lean_frames.shaken(scene, seed)
        if lean := measure(frame).lean:
            off.append(lean.straighten - roll)
    return np.abs(off), 0.0


def line(name, frames, off, spent=0.0):
    """Print a line of the table."""
    worst = off.max() if off.size else 0
    print(f"{name:26} {frames:6}  {off.size:9}  {(off <= 0.3).sum():10}  {(off > 1).sum():5}"
          f"  {worst:5.2f}  {spent:4.0f}", flush=True)  # fmt: skip


def judge(title, tellers, seeds):
    """Lines of some kinds, each with what tells the leans of its frames, and their sum."""
    every = []
    for name, tell in tellers.items():
        off, spent = tell(seeds)
        every.append(off)
        line(name, len(seeds), off, spent)
    if every:
        line(f"all: {title}", len(seeds) * len(tellers), np.concatenate(every))


def tellers():
    """By title of a group of kinds, what tells the leans of each; those shaken apart."""
    new = {
        "open seas": lean_frames.SEAS, "others": lean_frames.OTHERS,
        "past a boat": lean_frames.AFLOAT,
    }  # fmt: skip
    still = {
        title: {kind.__name__: partial(told, partial(lean_frames.drawn, kind)) for kind in kinds}
        for title, kinds in new.items()
    }
    still["older seas"] = {
        f"sea: {kind}": partial(told, partial(older_sea, kind)) for kind in sea_frames.KINDS
    }
    still["older, no sea"] = {
        f"no sea: {scene.__name__}": partial(told, partial(no_older_sea, scene)) for scene in OLDER
    }
    moved = {
        f"shaken, {title}": {
            f"shaken: {kind.__name__}": partial(told_of_shaken, kind) for kind in kinds
        }
        for title, kinds in new.items()
    }
    return still, moved


def main():
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--from", type=int, default=5000, dest="first")
    parser.add_argument("--frames", type=int, default=40)
    parser.add_argument("--shaken", type=int, default=10)
    parser.add_argument("--only", type=lambda text: text.split(","))
    options = parser.parse_args()
    print(f"{'kind':26} frames  proposals  within 0.3  wrong  worst    ms")
    for groups, frames in zip(tellers(), (options.frames, options.shaken), strict=True):
        for title, kinds in groups.items():
            some = {name: tell for name, tell in kinds.items()
                    if options.only is None or name in options.only}  # fmt: skip
            judge(title, some, range(options.first, options.first + frames))


if __name__ == "__main__":
    main()
