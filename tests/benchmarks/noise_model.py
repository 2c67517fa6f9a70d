"""The noise model of frames that are texture all over, as it was and as it is, against the truth.

    python tests/benchmarks/noise_model.py [--size PIXELS] [--before COMMIT] [--short]

Scenes of `tests/truth/textures.py`, alone and under 10 and 40 % of smooth sky, recorded by two
simulated cameras at ISO 100 to 12800.  Prints the variance at middle grey over the true one: as
found by the commit (by git, 1c8a67a unless given), by the frame itself, and as it is taken in the
end, with and without other frames of the camera.  Then how the luminance of the developed frame
fares beside no reduction once `denoise` takes all noise of the model, in decibels of PSNR on
balanced camera light (Rec. 709 weights).
"""

import argparse
import subprocess
import sys
import types
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from frames_in_memory import facts, recipe
from grading.develop.mosaic import MosaicPixels
from grading.develop.noise import measure_noise
from grading.develop.noise_source import settle, with_shown
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.frame import Frame, Noise
from grading.region import Region
from grading.shoot.noise import Told, shown_by
from kernels.raws import sensor
from truth.textures import CAMERAS, HELD_BACK, TINT, TUNED, site_light

SPEEDS = (100, 400, 1600, 3200, 12800)
SKIES = (0.0, 0.1, 0.4)
LEVEL, LEAST, MOST = 0.18, 0.7, 1.4
BALANCE = np.array([1 / TINT[0, 0], 1, 1 / TINT[1, 1]], np.float32)
WEIGHTS = np.array([0.2126, 0.7152, 0.0722])[:, None, None]
PART = 512
ALL = recipe(denoise={"luminance": 1.0, "colour": 1.0})


def estimate_of(commit):
    """`estimate_noise` as that commit had it, or None where git does not know it."""
    place = f"{commit}:grading/develop/noise.py"
    shown = subprocess.run(["git", "show", place], cwd=ROOT, capture_output=True, text=True)
    module = types.ModuleType("before")
    exec(shown.stdout, module.__dict__)  # noqa: S102
    return getattr(module, "estimate_noise", None)


def frame_of(counts, camera, noise, source):
    """A frame in memory, with this noise."""
    levels = {"black": camera.black, "white": camera.white, "noise": tuple(noise)}
    own = sensor(counts.shape, **levels)
    pixels = MosaicPixels(counts, own, BALANCE, None, 1)
    rows, columns = counts.shape
    return Frame(replace(facts(columns, rows), noise=noise, noise_source=source), pixels)


def luminance(frame):
    """Of the middle of a frame, with all the noise reduced that its model tells of."""
    rows, columns = frame.pixels.height, frame.pixels.width
    top, left = (rows - PART) // 2, (columns - PART) // 2
    region = Region(top, top + PART, left, left + PART)
    plan = make_plan(resolve(ALL, frame), frame)
    plan = replace(plan, steps=tuple(s for s in plan.steps if s.stage.name == "denoise"))
    planes = taken_through(plan, region)
    return (planes * BALANCE[:, None, None] * WEIGHTS).sum(0)


def psnr(found, truth):
    return -10 * np.log10(np.mean(np.square(np.clip(found, 0, 1) - np.clip(truth, 0, 1))))


def frames(size):
    """Scene, sky, camera, speed, grey scene and counts of each frame."""
    for name, draw in {**TUNED, **HELD_BACK}.items():
        scene = draw(size, np.random.default_rng(7))
        for sky in SKIES:
            light = site_light(scene, sky)
            for camera in CAMERAS:
                for speed in SPEEDS:
                    yield name, sky, camera, speed, light, camera.record(light, speed, seed=3)


def shown_to(name, camera, speed, told):
    """What frames of other scenes show."""
    others = [each for scene, each in told if scene != name and each.camera == camera.name]
    return shown_by(sorted(others, key=lambda each: abs(np.log2(each.iso / speed))), speed)


