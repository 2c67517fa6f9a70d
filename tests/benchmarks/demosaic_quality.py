"""Fidelity of the demosaicing beside published methods and LibRaw's, on pictures that are known.

    python tests/benchmarks/demosaic_quality.py [--earlier CHECKOUT] [--pictures DIR]

Prints CPSNR in decibels (one mean square error for the three colours, clipped to 0 and 1, a
border of 10 pixels left out) on RGGB mosaics of scikit-image's photographs, whose codes are taken
for linear light: without noise, and at a meter's level with the noise of two frames of the demo
set; and on the darker of these frames itself, made again with its truth. "No mosaic" is the same
noise on all three colours of each pixel. Then the same of our own night pictures (discs, neon,
a skyline), beside every method of LibRaw, and the largest errors on coloured discs. With --earlier,
beside what the package of another checkout makes of them, too. With --pictures, writes a zone plate
and night pictures as each method makes them, and clipped lamps before and after their light is
rebuilt.

The published methods are those of the package colour-demosaicing.
"""

import argparse
import importlib.util
import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "demo_images")]

import imageio.v3 as iio
import rawpy

import dng
from grading.develop.libraw import demosaic_libraw
from kernels import night
from kernels.raws import (
    BLACK,
    DEMO_BLACK,
    DEMO_RANGE,
    METERED,
    PHOTOGRAPHS,
    WHITE,
    counts,
    demo_noise,
    demo_scene,
    develop,
    developed,
    lamp,
    noisy,
    photograph,
    psnr,
    published,
    sample,
    zone_plate,
)

NOISY_FRAMES = {"harbour_06.dng": 800, "harbour_08.dng": 3200}
NEEDED = ("colour_demosaicing", "skimage")
NIGHT_FRAMES = {"harbour_01.dng": 100, **NOISY_FRAMES}
NIGHT = {
    f"{make.__name__} {seed}": partial(make, seed)
    for make in (night.discs, night.neon, night.skyline)
    for seed in (11, 12)
}
RADII = (3, 4, 6, 12)
EARLIER = """
import sys
checkout, mosaic, picture, *noise = sys.argv[1:]
sys.path[:0] = [checkout, checkout + "/tests"]
import numpy as np
from kernels.raws import develop
np.save(picture, develop(np.load(mosaic), noise=tuple(map(float, noise))))
"""


def ours(mosaic, noise, balance=(1, 1, 1)):
    """Counts to signal, by this package."""
    return develop(mosaic, balance, noise=noise)


def by_libraw(mosaic, noise, algorithm):
    """Counts to signal, by LibRaw out of a DNG; black is left in, so that noise is not cut off."""
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "mosaic.dng")
        dng.write_dng(
            path, mosaic, white=WHITE, black=(BLACK,) * 4, color_matrix1=np.eye(3),
            illuminant1="D65", as_shot_neutral=(1, 1, 1),
        )  # fmt: skip
        with rawpy.imread(path) as raw:
            codes = demosaic_libraw(
                raw,
                demosaic_algorithm=rawpy.DemosaicAlgorithm[algorithm],
                user_black=0,
                user_cblack=[0, 0, 0, 0],
            )
    return (codes.transpose(2, 0, 1) / 65535 * WHITE - BLACK) / (WHITE - BLACK)


def by_paper(mosaic, noise, name):
    """Counts to signal, by a published method."""
    return published(name, (mosaic.astype(float) - BLACK) / (WHITE - BLACK))


def by_earlier(mosaic, noise, checkout):
    """Counts to signal, by the package of another checkout."""
    with tempfile.TemporaryDirectory() as folder:
        paths = [str(Path(folder) / name) for name in ("mosaic.npy", "picture.npy")]
        np.save(paths[0], mosaic)
        command = [sys.executable, "-c", EARLIER, str(checkout), *paths, *map(str, noise)]
        environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
        subprocess.run(command, env=environment, check=True)
        return np.load(paths[1])


METHODS = {
    "bilinear": partial(by_paper, name="bilinear"),
    "Malvar, He, Cutler 2004": partial(by_paper, name="Malvar2004"),
    "Menon, Andriani, Calvagno 2007": partial(by_paper, name="Menon2007"),
    "LibRaw AHD": partial(by_libraw, algorithm="AHD"),
    "LibRaw DHT": partial(by_libraw, algorithm="DHT"),
    "ours": ours,
}
NIGHT_METHODS = {
    "Menon, Andriani, Calvagno 2007": METHODS["Menon, Andriani, Calvagno 2007"],
    **{
        f"LibRaw {name}": partial(by_libraw, algorithm=name)
        for name in ("VNG", "PPG", "AHD", "AAHD", "DCB", "DHT")
    },
    "ours": ours,
}


def table(share, noise):
    """Method to CPSNR on each photograph, at a share of its light and made noisy; and the mean."""
    rows = {name: [] for name in METHODS}
    if any(noise):
        rows["no mosaic"] = []
    for name in PHOTOGRAPHS:
        truth = photograph(name) * share
        mosaic = counts(noisy(sample(truth), *noise))
        for method, develop_by in METHODS.items():
            rows[method].append(psnr(develop_by(mosaic, noise), truth))
        if any(noise):
            rows["no mosaic"].append(psnr(noisy(truth, *noise), truth))
    return {name: [*values, np.mean(values)] for name, values in rows.items()}


