"""How well clipped highlights are rebuilt, before and after, where what clipped is known.

    python tests/benchmarks/highlights.py [--scenes NAME ...] [--before COMMIT] [--pictures DIR]

Each scene is seen by a simulated sensor with a limit, developed by an earlier commit (from a git
worktree that is made for it) and by this one, pulled down by 1, 2 and 3 stops beside what a sensor
without a limit saw, shown with a shoulder from 0.6, and compared in Oklab:

- error: mean distance where any channel clips;
- core: the same where all clip;
- level, colour: its lightness, and its chroma and hue, by themselves;
- hue: median difference of hue in degrees where any channel clips and there is chroma;
- rim: mean distance within 3 pixels about what clips;
- edge: mean difference of slope at the edge of where all clip, times 100;
- glow: mean error of colour 3 to 6 pixels from small dark things in what clips.

Lamps are told apart by radius, too. With --pictures, writes crops at 300 %: the truth, before,
after. Scenes marked * were kept out of all tuning.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(Path(__file__).parent), str(ROOT / "tests"), str(ROOT / "demo_images")]

BEFORE = "1c8a67a"
PULLED = (1, 2, 3)
CLIPPED = 0.985
DEVELOP = """
import sys
import numpy as np
from grading.develop.mosaic import MosaicPixels
from grading.kernels.raw.highlights import highlight_guide
from grading.region import Region
from kernels.raws import sensor
for name in sys.argv[1:]:
    made = np.load(name + ".in.npz")
    mosaic, gains = made["mosaic"], np.float32(made["gains"])
    facts = sensor(mosaic.shape, noise=tuple(made["noise"]))
    pixels = MosaicPixels(mosaic, facts, gains, highlight_guide(mosaic, facts, gains), 1)
    np.save(name + ".out.npy", pixels.read(Region.whole(*mosaic.shape)))
"""


def developed(scenes, root, folder):
    """Camera RGB of scenes by the code in a folder."""
    names = [str(folder / str(k)) for k in range(len(scenes))]
    for name, scene in zip(names, scenes, strict=True):
        if not Path(name + ".in.npz").exists():
            np.savez(name + ".in.npz", mosaic=scene.mosaic(), gains=scene.gains, noise=scene.noise)
    path = os.pathsep.join((str(root), str(root / "tests"), str(root / "demo_images")))
    environment = os.environ | {"PYTHONPATH": path}
    subprocess.run([sys.executable, "-c", DEVELOP, *names], check=True, cwd=folder, env=environment)
    return [np.load(name + ".out.npy").astype(float) for name in names]


def shown(scene, camera, stops):
    """Oklab of camera RGB pulled down, after a shoulder."""
    from grading.colour import oklab

    balanced = camera * scene.gains[:, None, None] * 2.0**-stops
    light = np.maximum(np.tensordot(scene.to_working, balanced, axes=1), 0)
    light = np.where(light < 0.6, light, 1 - 0.4 * np.exp(-np.maximum(light - 0.6, 0) / 0.4))
    return oklab.working_to_oklab(light.transpose(1, 2, 0))


def places(scene):
    """Masks: any channel clipped, all, about what clips, the edge of all, near dark things."""
    from scipy.ndimage import binary_dilation, binary_erosion

    clipped = scene.light > CLIPPED
    some, everything = clipped.any(0), clipped.all(0)
    rim = binary_dilation(some, iterations=3) & ~binary_erosion(some, iterations=3)
    edge = binary_dilation(everything, iterations=2) & ~binary_erosion(everything, iterations=2)
    near = binary_dilation(scene.dark, iterations=6) & ~binary_dilation(scene.dark, iterations=3)
    return some, everything, rim, edge, near & some


def measures(scene, camera, stops, masks):
    """The columns of the table, NaN where there is no such place."""
    truth, made = shown(scene, scene.light, stops), shown(scene, camera, stops)
    apart = made - truth
    distance, colour = np.linalg.norm(apart, axis=-1), np.linalg.norm(apart[..., 1:], axis=-1)
    turn = hue_turn(truth, made)
    slopes = np.linalg.norm(np.stack(np.gradient(apart, axis=(0, 1))), axis=(0, -1))
    some, everything, rim, edge, near = masks
    coloured = some & (np.hypot(truth[..., 1], truth[..., 2]) > 0.02)
    return (
        mean(distance, some), mean(distance, everything), mean(np.abs(apart[..., 0]), some),
        mean(colour, some), np.median(turn[coloured]) if coloured.any() else np.nan,
        mean(distance, rim), 100 * mean(slopes, edge), mean(colour, near),
    )  # fmt: skip


COLUMNS = ("error", "core", "level", "colour", "hue", "rim", "edge", "glow")


def mean(values, mask):
    """NaN where there is none."""
    return values[mask].mean() if mask.any() else np.nan


def hue_turn(truth, made):
    """Difference of hue in degrees, 0 to 180."""
    hues = [np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) for lab in (truth, made)]
    return np.abs((hues[1] - hues[0] + 180) % 360 - 180)


def print_scene(scene, before, after):
    """A row for each time that it is pulled down, before / after."""
    masks, rows = places(scene), []
    for stops in PULLED:
        pair = [measures(scene, camera, stops, masks) for camera in (before, after)]
        rows.append(pair)
        print_row(scene, f"-{stops}", pair)
    return np.mean(rows, axis=0)


def print_row(scene, what, pair):
    name = scene.name + ("*" if scene.held else "")
    cells = [
        "" if np.isnan(b) else f"{b:.1f} / {a:.1f}" if c == "hue" else f"{b:.3f} / {a:.3f}"
        for c, b, a in zip(COLUMNS, *pair, strict=True)
    ]
    print(f"| {name} | {what} | " + " | ".join(cells) + " |", flush=True)


def print_lamps(scene, before, after):
    """Lamps by radius, 1 stop down: error, colour and hue over all tints."""
    from highlight_scenes import RADII

    some = places(scene)[0]
    found = {}
    for k, (row, column) in enumerate(scene.lamps):
        radius = RADII[k % len(RADII)]
        part = slice(row - 70, row + 70), slice(column - 70, column + 70)
        for camera in (before, after):
            found.setdefault(radius, []).append(lamp_measures(scene, camera, part, some[part]))
    print(f"\n{scene.name}, by radius, 1 stop down\n")
    print("| radius | error | colour | hue |\n|---|---|---|---|")
    for radius, rows in found.items():
        b, a = np.nanmean(rows[::2], axis=0), np.nanmean(rows[1::2], axis=0)
        cells = [f"{b[k]:.3f} / {a[k]:.3f}" for k in range(2)]
        print(f"| {radius} | {cells[0]} | {cells[1]} | {b[2]:.1f} / {a[2]:.1f} |")
    print(flush=True)


def lamp_measures(scene, camera, part, some):
    """Mean error, that of colour, and the difference between the hues of the lamp's mean light."""
    truth, made = (shown(scene, each[:, *part], 1)[some] for each in (scene.light, camera))
    apart, means = made - truth, [lab.mean(0) for lab in (truth, made)]
    hue = hue_turn(*means) if np.hypot(*means[0][1:]) > 0.02 else np.nan
    return (
        np.linalg.norm(apart, axis=-1).mean(), np.linalg.norm(apart[:, 1:], axis=-1).mean(), hue
    )  # fmt: skip


