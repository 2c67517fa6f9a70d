"""Flicker of a simulated evening: straight, levelled, and levelled by the truth.

    python tests/benchmarks/levelling.py [--seeds N]

Forty frames an evening, with a shutter that slips by 0.03 and by 0.15 stop.
"""

import argparse
import sys
import tempfile
import warnings
from pathlib import Path

warnings.filterwarnings("ignore", message='.*"Matplotlib" related API features.*')
ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "demo_images"), str(ROOT / "tests")]

from evening.judged import judged, simulated  # noqa: E402


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=int, default=2)
    options = parser.parse_args()
    print("| seed, slip | way | flicker, stops: rms (worst) | Oklab a, b | contrast, stops |")
    print("|---|---|---|---|---|")
    for seed in range(1, options.seeds + 1):
        for slip in (0.03, 0.15):
            with tempfile.TemporaryDirectory() as folder:
                evening = simulated(Path(folder), seed=seed, slip=slip)
                for way, found in judged(evening).items():
                    print(f"| {seed}, {slip} | {way} | {found.stops[0]:.4f} ({found.stops[1]:.3f}) "
                          f"| {found.colour[0]:.4f} ({found.colour[1]:.4f}) "
                          f"| {found.contrast:.2f} |")  # fmt: skip
                rms, worst = evening.course()
                print(f"| {seed}, {slip} | course against truth | {rms:.3f} ({worst:.3f}) stops "
                      f"| {evening.white():.1f} mired | |", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