def scene_table(number):
    """Method to CPSNR on a frame of the demo set."""
    truth, mosaic, noise, balance = demo_scene(number)
    mosaic = counts((mosaic - float(DEMO_BLACK)) / DEMO_RANGE)
    methods = METHODS | {"ours": partial(ours, balance=balance)}
    return {name: [psnr(by(mosaic, noise), truth)] for name, by in methods.items()}


def night_table(methods, noise):
    """Method to CPSNR on each night picture, made noisy; and the mean."""
    rows = {name: [] for name in methods}
    for make in NIGHT.values():
        truth = make()
        mosaic = counts(noisy(sample(truth), *noise))
        for name, develop_by in methods.items():
            rows[name].append(psnr(develop_by(mosaic, noise), truth))
    return {name: [*values, np.mean(values)] for name, values in rows.items()}


def disc_table(develop_by, noise):
    """Colour to the largest error on a disc, in per cent of its light, the mean of four places."""
    rows = {}
    for colour in night.LIGHTS:
        truth = night.sheet(colour, RADII)
        picture = develop_by(counts(noisy(sample(truth), *noise)), noise)
        error = np.abs(np.clip(picture, 0, 1) - truth).max(0) / truth.max()
        side = len(error) // len(RADII)
        error = error.reshape(len(RADII), side, -1, side).max((1, 3))
        rows[colour] = 100 * error.mean(1)
    return rows


def print_night(methods):
    """All that is measured on night pictures."""
    speeds = {"Without noise": (0, 0)} | {
        f"Noise of {frame} (ISO {speed})": demo_noise(frame)
        for frame, speed in NIGHT_FRAMES.items()
    }
    for title, noise in speeds.items():
        print_table(f"Night. {title}", (*NIGHT, "mean"), night_table(methods, noise))
    columns = [f"radius {radius}" for radius in RADII]
    for name in ("earlier", "LibRaw DHT", "ours"):
        if name not in methods:
            continue
        title = f"Largest error on a disc, % of its light: {name}"
        print_table(title, columns, disc_table(methods[name], (0, 0)), "colour", 0)


def print_table(title, columns, rows, corner="CPSNR, dB", digits=2):
    """A table in Markdown."""
    print(f"\n{title}\n\n| {corner} | {' | '.join(columns)} |")
    print("|---|" + "---:|" * len(columns))
    for method, values in rows.items():
        print(f"| {method} | {' | '.join(f'{value:.{digits}f}' for value in values)} |", flush=True)


def write_pictures(folder, night_methods):
    """Zone plates, night pictures and lamps as PNG, coded with a square root."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in NIGHT.items():
        truth = make()
        _write(folder / f"{name}, known.png", truth)
        for method, develop_by in night_methods.items():
            picture = develop_by(counts(sample(truth)), (0, 0))
            _write(folder / f"{name}, {method.split(',')[0].lower()}.png", picture)
    rings, _ = zone_plate()
    mosaic = counts(sample(np.stack([rings] * 3)))
    for method, develop_by in METHODS.items():
        name = "zone plate, " + method.split(",")[0].lower()
        _write(folder / f"{name}.png", develop_by(mosaic, (0, 0)))
    tints = {"white": (1, 1, 1), "sodium": (1.6, 0.9, 0.35), "blue": (0.5, 0.8, 1.6)}
    for tint, values in tints.items():
        light = lamp(values)
        clipped, rebuilt, _ = developed(light)
        for state, picture in (("known", light), ("clipped", clipped), ("rebuilt", rebuilt)):
            _write(folder / f"lamp {tint}, {state}.png", picture / light.max())


def _write(path, picture):
    codes = np.rint(255 * np.sqrt(np.clip(picture, 0, 1))).astype(np.uint8)
    iio.imwrite(path, codes.transpose(1, 2, 0))


def main():
    """Print the tables and write the pictures that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--earlier", type=Path, metavar="CHECKOUT", help="compare with this, too")
    parser.add_argument("--pictures", type=Path, metavar="DIR", help="where to write pictures")
    options = parser.parse_args()
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        parser.error(f"not installed: {', '.join(missing)} (colour-demosaicing, scikit-image)")
    columns = (*PHOTOGRAPHS, "mean")
    print_table("Without noise", columns, table(1, (0, 0)))
    for frame, speed in NOISY_FRAMES.items():
        title = f"At a meter's level, noise of {frame} (ISO {speed})"
        print_table(title, columns, table(METERED, demo_noise(frame)))
    print_table("Demo frame harbour_08.dng (ISO 3200)", ["frame"], scene_table(8))
    earlier = {"earlier": partial(by_earlier, checkout=options.earlier)} if options.earlier else {}
    print_night(earlier | NIGHT_METHODS)
    if options.pictures:
        write_pictures(options.pictures, earlier | NIGHT_METHODS)


if __name__ == "__main__":
    main()
