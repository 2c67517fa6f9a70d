"""Times decode, grade and encode of a 24 Mpx raw apart, beside what they are measured against.

    python tests/benchmarks/bench.py [--rounds 5] [--skip-numpy]

Everything runs in one process on the same file, in turn, round by round; quote the ratios, since
machines differ and are noisy. LibRaw has as many threads as there are processors. The raw is
made from a frame of the demo set, mirrored to 24 Mpx and written as an uncompressed DNG: one at
ISO 1600, whose colour noise is reduced, and for one row one at ISO 100, which needs none. Rows that
say packed are of the first as lossless JPEG in tiles of 512 x 512, as cameras write it.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = str(os.cpu_count())

import numpy as np
import rawpy

HERE = Path(__file__).resolve().parent
DEMO = HERE.parents[1] / "demo_images"
sys.path[:0] = [str(HERE), str(DEMO)]

import numpy_chain

import dng
from grading import kernels
from grading.colour import transfer
from grading.colour.gamut import gamut
from grading.colour.profiles import icc_profile
from grading.engine.descent import Descent
from grading.engine.execute import TILE, render
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.engine.sampling import Turned
from grading.files.formats.jpeg import encode_jpeg
from grading.files.originals import open_frame
from grading.framing.view import View
from grading.recipe.load import recipe_from_mapping
from grading.region import Region
from grading.shoot.batch import render_all
from grading.shoot.jobs import Job, Target

ROWS, COLUMNS = 4000, 6000
MPX = ROWS * COLUMNS / 1e6

EVERY_STAGE = {
    "grading": 1,
    "title": "Every stage",
    "white_balance": {"as_shot": True, "shift": -15},
    "exposure": {"stops": 0.3},
    "lift": {"shadows": 1.2, "highlights": -0.6},
    "levels": {"black": -9.0, "white": 2.4},
    "tone_curve": {"contrast": 1.25, "white": 4.5, "shoulder": 0.1},
    "split_toning": {
        "shadows": {"hue": "5PB", "chroma": 0.025},
        "highlights": {"hue": "7.5YR", "chroma": 0.03},
    },
    "hues": {
        "lamps": {"centre": "5YR", "width": 70.0, "saturation": 0.3},
        "water": {"centre": "5B", "width": 80.0, "shift": 8.0, "lightness": -0.02},
    },
    "local": {
        "sky": {
            "where": {"gradient": {"full": [0.5, 0.0], "none": [0.5, 0.55]}},
            "white_balance": {"shift": -12.0},
            "exposure": {"stops": -0.7},
        }
    },
}

FRAMED = EVERY_STAGE | {"framing": {"straighten": 2.0}}

CORRECTED = FRAMED | {
    "lens": {
        "numbers": {
            "distortion": {"radial": [1.0, 0.0, -0.03]},
            "red": {"radial": [1.0002, 0.0, 0.0003]},
            "blue": {"radial": [0.9998, 0.0, -0.0003]},
            "vignetting": {"fall": [-0.5, 0.2, -0.05]},
        }
    }
}

EVERYTHING = FRAMED | {
    "fringes": {"width": 8.0},
    "denoise": {"luminance": 0.7},
    "deblur": {"amount": 0.8},
    "local_contrast": {"amount": 0.3},
    "vignette": {"stops": -0.3},
    "grain": {"deviation": 1.0},
}


def write_raw(path, name="harbour_07.dng", compression=None):
    """A demo frame mirrored to 24 Mpx, the phase of its mosaic kept."""
    with rawpy.imread(str(DEMO / name)) as raw:
        mosaic, white = raw.raw_image_visible.copy(), raw.white_level
        black, neutral = raw.black_level_per_channel, 1 / np.array(raw.camera_whitebalance[:3])
    mosaic = mosaic[: mosaic.shape[0] // 2 * 2 - 1, : mosaic.shape[1] // 2 * 2 - 1]
    padding = [(0, ROWS - mosaic.shape[0]), (0, COLUMNS - mosaic.shape[1])]
    frame = open_frame(DEMO / name)
    matrices = [c.xyz_to_camera for c in frame.facts.camera.calibrations]
    dng.write_dng(
        path,
        np.pad(mosaic, padding, mode="reflect"),
        white=white,
        black=tuple(black),
        color_matrix1=matrices[0],
        illuminant1="A",
        color_matrix2=matrices[-1],
        illuminant2="D65",
        as_shot_neutral=neutral / neutral.max(),
        compression=compression,
    )


def unpack(path):
    with rawpy.imread(str(path)) as raw:
        return raw.raw_image_visible.copy()


def libraw(path, method):
    with rawpy.imread(str(path)) as raw:
        return raw.postprocess(
            demosaic_algorithm=rawpy.DemosaicAlgorithm[method],
            output_bps=16,
            gamma=(1, 1),
            no_auto_bright=True,
            adjust_maximum_thr=0.0,
            user_flip=0,
        )


def read_all(frame):
    """Develop every tile and throw it away, on two threads."""
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda tile: frame.pixels.read(tile)[0, 0, 0], frame.region.tiles(*TILE)))


def whole(path, recipe, output):
    frame = open_frame(path)
    picture = render(frame, recipe, output)
    return encode_jpeg(picture.array, icc_profile(output.space), frame.exif, output.quality)


class InMemory:
    """Pixels that are there already, to time grading without developing."""

    def __init__(self, planes, pixels):
        self.planes = planes
        self.height, self.width = planes.shape[1:]
        self.reduced = pixels.reduced

    def read(self, region):
        return region.cut(self.planes, Region.whole(self.height, self.width))


def timed(task):
    """Seconds by the clock, and of all processors together."""
    wall, cpu = time.perf_counter(), time.process_time()
    task()
    return time.perf_counter() - wall, time.process_time() - cpu


def stage_times(plan, planes, output):
    """Milliseconds a Mpx and core for each step, on one tile that stays in the cache."""
    rows, columns = TILE
    tile = Region(1024, 1024 + rows, 2048, 2048 + columns)
    pixels = tile.cut(planes, plan.frame)
    for step in plan.steps:
        one = replace(plan, steps=(step,), frame=tile)
        name = step.stage.name + (" (local)" if step.where is not None else "")
        yield name, best(lambda: Descent(one).apply(pixels, tile, tile))  # noqa: B023
        pixels = Descent(one).apply(pixels, tile, tile)
    arguments = (gamut(output.space), transfer.coefficients(output.curve))
    codes = np.empty((rows, columns, 3), np.uint8)
    yield "to codes", best(lambda: kernels.output.to_codes(pixels, *arguments, codes, 0, 0, True))
    yield from sampling_times(pixels)


def sampling_times(pixels):
    """Nanoseconds a pixel and core of a turn by 2 degrees."""
    rows, columns = TILE
    work = Turned(View(columns, rows, straighten=2.0), columns, rows, ahead=rows)
    top, bottom, left, right = work.needed
    work.light[:, : bottom - top, : right - left] = pixels[:, top:bottom, left:right]
    pieces = work.passing.rest()
    yield "turned", best(lambda: [work.piece(piece) for piece in pieces])


def best(task, times=40):
    return min(timed(task)[0] for _ in range(times)) / (TILE[0] * TILE[1]) * 1e9


def peak_memory(path):
    """Peak resident MiB of a fresh process that renders the raw to a JPEG."""
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import bench;"
        "bench.whole(sys.argv[2], bench.recipe_from_mapping(bench.EVERY_STAGE, 'bench'),"
        " bench.Output());"
        "print(bench.peak_of_this_process())"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(HERE), str(path)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(run.stdout)


def peak_of_this_process():
    """MiB; from the kernel, since what `resource` says includes the parent's before the start."""
    status = Path("/proc/self/status")
    if not status.exists():
        return float("nan")
    line = next(row for row in status.read_text().splitlines() if row.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def batch(path, folder, recipe, output, frames=6):
    """Render copies of the raw in one batch; seconds for each frame once it is under way."""
    jobs = []
    for n in range(frames):
        original = folder / f"copy{n}.dng"
        if not original.exists():
            os.link(path, original)
        jobs.append(Job(original, recipe, (Target(folder / f"{n}.jpg", output),)))
    for outcome in render_all(jobs, overwrite=True):
        assert outcome.error is None, outcome.error


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--skip-numpy", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        run(Path(folder) / "bench.dng", options)


def run(path, options):
    quiet, packed = path.with_name("quiet.dng"), path.with_name("packed.dng")
    write_raw(path)
    write_raw(packed, compression="ljpeg")
    write_raw(quiet, "harbour_01.dng")
    looks = EVERY_STAGE, FRAMED, CORRECTED, EVERYTHING
    recipe, framed, corrected, everything = (recipe_from_mapping(look, "bench") for look in looks)
    output = Output()
    frame = open_frame(path)
    planes = frame.pixels.read(frame.region)
    developed = type(frame)(frame.facts, InMemory(planes, frame.pixels), None)
    picture = render(frame, recipe, output)
    tasks = {
        "unpack (LibRaw)": lambda: unpack(path),
        "unpack (LibRaw), packed": lambda: unpack(packed),
        "open_frame": lambda: open_frame(path),
        "open_frame, packed": lambda: open_frame(packed),
        "develop: tiles to camera RGB": lambda: read_all(frame),
        "grade: camera RGB to codes": lambda: render(developed, recipe, output),
        "encode (JPEG)": lambda: encode_jpeg(picture.array, None, None, output.quality),
        "raw to JPEG, ISO 1600": lambda: whole(path, recipe, output),
        "raw to JPEG, ISO 1600, framed": lambda: whole(path, framed, output),
        "raw to JPEG, ISO 1600, framed and corrected": lambda: whole(path, corrected, output),
        "raw to JPEG, ISO 1600, everything on": lambda: whole(path, everything, output),
        "raw to JPEG, ISO 1600, packed": lambda: whole(packed, recipe, output),
        "raw to JPEG, ISO 100": lambda: whole(quiet, recipe, output),
        "LibRaw PPG decode": lambda: libraw(path, "PPG"),
        "LibRaw AHD decode": lambda: libraw(path, "AHD"),
        "LibRaw DHT decode": lambda: libraw(path, "DHT"),
    }
    seconds = {name: [] for name in [*tasks, "a frame of a batch of 6, ISO 1600"]}
    for _ in range(options.rounds):
        for name, task in tasks.items():
            seconds[name].append(timed(task))
        seconds["a frame of a batch of 6, ISO 1600"].append(
            tuple(s / 6 for s in timed(lambda: batch(path, path.parent, recipe, output)))
        )
    middle = {
        name: tuple(map(statistics.median, zip(*v, strict=True))) for name, v in seconds.items()
    }
    plan = make_plan(resolve(recipe, frame), frame)
    if not options.skip_numpy:
        middle["grade in whole-frame NumPy"] = timed(lambda: plain(planes, plan, output))
    report(middle, plan, planes, output, peak_memory(path))


def plain(planes, plan, output):
    return numpy_chain.to_codes(numpy_chain.grade(planes, plan), output)


def report(middle, plan, planes, output, memory):
    ahd = middle["LibRaw AHD decode"]
    print(f"{MPX:.0f} Mpx on {os.cpu_count()} cores, medians; busy: of all cores together\n")
    print("| what | s | ms/Mpx | of AHD | busy s | busy, of AHD |\n|---|---|---|---|---|---|")
    for name, (wall, cpu) in middle.items():
        print(
            f"| {name} | {wall:.3f} | {1000 * wall / MPX:.1f} | {wall / ahd[0]:.2f} "
            f"| {cpu:.3f} | {cpu / ahd[1]:.2f} |"
        )
    print("\n| step | ns a pixel and core |\n|---|---|")
    for name, value in stage_times(plan, planes, output):
        print(f"| {name} | {value:.2f} |")
    if "grade in whole-frame NumPy" in middle:
        grade = middle["grade: camera RGB to codes"][0]
        print(f"\nNumPy / grade: {middle['grade in whole-frame NumPy'][0] / grade:.1f}")
    wall, cpu = middle["a frame of a batch of 6, ISO 1600"]
    print(f"a batch keeps the cores {cpu / wall / os.cpu_count():.0%} busy")
    print(f"peak memory of raw to JPEG: {memory:.0f} MiB")


if __name__ == "__main__":
    main()
