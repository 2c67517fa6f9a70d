"""How well `grading inspect` finds what is labelled, on scenes that its limits were not set on.

    python tests/benchmarks/choosing.py [--seeds 11,12] [--only NAME]

Sets of forty frames are made of towns, of textures and of photographs (those of scikit-image), and
each frame that is judged wrongly is said.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]
sys.path.append(str(Path(__file__).resolve().parents[1] / "truth"))

from textures import HELD_BACK, TUNED

from grading.inspect.measure import measure
from grading.inspect.series import find_series
from grading.inspect.verdict import verdicts
from inspect_frames import town
from labelled_frames import labelled_set

PHOTOGRAPHS = ("camera", "coffee", "astronaut", "immunohistochemistry", "gravel", "grass", "brick")
TEXTURES = ("foliage 1.5-8 px", "foliage 4-20 px", "skyline", "shingle", "bark", "grass", "gravel")


def photograph(name):
    """Linear light of one of scikit-image's pictures."""
    from skimage import data

    codes = np.asarray(getattr(data, name)(), float)
    codes = (codes.mean(2) if codes.ndim == 3 else codes) / 255
    return np.where(codes < 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4) + 0.002


def scenes(kind, seed):
    """The scene of each number, for one kind of set."""
    if kind == "town":
        return lambda number: town(1000 * seed + number, (600, 900))
    if kind == "photographs":
        pictures = [photograph(name) for name in PHOTOGRAPHS]
    else:
        rng, every = np.random.default_rng(seed), TUNED | HELD_BACK
        fall = np.linspace(1.6, 0.5, 600)[:, None]
        pictures = [every[name](600, rng) * fall for name in TEXTURES]
    return lambda number: pictures[number % len(pictures)]


def judge(kind, seed):
    """Say what is wrong in a set; how many frames, what leans were said."""
    frames, labels = [], []
    for frame, label in labelled_set(scenes(kind, seed), seed):
        frames.append(measure(frame))
        labels.append(label)
    said = verdicts(frames)
    for number, (measures, label, found) in enumerate(zip(frames, labels, said, strict=True)):
        words = {verdict.word for verdict in found}
        if words != ({label.word} if label.word else set()):
            print(f"  {number}: is {label.word}, said {[tuple(each) for each in found]}")
        elif label.word == "shaken":
            _judge_shake(number, measures.blur, label)
        if kind == "town" and measures.lean:
            off = measures.lean.straighten - label.roll
            if abs(off) > 0.3:
                print(f"  {number}: lean off by {off:.2f} degrees")
    _judge_series(find_series(frames, [bool(each) for each in said]), labels)
    print(f"{kind} {seed}: {sum(each.lean is not None for each in frames)} leans said", flush=True)


def _judge_shake(number, blur, label):
    turn = abs((blur.angle - label.angle + 90) % 180 - 90)
    share = blur.size / label.length - 1
    if turn > 5 or abs(share) > 0.15:
        print(f"  {number}: angle off by {turn:.1f} degrees, length by {100 * share:.0f} %")


def _judge_series(found, labels):
    by_frames = {each.frames: each for each in found}
    for burst in dict.fromkeys(label.burst for label in labels if label.burst):
        series = by_frames.get(burst)
        blurs = {n: labels[n].blur for n in burst}
        if series is None or series.best is None:
            print(f"  burst {burst} not found")
        elif blurs[series.best] > min(blurs.values()) + 0.15:
            print(f"  burst {burst}: best is {series.best}, blurs {blurs}")


def main():
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="11,12")
    parser.add_argument("--only", choices=("town", "photographs", "textures"))
    options = parser.parse_args()
    for seed in map(int, options.seeds.split(",")):
        for kind in [options.only] if options.only else ("town", "photographs", "textures"):
            judge(kind, seed)


if __name__ == "__main__":
    main()