def measured_frames(size, before):
    """A row for each frame, without pixels."""
    rows, told = [], []
    for name, sky, camera, speed, _, counts in frames(size):
        black, white = [float(camera.black)] * 4, float(camera.white)
        measured = measure_noise(counts, (0, 0), black, white)
        noise, source = settle(measured, speed)
        earlier = before and Noise(
            *before(counts, (0, 0), np.array(black), np.full(4, white))
        )
        if source.sure:
            told.append((name, Told(camera.name, speed, noise)))
        rows.append((name, sky, camera, speed, earlier, measured, noise, source))
    return rows, told


def ratio(noise, camera, speed):
    return noise.variance(LEVEL) / Noise(*camera.noise(speed)).variance(LEVEL)


def decibels(light, counts, camera, source, models):
    """Gain in luminance over no reduction by each model; 0 where it is None or reduces nothing."""
    grey = light / np.tile(TINT, (light.shape[0] // 2, light.shape[1] // 2))
    top, left = ((side - PART) // 2 for side in light.shape)
    truth = grey[top : top + PART, left : left + PART]
    plain = psnr(luminance(frame_of(counts, camera, Noise(0.0, 0.0), source)), truth)
    return [
        psnr(luminance(frame_of(counts, camera, model, source)), truth) - plain if model else 0.0
        for model in models
    ]


def main():
    plain_text = argparse.RawTextHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=plain_text)
    parser.add_argument("--size", type=int, default=1024)
    parser.add_argument("--before", default="1c8a67a")
    parser.add_argument("--short", action="store_true", help="without pictures")
    options = parser.parse_args()
    rows, told = measured_frames(options.size, estimate_of(options.before))
    print(f"{'scene':18}{'sky':>5}{'bits':>5}{'ISO':>7}{'before':>9}{'own':>8}{'alone':>7}{'run':>7}"
          f"  source, then dB of luminance: before, alone, in a run, true model")  # fmt: skip
    pictures = frames(options.size)
    table = []
    for row, (*_, light, counts) in zip(rows, pictures, strict=True):
        name, sky, camera, speed, earlier, measured, noise, source = row
        alone = frame_of(counts, camera, noise, source)
        in_run = with_shown(alone, shown_to(name, camera, speed, told))
        models = earlier, noise, in_run.facts.noise, Noise(*camera.noise(speed))
        found = earlier, measured.noise, noise, in_run.facts.noise
        own = [ratio(model, camera, speed) if model else np.nan for model in found]
        lost = [] if options.short else decibels(light, counts, camera, source, models)
        table.append((name, sky, source.sure, own, lost))
        print(f"{name:18}{sky:5.0%}{camera.bits:5}{speed:7}{own[0]:9.2f}{own[1]:8.2f}{own[2]:7.2f}"
              f"{own[3]:7.2f}  {in_run.facts.noise_source.name:38}"
              + "".join(f"{value:7.2f}" for value in lost), flush=True)  # fmt: skip
    summary(table)


def summary(table):
    """Shares within the limits, and the worst losses."""
    for title, chosen in (
        ("sure", [row for row in table if row[2]]),
        ("not sure", [row for row in table if not row[2]]),
        *((f"sky {sky:.0%}", [row for row in table if row[1] == sky]) for sky in SKIES),
    ):
        ratios = np.array([row[3] for row in chosen]).reshape(-1, 4)
        inside = np.mean((ratios >= LEAST) & (ratios <= MOST), axis=0)
        spans = ", ".join(f"{share:.0%} ({low:.2f} to {high:.2f})" for share, low, high in
                          zip(inside, ratios.min(0), ratios.max(0), strict=True))  # fmt: skip
        print(f"{title}: {len(chosen)} frames; before, own, alone, in a run: {spans}")
        if chosen and chosen[0][4]:
            worst = np.array([row[4] for row in chosen]).min(0)
            print("    worst dB: " + ", ".join(f"{value:.2f}" for value in worst))


if __name__ == "__main__":
    main()
