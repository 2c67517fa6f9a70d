"""Speed and memory of a batch: frames a second against its slowest step, and whether memory grows.

    python tests/benchmarks/batch.py --frames 10 100

Frames are raw files of 24 million pixels (``--width``, ``--height``), copies of one that is made up
here, each a file of its own. A process of its own renders each number of them, and prints:

- seconds of all, and frames a second;
- the seconds of each step, opening, grading and writing, added up over the frames; no batch whose
  steps are done one frame at a time can end sooner than the largest of these sums, and a batch
  that did nothing at the same time would take all of them together;
- the peak of resident memory, which should not grow with the number of frames.

The first frame, which warms the engine up, is rendered before and not counted. Step sums are
seconds by the clock while neighbours work too, so on a busy machine they hold waiting as well.
"""

import argparse
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "demo_images")]

import numpy as np

import dng
from grading.engine.output import Output
from grading.recipe.load import load_recipe
from grading.shoot.batch import Seconds, render_all
from grading.shoot.jobs import jobs_in_folder

BLACK, WHITE = 512, 16383
MATRIX = np.array([[0.9, -0.2, -0.05], [-0.4, 1.25, 0.15], [-0.05, 0.2, 0.55]])


def make_card(folder, count, width, height):
    """A card of raw frames: a soft sky over a noisy ground, the same in every file."""
    rng = np.random.default_rng(1)
    light = np.linspace(0.4, 0.02, height)[:, None] + 0.02 * np.sin(np.arange(width) / 40)
    codes = BLACK + (WHITE - BLACK) * light + rng.normal(0, 20, (height, width))
    first = folder / "0000.dng"
    dng.write_dng(
        first, np.clip(codes, 0, WHITE).astype(np.uint16), white=WHITE, black=(BLACK,) * 4,
        color_matrix1=MATRIX, illuminant1="D65", as_shot_neutral=(0.5, 1, 0.7),
    )  # fmt: skip
    for i in range(1, count + 1):
        shutil.copy(first, folder / f"{i:04}.dng")


def measure(folder, look, output, workers):
    """Render a card; seconds of all, sums of the steps, and peak memory in MB."""
    recipe = load_recipe(look)
    first, *others = sorted((folder / "in").iterdir())

    def jobs(paths, name):
        return jobs_in_folder(dict.fromkeys(paths, recipe), folder / name, output)

    list(render_all(jobs([first], "warm"), workers=workers))
    start = time.monotonic()
    outcomes = list(render_all(jobs(others, "out"), workers=workers))
    seconds = time.monotonic() - start
    assert not any(outcome.error for outcome in outcomes)
    steps = Seconds(*map(sum, zip(*(outcome.seconds for outcome in outcomes), strict=True)))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return seconds, steps, peak / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def report(count, seconds, steps, peak):
    slowest = max(steps)
    print(
        f"{count:5} frames  {seconds:7.1f} s  {count / seconds:6.2f} frames/s   "
        + "  ".join(f"{name} {value:.1f} s" for name, value in steps._asdict().items())
        + f"   {seconds / slowest:.2f} of the slowest step, {seconds / sum(steps):.2f} of all"
        f"   peak {peak:.0f} MB",
        flush=True,
    )


def options():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--frames", type=int, nargs="+", default=[10, 100])
    parser.add_argument("--width", type=int, default=6000)
    parser.add_argument("--height", type=int, default=4000)
    parser.add_argument("--look", default="harbour-dusk")
    parser.add_argument("--format", default="jpeg")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--folder", type=Path, help="where files go [the system's temporary one]")
    parser.add_argument("--card", type=Path, help="measure this folder, made by an earlier call")
    return parser.parse_args()


def main():
    asked = options()
    if asked.card:
        count = len(list((asked.card / "in").iterdir())) - 1
        output = Output(asked.format)
        report(count, *measure(asked.card, asked.look, output, asked.workers))
        return
    for count in asked.frames:
        with tempfile.TemporaryDirectory(dir=asked.folder) as folder:
            (Path(folder) / "in").mkdir()
            make_card(Path(folder) / "in", count, asked.width, asked.height)
            own = [sys.executable, __file__, *sys.argv[1:], "--card", folder]
            subprocess.run(own, check=True)


if __name__ == "__main__":
    main()
