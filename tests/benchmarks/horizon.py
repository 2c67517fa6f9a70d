"""How well a plain sea horizon is found, and how seldom one is found where there is none.

    python tests/benchmarks/horizon.py [--from 1000] [--frames 200] [--size 400x600]

Frames are simulated (`tests/sea_frames.py`); a line for each kind of sea and each other scene says
how many have a proposal, its median and worst error in degrees, and how many are more than one off.
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

import sea_frames as frames
from grading.inspect.sea import find_horizon

SCENES = dict.fromkeys((*frames.TUNED, *frames.HELD_BACK, *frames.UNSEEN))


def errors(seeds, drawn):
    """Errors of proposals in degrees, and the median milliseconds of a frame."""
    off, spent = [], []
    for seed in seeds:
        stops, at = drawn(seed)
        light, noise = frames.recorded(stops, seed)
        begin = time.thread_time()
        found = find_horizon(light, noise)
        spent.append(time.thread_time() - begin)
        if found:
            off.append(found.lean - at.roll)
    return np.abs(off), 1e3 * float(np.median(spent))


def no_sea(scene, size):
    """How a scene is drawn, with its camera."""

    def drawn(seed):
        rng = np.random.default_rng(seed)
        at = frames.eye(rng, size)
        return scene(rng, at), at

    return drawn


def main():
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--from", type=int, default=1000, dest="first")
    parser.add_argument("--frames", type=int, default=200)
    parser.add_argument("--size", default="400x600")
    options = parser.parse_args()
    size = tuple(map(int, options.size.split("x")))
    each = options.frames // len(frames.KINDS)
    seeds = range(options.first, options.first + each)
    drawn = {kind: lambda seed, kind=kind: frames.sea(seed, size, kind=kind)
             for kind in frames.KINDS}  # fmt: skip
    drawn |= {f"no sea: {scene.__name__}": no_sea(scene, size) for scene in SCENES}
    print(f"{'scene':20}  frames  proposals  median  worst  wrong  ms")
    for name, draw in drawn.items():
        off, spent = errors(seeds, draw)
        middle, worst = (np.median(off), off.max()) if off.size else (0, 0)
        print(f"{name:20}  {each:6}  {off.size:9}  {middle:6.3f}  {worst:5.2f}  {(off > 1).sum():5}"
              f"  {spent:.1f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
