"""What is left of the noise, and of the picture, after noise reduction.

    python tests/benchmarks/noise_reduction.py [--package DIR] [--part PART]

Frames are made of known light, recorded by the demo camera with its noise, developed by the package
and graded: without noise reduction, by default, and with all of it. --package takes the package of
another checkout, by its defaults, to compare with an earlier state. Parts are flat grey by speed
(``flat``), colour noise by its coarseness (``scales``), luminance's noise over tones by grade
(``even``), colour beside edges (``edges``), small lights (``lamps``), and photographs of
scikit-image (``pictures``), of which constants were tuned on the first four only. There two of
scikit-image's own reductions, of which one needs PyWavelets, do the same.
"""

import argparse
import sys
from dataclasses import replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_images" / "harbour_01.dng"
if "--package" in sys.argv:
    sys.path.insert(0, sys.argv[sys.argv.index("--package") + 1])

from grading.colour import oklab, spaces
from grading.develop.mosaic import MosaicPixels
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.files.originals import open_frame
from grading.frame import Frame, Noise
from grading.kernels.raw.mosaic import Sensor
from grading.recipe.load import recipe_from_mapping

WHITE, BLACK, WELL, READ, CONVERTER = 16383, 512, 52000.0, 2.4, 1.6
"""Counts, electrons at ISO 100, electrons and counts of the demo camera."""
GREY = 0.18
LUMINANCE = np.array([0.2627, 0.6780, 0.0593])
REC_709 = np.array([0.2126, 0.7152, 0.0722])
TO_SRGB = spaces.xyz_to_rgb(spaces.SPACES["srgb"]) @ spaces.rgb_to_xyz(spaces.WORKING)


def noise_of(iso):
    """Gain and offset of the demo camera's noise."""
    gain = (WHITE - BLACK) / (WELL * 100 / iso)
    read = np.hypot(READ * gain, CONVERTER)
    return Noise(gain / (WHITE - BLACK), (read / (WHITE - BLACK)) ** 2)


@cache
def camera():
    """Facts of a demo frame, and its matrix from camera to working light."""
    facts = open_frame(DEMO).facts
    original = Frame(facts, None)
    plan = make_plan(resolve(recipe(), original), replaced(original, None))
    return facts, plan.steps[0].constants.astype(float)


def replaced(original, noise):
    return replace(original, facts=replace(original.facts, noise=noise))


def recipe(**keys):
    return recipe_from_mapping({"grading": 1, "title": "noise", **keys}, "noise")


def shoot(light, iso, stops=0.0, seed=1):
    """A frame of working light (3, rows, columns), recorded so many stops from it."""
    facts, matrix = camera()
    rng = np.random.default_rng(seed)
    seen = np.tensordot(np.linalg.inv(matrix), light * 2.0**stops, 1)
    rows, columns = light.shape[1:]
    mosaic = seen[1].copy()
    mosaic[::2, ::2], mosaic[1::2, 1::2] = seen[0, ::2, ::2], seen[2, 1::2, 1::2]
    well, gain = WELL * 100 / iso, (WHITE - BLACK) / (WELL * 100 / iso)
    electrons = rng.poisson(np.clip(mosaic, 0, 1.2) * well)
    counts = electrons * gain + rng.normal(0, np.hypot(READ * gain, CONVERTER), mosaic.shape)
    counts = np.clip(np.rint(counts + BLACK), 0, WHITE).astype(np.uint16)
    levels = np.full(4, BLACK, np.float32), np.full(4, 1 / (WHITE - BLACK), np.float32)
    lines = np.zeros(rows, np.float32), np.zeros(columns, np.float32)
    noise = noise_of(iso)
    sensor = Sensor((0, 0), *levels, *lines, tuple(noise))
    neutral = facts.camera.neutral
    pixels = MosaicPixels(counts, sensor, np.float32(neutral[1] / neutral), None, 1)
    return Frame(replace(facts, width=columns, height=rows, noise=noise), pixels)