def write_crops(folder, scene, before, after, stops=2):
    """Truth, before and after beside each other (what is wide, above each other), at 300 %."""
    import imageio.v3 as iio

    from grading.colour import oklab, spaces

    to_srgb = spaces.rgb_to_rgb(spaces.WORKING, spaces.SPACES["srgb"])
    folder.mkdir(parents=True, exist_ok=True)
    for k, (top, bottom, left, right) in enumerate(scene.crops):
        parts = [each[:, top:bottom, left:right] for each in (scene.light, before, after)]
        labs = [shown(scene, part, stops) for part in parts]
        lab = np.concatenate(labs, axis=int(right - left < 4 * (bottom - top)))
        light = np.clip(oklab.oklab_to_working(lab) @ to_srgb.T, 0, 1)
        codes = np.where(light < 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        codes = np.rint(255 * codes).astype(np.uint8).repeat(3, 0).repeat(3, 1)
        iio.imwrite(folder / f"{scene.name} {k}.png", codes)


def worktree(commit, folder):
    """The code of an earlier commit, in a worktree of its own."""
    subprocess.run(
        ["git", "-C", str(ROOT), "worktree", "add", "--detach", "--force", str(folder), commit],
        check=True, capture_output=True,
    )  # fmt: skip
    return folder


def main():
    """Print the tables and write the pictures that are asked for."""
    from highlight_scenes import SCENES

    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--scenes", nargs="+", choices=SCENES, default=list(SCENES), metavar="NAME")
    parser.add_argument("--before", default=BEFORE, metavar="COMMIT")
    parser.add_argument("--pictures", type=Path, metavar="DIR")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        scenes, folder = [SCENES[name]() for name in options.scenes], Path(folder)
        earlier = worktree(options.before, folder / "earlier")
        try:
            before = developed(scenes, earlier, folder)
        finally:
            subprocess.run(
                ["git", "-C", str(ROOT), "worktree", "remove", "--force", str(earlier)], check=True
            )
        after = developed(scenes, ROOT, folder)
    print("| before / after | stops | " + " | ".join(COLUMNS) + " |")
    print("|---" * (len(COLUMNS) + 2) + "|")
    made = list(zip(scenes, before, after, strict=True))
    means = [print_scene(*each) for each in made]
    for scene, pair in zip(scenes, means, strict=True):
        print_row(scene, "mean", pair)
    for each in made:
        if each[0].name.startswith("lamps"):
            print_lamps(*each)
        if options.pictures:
            write_crops(options.pictures, *each)


if __name__ == "__main__":
    main()
