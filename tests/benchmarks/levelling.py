"""Flicker of a simulated evening: straight, levelled, and levelled by the truth.

    python tests/benchmarks/levelling.py [--seeds N]

Forty frames an evening, with a shutter that slips by 0.03 and by 0.15 stop. With ``--bodies`` it
tells instead how far apart two cameras come out, in evenings to tune by and others held back.
"""

import argparse
import sys
import tempfile
import warnings
from itertools import product
from pathlib import Path

warnings.filterwarnings("ignore", message='.*"Matplotlib" related API features.*')
ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "demo_images"), str(ROOT / "tests")]

from evening.bodies import HELD_BACK, TUNED, apart, two_bodies  # noqa: E402
from evening.judged import judged, simulated  # noqa: E402


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--bodies", action="store_true")
    options = parser.parse_args()
    tell = tell_of_two if options.bodies else tell_of_one
    tell(range(1, options.seeds + 1))


def tell_of_one(seeds):
    print("| seed, slip | way | flicker, stops: rms (worst) | Oklab a, b | contrast, stops |")
    print("|---|---|---|---|---|")
    for seed, slip in product(seeds, (0.03, 0.15)):
        with tempfile.TemporaryDirectory() as folder:
            evening = simulated(Path(folder), seed=seed, slip=slip)
            for way, found in judged(evening).items():
                print(f"| {seed}, {slip} | {way} | {found.stops[0]:.4f} ({found.stops[1]:.3f}) "
                      f"| {found.colour[0]:.4f} ({found.colour[1]:.4f}) "
                      f"| {found.contrast:.2f} |")  # fmt: skip
            rms, worst = evening.course()
            print(f"| {seed}, {slip} | course against truth | {rms:.3f} ({worst:.3f}) stops "
                  f"| {evening.white():.1f} mired | |", flush=True)  # fmt: skip


def tell_of_two(seeds):
    print("| second camera | seed | lighter by, stops | warmer by, mired |")
    print("|---|---|---|---|")
    for held, evenings in (("", TUNED), (" (held back)", HELD_BACK)):
        for (name, (second, frames)), seed in product(evenings.items(), seeds):
            with tempfile.TemporaryDirectory() as folder:
                found = apart(two_bodies(Path(folder), name, second, frames, seed))
                print(f"| {name}{held} | {seed} | {found.stops:+.2f} | {found.mired:+.1f} |",
                      flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
