"""Fidelity of the demosaicing beside published methods and LibRaw's, on pictures that are known.

    python tests/benchmarks/demosaic_quality.py [--pictures DIR]

Prints CPSNR in decibels (one mean square error for the three colours, clipped to 0 and 1, a
border of 10 pixels left out) on RGGB mosaics of scikit-image's photographs, whose codes are taken
for linear light: without noise, and at a meter's level with the noise of two frames of the demo
set; and on the darker of these frames itself, made again with its truth. "No mosaic" is the same
noise on all three colours of each pixel. With --pictures, writes a zone plate as each method makes
it, and clipped lamps before and after their light is rebuilt.

The published methods are those of the package colour-demosaicing.
"""

import argparse
import importlib.util
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


METHODS = {
    "bilinear": partial(by_paper, name="bilinear"),
    "Malvar, He, Cutler 2004": partial(by_paper, name="Malvar2004"),
    "Menon, Andriani, Calvagno 2007": partial(by_paper, name="Menon2007"),
    "LibRaw AHD": partial(by_libraw, algorithm="AHD"),
    "LibRaw DHT": partial(by_libraw, algorithm="DHT"),
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


def print_table(title, columns, rows):
    """A table in Markdown."""
    print(f"\n{title}\n\n| CPSNR, dB | {' | '.join(columns)} |")
    print("|---|" + "---:|" * len(columns))
    for method, values in rows.items():
        print(f"| {method} | {' | '.join(f'{value:.2f}' for value in values)} |")


def write_pictures(folder):
    """Zone plates and lamps as PNG, coded with a square root."""
    folder.mkdir(parents=True, exist_ok=True)
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
    if options.pictures:
        write_pictures(options.pictures)


if __name__ == "__main__":
    main()