def graded(frame, **keys):
    """Working light of the picture."""
    plan = make_plan(resolve(recipe(**keys), frame), frame)
    out = np.empty((3, *frame.region.shape), np.float32)
    for tile in frame.region.tiles(256, 1024):
        out[:, tile.top : tile.bottom, tile.left : tile.right] = taken_through(plan, tile)
    return oklab.oklab_to_working(np.moveaxis(out, 0, -1).astype(float)).transpose(2, 0, 1)


def colours(light):
    """Luminance, and red and blue less it."""
    y = np.tensordot(LUMINANCE, light, 1)
    return y, light[0] - y, light[2] - y


def blocks(plane, size):
    rows, columns = (n // size for n in plane.shape)
    return plane[: rows * size, : columns * size].reshape(rows, size, columns, size).mean((1, 3))


def deviation(plane, size):
    """Of means of size x size pixels."""
    return blocks(plane, size).std()


def colour_noise(light, size):
    _, u, v = colours(light)
    return np.hypot(deviation(u, size), deviation(v, size))


def in_a_table(title, columns, rows):
    print(f"\n{title}\n\n| {' | '.join(columns)} |\n|{'---|' * len(columns)}", flush=True)
    for row in rows:
        print(
            "| " + " | ".join(f"{v:.3g}" if isinstance(v, float) else str(v) for v in row) + " |",
            flush=True,
        )


def flat(modes):
    """Deviation of luminance and of colour of a flat grey, in percent of it, by speed."""
    inside = np.s_[:, 32:-32, 32:-32]
    for mode, keys in modes.items():
        rows = []
        for third in range(-3, 22):
            iso = 100 * 2 ** (third / 3)
            light = graded(shoot(np.full((3, 200, 4160), GREY), iso), **keys)[inside]
            values = [deviation(colours(light)[0], 1), *(colour_noise(light, k) for k in (1, 8))]
            rows.append([f"{iso:.0f}", *(100 / GREY * v for v in values)])
        in_a_table(f"Flat grey, {mode}: % of grey", ("ISO", "luminance", "colour", "of 8 px"), rows)


SIGNALS = {
    "grey": (0.09, 0.09, 0.09), "dark grey": (0.006, 0.006, 0.006), "skin": (0.12, 0.07, 0.05),
    "dusk sky": (0.01, 0.016, 0.035), "sodium": (0.05, 0.02, 0.003),
}  # fmt: skip


def scales(modes):
    """Deviation of colour in means of 1, 2, 8 and 32 pixels, by signal, in percent of its light."""
    inside = np.s_[:, 64:-64, 64:-64]
    for iso in (800, 3200, 12800):
        rows = []
        for name, tint in SIGNALS.items():
            frame = shoot(np.full((3, 512, 4224), 1.0) * np.reshape(tint, (3, 1, 1)), iso)
            for mode, keys in modes.items():
                light = graded(frame, **keys)[inside]
                noise = [100 / LUMINANCE.dot(tint) * colour_noise(light, k) for k in (1, 2, 8, 32)]
                rows.append([name, mode, *noise])
        in_a_table(f"Colour, ISO {iso}", ("signal", "", "1 px", "2 px", "8 px", "32 px"), rows)


PAIRS = {
    "red, green": ((0.2, 0.03, 0.02), (0.04, 0.15, 0.03)),
    "blue, orange": ((0.02, 0.03, 0.2), (0.2, 0.08, 0.01)),
    "alike in light": ((0.15, 0.06, 0.05), (0.05, 0.09, 0.15)),
    "dim": ((0.02, 0.008, 0.006), (0.006, 0.012, 0.02)),
}
"""Working light either side of an edge."""


def edges(modes):
    """Error of colour (Oklab a, b) within 4 pixels of an edge a fiftieth off the vertical."""
    y, x = np.indices((300, 4200))
    side = (x - 300 * (x // 300) - 150 - y / 50 + 3 > 0) & (x % 300 < 290)
    distance = np.abs(x % 300 - 150 - y / 50 + 3)
    near = distance < 4
    near[:8], near[-8:] = False, False
    for iso in (800, 3200, 12800):
        rows = []
        for name, pair in PAIRS.items():
            first, second = (np.reshape(colour, (3, 1, 1)) for colour in pair)
            truth = np.where(side, second, first)
            frame, errors = shoot(truth, iso), []
            for keys in modes.values():
                error = lab(graded(frame, **keys)) - lab(truth)
                errors.append(float(np.sqrt(np.square(error[1:, near]).sum(0).mean())))
            rows.append([name, *errors])
        in_a_table(f"Colour within 4 px of an edge, ISO {iso}", ("pair", *modes), rows)


def lab(light):
    return oklab.working_to_oklab(np.moveaxis(light, 0, -1)).transpose(2, 0, 1)


def lamps(modes):
    """Share of their flux that small lights keep: means of red, green, blue and the least."""
    y, x = np.indices((400, 4200))
    for iso in (800, 3200, 12800):
        rows = []
        for spread, tint in ((0.7, (1, 1, 1)), (0.7, (1, 0.4, 0.1)), (1.5, (0.3, 0.5, 1))):
            places = np.square((y % 40) - 20.3) + np.square((x % 40) - 19.6)
            for height in (5, 20):
                peak = height * np.sqrt(noise_of(iso).variance(0.01))
                star = peak * np.exp(-places / (2 * spread**2)) * np.reshape(tint, (3, 1, 1))
                night = np.full((3, *y.shape), 0.01)
                frames = shoot(night + star, iso), shoot(night, iso)
                for mode, keys in modes.items():
                    flux = (graded(frames[0], **keys) - graded(frames[1], **keys)).mean((1, 2))
                    rows.append(
                        [f"{spread} px {tint}", height, mode, *map(float, flux / star.mean((1, 2)))]
                    )
        in_a_table(
            f"Flux of small lights, ISO {iso}", ("light", "peak / noise", "", "R", "G", "B"), rows
        )


TUNED = ("astronaut", "coffee", "chelsea", "rocket")
HELD_BACK = ("stereo_motorcycle", "retina", "hubble_deep_field", "immunohistochemistry")


def picture(name):
    """Working light of a photograph of scikit-image, at most 512 x 512 pixels."""
    from skimage import data

    image = getattr(data, name)()
    image = image[0] if isinstance(image, tuple) else image
    rows, columns = (min(512, size) // 8 * 8 for size in image.shape[:2])
    top, left = (image.shape[0] - rows) // 2, (image.shape[1] - columns) // 2
    codes = image[top : top + rows, left : left + columns, :3].transpose(2, 0, 1) / 255
    light = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    return np.tensordot(np.linalg.inv(TO_SRGB), light, 1)


def encoded(light):
    """sRGB codes 0..1 (IEC 61966-2-1)."""
    v = np.clip(np.tensordot(TO_SRGB, light, 1), 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def measured(light, truth):
    """PSNR of luma and of Cb and Cr, and mean CIEDE2000, of sRGB codes but for a border."""
    from skimage.color import deltaE_ciede2000, rgb2lab

    ours, exact = encoded(light)[:, 8:-8, 8:-8], encoded(truth)[:, 8:-8, 8:-8]
    y = np.tensordot(REC_709, ours - exact, 1)
    chroma = np.stack([ours[2] - exact[2] - y, ours[0] - exact[0] - y])
    chroma /= np.reshape((1.8556, 1.5748), (2, 1, 1))
    labs = [rgb2lab(v.transpose(1, 2, 0)) for v in (ours, exact)]
    psnr = [-10 * np.log10(np.square(v).mean()) for v in (y, chroma)]
    return [*psnr, deltaE_ciede2000(*labs).mean()]


def by_rival(reduced):
    """A way from a frame to working light, two stops lifted, of something that takes planes whose
    noise has deviation 1: the camera's channels through the root of green's noise, parted into
    luminance and two colours."""
    facts, matrix = camera()
    balance = np.reshape(facts.camera.neutral[1] / facts.camera.neutral, (3, 1, 1))

    def way(frame, iso):
        gain, offset = noise_of(iso)
        level = 3 / 8 * gain**2 + offset
        light = frame.pixels.read(frame.region) * balance
        shift = 2 / gain * np.sqrt(level)
        above = 2 / gain * np.sqrt(gain * np.maximum(light, 0) + level) - shift
        planes = np.tensordot(AXES, np.where(light > 0, above, light / np.sqrt(level)), 1)
        value = np.tensordot(AXES.T, reduced(planes / SPREAD) * SPREAD, 1)
        bent = gain / 4 * np.square(np.maximum(value, 0) + shift) - offset / gain
        bent = np.where(value > 0, bent + gain * (balance / 4 - 3 / 8), value * np.sqrt(level))
        return 4 * np.tensordot(matrix, bent / balance, 1)

    return way


AXES = np.array([[1, 1, 1], [1, 0, -1], [1, -2, 1]]) / np.sqrt([[3], [2], [6]])
SPREAD = np.reshape([1.64, 0.56, 0.40], (3, 1, 1))
"""Deviations of a demosaiced picture's luminance and colours, measured on flat grey."""


def by_patches(planes):
    from skimage.restoration import denoise_nl_means

    settings = dict(patch_size=5, patch_distance=6, h=1.2, channel_axis=0)
    return denoise_nl_means(planes, **settings)


def by_wavelets(planes):
    from skimage.restoration import denoise_wavelet

    settings = dict(sigma=1.0, method="BayesShrink", mode="soft", wavelet="db2")
    return np.stack([denoise_wavelet(plane, **settings) for plane in planes])


RIVALS = {"skimage NLM": by_rival(by_patches)}
if find_spec("pywt"):
    RIVALS["skimage wavelet"] = by_rival(by_wavelets)


def pictures(modes):
    """PSNR of luma and of Cb and Cr, and mean CIEDE2000; recorded two stops under and lifted."""
    ways = {
        mode: lambda frame, iso, keys=keys: graded(frame, exposure={"stops": 2.0}, **keys)
        for mode, keys in modes.items()
    }
    for names, title in ((TUNED, "tuned on"), (HELD_BACK, "held back")):
        rows = []
        for iso in (100, 800, 3200, 12800):
            for mode, way in (ways | RIVALS).items():
                found = [
                    measured(way(shoot(truth, iso, -2.0), iso), truth)
                    for truth in map(picture, names)
                ]
                rows.append([str(iso), mode, *(f"{v:.2f}" for v in np.mean(found, axis=0))])
        in_a_table(f"Pictures {title}", ("ISO", "", "PSNR Y", "PSNR C", "CIEDE2000"), rows)


TONES = 0.004, 0.015, 0.06, 0.2, 0.6
GRADES = {
    "as it is": {},
    "lifted by 2 stops": {"lift": {"shadows": 2.0}},
    "lifted, with a curve": {
        "lift": {"shadows": 2.0},
        "tone_curve": {"contrast": 1.3, "shoulder": 0.4, "white": 3.5},
    },
}


def even(modes):
    """Deviation of CIE L* of five greys side by side, by the share of noise that is taken away."""
    light = np.full((3, 512, len(TONES)), TONES).repeat(512, axis=2)
    for iso in (800, 3200, 12800):
        frame, rows = shoot(light, iso), []
        for grade, keys in GRADES.items():
            for share in (0.0, 0.25, 0.5, 0.75, 1.0):
                denoise = {"luminance": share, "colour": 1.0}
                root = lab(graded(frame, denoise=denoise, **keys))[0]
                shown = np.where(root > 6 / 29, 116 * root - 16, 24389 / 27 * root**3)
                parts = np.split(shown, len(TONES), axis=1)
                rows.append([grade, share, *(float(p[64:-64, 64:-64].std()) for p in parts)])
        in_a_table(f"Deviation of L*, ISO {iso}", ("grade", "share", *map(str, TONES)), rows)


PARTS = {each.__name__: each for each in (flat, scales, even, edges, lamps, pictures)}
MODES = {
    "none": {"denoise": {"luminance": 0.0, "colour": 0.0}},
    "default": {},
    "colour 1": {"denoise": {"luminance": 0.0, "colour": 1.0}},
    "both 1": {"denoise": {"luminance": 1.0, "colour": 1.0}},
}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--package", help="folder of another checkout, graded by its defaults only")
    parser.add_argument("--part", choices=PARTS, action="append")
    options = parser.parse_args()
    modes = {"other checkout": {}} if options.package else MODES
    for name in options.part or PARTS:
        PARTS[name](modes)


if __name__ == "__main__":
    main()
