"""The demo set: what the files say, what their pixels show, and that they can be made again."""

from itertools import pairwise
from pathlib import Path

import exifread
import numpy as np
import pytest
import rawpy
import tifffile
import yaml

import make_demo
from dng import ILLUMINANTS

FOLDER = Path(make_demo.__file__).parent
TRUTH = yaml.safe_load((FOLDER / "harbour_truth.yaml").read_text(encoding="utf-8"))
FRAMES = [FOLDER / frame["file"] for frame in TRUTH]


def mosaic(path):
    """Sensor values above black, as shares of saturation."""
    with rawpy.imread(str(path)) as raw:
        black, white = raw.black_level_per_channel[0], raw.white_level
        return (raw.raw_image_visible.astype(np.float32) - black) / (white - black)


def tags(path):
    with open(path, "rb") as file:
        return exifread.process_file(file, details=False)


def exposure(path):
    """Shutter x ISO speed / f-number squared, from the file's EXIF."""
    facts = tags(path)
    shutter, aperture = (float(facts[f"EXIF {name}"].values[0])
                         for name in ("ExposureTime", "FNumber"))
    return shutter * facts["EXIF ISOSpeedRatings"].values[0] / aperture**2


def test_eight_frames_of_modest_size():
    assert len(FRAMES) == len(make_demo.SHOTS) == 8
    assert sum(path.stat().st_size for path in FRAMES) < 25_000_000


@pytest.mark.parametrize("path", FRAMES, ids=lambda path: path.name)
def test_frame_opens_and_states_its_facts(path):
    with rawpy.imread(str(path)) as raw:
        assert (raw.sizes.width, raw.sizes.height) == (make_demo.WIDTH, make_demo.HEIGHT)
        assert raw.white_level == make_demo.WHITE
        assert all(gain > 0 for gain in raw.camera_whitebalance[:3])
    facts = tags(path)
    assert str(facts["Image Make"]) == "Invented"
    assert str(facts["EXIF OffsetTimeOriginal"]) == make_demo.OFFSET
    assert facts["EXIF FocalLength"].values == [35]
    assert "GPS GPSLatitude" in facts and "EXIF LensModel" in facts


def test_two_matrices_put_white_on_green_one():
    # CIE 15 white points of illuminant A and D65, Y = 1.
    whites = {"A": (1.09850, 1.0, 0.35585), "D65": (0.95047, 1.0, 1.08883)}
    with tifffile.TiffFile(FRAMES[0]) as tiff:
        entries = tiff.pages[0].tags
        for code, light in ((50721, "A"), (50722, "D65")):
            assert entries[code + 57].value == ILLUMINANTS[light]
            pairs = np.reshape(entries[code].value, (3, 3, 2))
            camera = pairs[..., 0] / pairs[..., 1] @ np.array(whites[light])
            assert camera[1] == pytest.approx(1, abs=0.003)


def test_capture_times_span_fifty_minutes():
    times = [str(tags(path)["EXIF DateTimeOriginal"])[11:] for path in FRAMES]
    seconds = [int(h) * 3600 + int(m) * 60 + int(s) for h, m, s in (t.split(":") for t in times)]
    assert seconds == sorted(seconds)
    assert seconds[-1] - seconds[0] == 50 * 60


def test_light_falls_by_six_stops_and_turns_blue():
    ambient = [frame["ambient_luminance"] for frame in TRUTH]
    assert np.log2(ambient[0] / ambient[-1]) == pytest.approx(6, abs=0.1)
    assert all(later < earlier for earlier, later in pairwise(ambient))
    kelvin = [frame["ambient_kelvin"] for frame in TRUTH]
    assert kelvin == sorted(kelvin) and (kelvin[0], kelvin[-1]) == (5500, 12000)


def test_the_pixels_show_the_fall():
    """Green of the upper left sky over the stated exposure, first frame to last."""
    def sky(path):
        return np.median(mosaic(path)[:80:2, 301:700:2]) / exposure(path)

    assert np.log2(sky(FRAMES[0]) / sky(FRAMES[-1])) == pytest.approx(6, abs=0.5)


def test_exposure_errors():
    for frame in TRUTH:
        limit = (1.5, 2.2) if frame["over_exposed"] else (-0.7, 0.7)
        assert limit[0] <= frame["exposure_offset_stops"] <= limit[1]
    assert np.ptp([f["exposure_offset_stops"] for f in TRUTH if not f["over_exposed"]]) > 0.7


def test_only_the_over_exposed_frame_is_clipped_widely():
    clipped = [float((mosaic(path) >= 1).mean()) for path in FRAMES]
    for share, frame in zip(clipped, TRUTH, strict=True):
        assert share > 0.08 if frame["over_exposed"] else share < 0.03
    assert sum(frame["over_exposed"] for frame in TRUTH) == 1


def test_only_the_shaken_frame_is_soft():
    """Differences of neighbours over those of distant sites, along the rows of the town."""
    def ratio(path):
        green = mosaic(path)[151:450:2, 100:800:2]
        return np.abs(green[:, 1:] - green[:, :-1]).mean() / np.abs(
            green[:, 24:] - green[:, :-24]).mean()

    frames = list(zip(FRAMES, TRUTH, strict=True))
    sharp = [ratio(path) for path, frame in frames if not frame["shaken"]]
    shaken = [ratio(path) for path, frame in frames if frame["shaken"]]
    assert len(shaken) == 1
    assert shaken[0] < 0.75 * min(sharp)


def test_roll_is_that_of_a_boat():
    roll = np.abs([frame["roll_degrees"] for frame in TRUTH])
    assert roll.max() <= 3 and (roll >= 1).sum() >= 3


def test_noise_follows_the_stated_model():
    """Variance against mean of a flat sky in the noisiest frame: alpha x signal + read noise^2.

    Foi et al., IEEE Trans. Image Processing 17 (2008), 1737.
    """
    frame = TRUTH[-1]
    with rawpy.imread(str(FOLDER / frame["file"])) as raw:
        green = raw.raw_image_visible[:60:2, 1001:1500:2].astype(float) - make_demo.BLACK
    differences = green[:, 1:] - green[:, :-1]
    expected = frame["noise_alpha"] * green.mean() + frame["read_noise"] ** 2
    assert differences.var() / 2 == pytest.approx(expected, rel=0.06)


def test_the_generator_repeats_itself(tmp_path):
    sizes = dict(width=96, height=64)
    first = make_demo.make_frame(8, tmp_path / "a", **sizes)
    second = make_demo.make_frame(8, tmp_path / "b", **sizes)
    assert first == second
    written = [tmp_path / folder / first["file"] for folder in "ab"]
    assert written[0].read_bytes() == written[1].read_bytes()
    with rawpy.imread(str(written[0])) as raw:
        assert raw.raw_image.shape == (64, 96)
