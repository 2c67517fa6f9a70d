"""Raw originals, on mosaics whose camera RGB is known."""

import hashlib
import shutil
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import rawpy

import dng
from files.charts import MATRIX_A, MATRIX_D65, PATCH, patch_means, patches, whole
from grading.develop import counts
from grading.develop.noise import measure_noise
from grading.errors import OriginalError
from grading.files.originals import open_frame
from grading.kernels.raw.highlights import highlight_guide
from grading.region import Region

NEUTRAL = (0.5, 1.0, 0.625)
WHITE, BLACK = 16383, (512, 520, 530, 540)
REAL_RAW = Path(__file__).parents[4] / "shared" / "raws" / "tinydng_colorchart.dng"


def sensor_values(rgb, black=BLACK, white=WHITE):
    """Codes of a Bayer sensor for camera RGB 0 to 1, with a black level for each site."""
    codes = np.zeros(rgb.shape[:2])
    mosaic = dng.mosaic_of(rgb)
    for site, level in enumerate(black):
        cell = np.s_[site // 2 :: 2, site % 2 :: 2]
        codes[cell] = level + mosaic[cell] * (white - level)
    return np.round(codes).astype(np.uint16)


@pytest.fixture
def write(tmp_path):
    def write(name="a.dng", rgb=None, mosaic=None, **changes):
        options = {
            "white": WHITE,
            "black": BLACK,
            "color_matrix1": MATRIX_A,
            "illuminant1": "A",
            "color_matrix2": MATRIX_D65,
            "illuminant2": "D65",
            "as_shot_neutral": NEUTRAL,
        } | changes
        if mosaic is None:
            mosaic = sensor_values(patches() if rgb is None else rgb, options["black"])
        dng.write_dng(tmp_path / name, mosaic, **options)
        return tmp_path / name

    return write


@pytest.mark.parametrize("black", [(0, 0, 0, 0), (512, 512, 512, 512), BLACK])
@pytest.mark.parametrize("compression", [None, "ljpeg"])
def test_flat_patches_come_back_on_the_raw_scale(write, black, compression):
    frame = open_frame(write(black=black, compression=compression))
    expected = patch_means(patches().transpose(2, 0, 1))
    # half a code in 14 bit is 3e-5, and the two greens share one scale
    np.testing.assert_allclose(patch_means(whole(frame)), expected, atol=8e-5)


def test_a_linear_raw_comes_back_on_the_raw_scale(write):
    """DNG 1.4, photometric interpretation LinearRaw: already demosaiced by another program."""
    rgb, black = patches() * 0.9, np.array([400, 500, 600])
    codes = np.round(black + rgb * (WHITE - black)).astype(np.uint16)
    frame = open_frame(
        write(mosaic=codes, black=(*black, 0), default_crop=(0, PATCH, 3 * PATCH, PATCH))
    )
    expected = rgb[PATCH : 2 * PATCH, : 3 * PATCH]
    np.testing.assert_allclose(whole(frame).transpose(1, 2, 0), expected, atol=8e-5)


def test_black_is_zero_and_white_is_one(write):
    rgb = np.zeros((2 * PATCH, 2 * PATCH, 3))
    rgb[:, PATCH:] = 1
    neutral = (1.0, 1.0, 1.0)  # so that nothing is recovered above white
    planes = whole(open_frame(write(rgb=rgb, as_shot_neutral=neutral, black=(512,) * 4)))
    assert np.all(planes[:, 8:-8, 8 : PATCH - 8] == 0)
    assert np.all(planes[:, 8:-8, PATCH + 8 : -8] == 1)


def test_a_brighter_frame_is_not_rescaled(write):
    """The level of a patch does not depend on the brightest pixel elsewhere in the frame."""
    dim, bright = patches() * 0.5, patches() * 0.5
    bright[-PATCH:] = 0.94
    first, second = (
        whole(open_frame(write(f"{name}.dng", rgb=rgb)))
        for name, rgb in (("dim", dim), ("bright", bright))
    )
    np.testing.assert_array_equal(first[:, :PATCH, :PATCH], second[:, :PATCH, :PATCH])


def expected_upright(stored, orientation):
    """Exif 2.32, tag 274: what the 0th row and the 0th column are, corner by corner."""
    turns = {
        1: lambda p: p,
        2: np.fliplr,
        3: lambda p: np.rot90(p, 2),
        4: np.flipud,
        5: lambda p: np.rot90(np.fliplr(p)),
        6: lambda p: np.rot90(p, -1),
        7: lambda p: np.rot90(np.fliplr(p), -1),
        8: np.rot90,
    }
    return turns[orientation](stored)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation(write, orientation):
    upright = open_frame(write(orientation=orientation))
    stored = whole(open_frame(write("one.dng"))).transpose(1, 2, 0)
    expected = expected_upright(stored, orientation)
    assert (upright.facts.height, upright.facts.width) == expected.shape[:2]
    np.testing.assert_array_equal(whole(upright).transpose(1, 2, 0), expected)


@pytest.mark.parametrize("corner", [(PATCH, PATCH), (PATCH + 1, PATCH), (PATCH - 1, PATCH + 1)])
def test_crop_and_active_area(write, corner):
    """The mosaic's phase follows the corner of the crop."""
    rgb = patches()
    padded = np.pad(rgb, ((16, 8), (32, 4), (0, 0)), mode="constant")
    height, width = rgb.shape[:2]
    left, top = corner
    frame = open_frame(
        write(
            mosaic=sensor_values(padded),
            active_area=(16, 32, 16 + height, 32 + width),
            default_crop=(left, top, 2 * PATCH, PATCH),
            orientation=6,
        )
    )
    size = (frame.facts.width, frame.facts.height)
    assert size == pytest.approx((PATCH, 2 * PATCH), abs=1)  # LibRaw makes odd corners even
    expected = np.rot90(rgb[top : top + PATCH, left : left + 2 * PATCH], -1)
    for middle in (10, PATCH + 10):
        found = frame.pixels.read(Region(middle, middle + 4, 10, 14)).mean((1, 2))
        np.testing.assert_allclose(found, expected[middle + 2, 12], atol=2e-3)


@pytest.mark.parametrize(
    ("margins", "size"), [((9, 20), (30, 40)), ((10, 19), (30, 40)), ((31, 20), (30, 40)),
                          ((10, 41), (30, 40))],
)  # fmt: skip
def test_a_crop_beyond_the_picture_is_left_out_and_told(margins, size):
    """As LibRaw gives them: margins in the whole sensor, of which 50 x 60 pixels are visible."""
    sizes = SimpleNamespace(
        height=50, width=60, top_margin=10, left_margin=20,
        crop_top_margin=margins[0], crop_left_margin=margins[1],
        crop_height=size[0], crop_width=size[1],
    )  # fmt: skip
    visible = np.arange(50 * 60).reshape(50, 60)
    picture, corner, warnings = counts.seen(visible, sizes)
    assert picture is visible and corner == (0, 0)
    assert len(warnings) == 1 and "reaches beyond its picture" in warnings[0]
    sizes.crop_top_margin, sizes.crop_left_margin = 30, 40
    picture, corner, warnings = counts.seen(visible, sizes)
    np.testing.assert_array_equal(picture, visible[20:50, 20:60])
    assert corner == (20, 20) and warnings == []


def test_a_mosaic_is_developed_here_and_tells_its_noise(write):
    rng = np.random.default_rng(3)
    gain, offset = 4e-4, 1e-6
    ramp = np.linspace(0.02, 0.8, 1024)[None, :, None] * np.ones((512, 1, 3))
    noisy = ramp + rng.normal(size=ramp.shape) * np.sqrt(gain * ramp + offset)
    facts = open_frame(write(rgb=noisy)).facts
    assert facts.decoder.endswith("mosaic")
    assert facts.noise[0] == pytest.approx(gain, rel=0.1)


@pytest.mark.parametrize("colours", [1, 3])
def test_a_stated_noise_profile_is_taken(write, colours):
    """DNG 1.4, NoiseProfile: variance = S x + O, in doubles; the green of three."""
    pair, others = (2e-4, 1e-6), (9e-4, 9e-6)
    stated = pair if colours == 1 else (*others, *pair, *others)
    rng = np.random.default_rng(3)
    rgb = np.linspace(0.02, 0.8, 480)[None, :, None] * np.ones((320, 1, 3))
    rgb += rng.normal(size=rgb.shape) * np.sqrt(pair[0] * rgb + pair[1])
    frame = open_frame(write(rgb=rgb, noise_profile=stated))
    assert frame.facts.noise == pair
    assert frame.pixels.sensor.noise == pair
    assert frame.facts.noise_source.name == "stated in the file"


def test_black_levels_of_rows_and_columns(write):
    """DNG 1.4, BlackLevelDeltaV and BlackLevelDeltaH: added to BlackLevel, row by row."""
    rows = np.arange(3 * PATCH) % 5 * 3.0
    columns = np.arange(4 * PATCH) % 3 * 2.0
    mosaic = sensor_values(patches()) + rows[:, None] + columns
    path = write(mosaic=mosaic.astype(np.uint16), black_rows=rows, black_columns=columns)
    found = whole(open_frame(path))
    np.testing.assert_allclose(found, whole(open_frame(write("plain.dng"))), atol=2e-4)


def test_both_matrices_and_the_neutral(write):
    camera = open_frame(write()).facts.camera
    assert [round(c.kelvin) for c in camera.calibrations] == [2856, 6504]
    np.testing.assert_allclose(camera.calibrations[0].xyz_to_camera, MATRIX_A, atol=1e-6)
    np.testing.assert_allclose(camera.calibrations[1].xyz_to_camera, MATRIX_D65, atol=1e-6)
    np.testing.assert_allclose(camera.neutral, NEUTRAL, atol=1e-6)


def test_a_third_matrix_comes_last_with_its_light(write):
    matrix = np.round((MATRIX_A + MATRIX_D65) / 2, 4)
    camera = open_frame(write(color_matrix3=matrix, illuminant3=(0.3756, 0.3723))).facts.camera
    assert [round(c.kelvin) for c in camera.calibrations[:2]] == [2856, 6504]
    np.testing.assert_allclose(camera.calibrations[2].xyz_to_camera, matrix, atol=1e-6)
    np.testing.assert_allclose(camera.calibrations[2].xy, (0.3756, 0.3723), atol=1e-6)


def test_calibrations_rise_in_kelvin_whatever_their_order(write):
    path = write(
        color_matrix1=MATRIX_D65, illuminant1="D65", color_matrix2=MATRIX_A, illuminant2="A"
    )
    calibrations = open_frame(path).facts.camera.calibrations
    assert [round(c.kelvin) for c in calibrations] == [2856, 6504]
    np.testing.assert_allclose(calibrations[0].xyz_to_camera, MATRIX_A, atol=1e-6)


def test_parts_agree_with_the_whole(write):
    frame = open_frame(write(orientation=6))
    part = frame.pixels.read(Region(5, 40, 11, 30))
    assert part.dtype == np.float32 and part.flags.c_contiguous
    np.testing.assert_array_equal(part, whole(frame)[:, 5:40, 11:30])


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("factor", [1, 2, 7, 10])
def test_reduced_pictures_are_block_means(write, orientation, factor):
    """A smooth picture whose sides no factor divides: partial blocks lie at the far edges."""
    y, x = np.mgrid[0:61, 0:83][..., None]
    rgb = 0.1 + np.concatenate([y / 100, x / 120, (x + y) / 250], axis=2)
    frame = open_frame(write(rgb=rgb, orientation=orientation))
    planes = whole(frame)
    height, width = planes.shape[1:]
    reduced = frame.pixels.reduced(factor)
    assert reduced.shape == (3, -(-height // factor), -(-width // factor))
    for i, j in ((0, 0), (height // factor - 1, width // factor - 1)):
        block = planes[:, i * factor : (i + 1) * factor, j * factor : (j + 1) * factor]
        np.testing.assert_allclose(reduced[:, i, j], block.mean((1, 2)), atol=0.01)
    np.testing.assert_allclose(reduced[:, -1, -1], planes[:, -1, -1], atol=0.05)


def test_clipped_sky_is_neutral(write):
    """A neutral gradient far past white stays neutral where all channels clip."""
    ramp = np.linspace(0.3, 3, 12 * PATCH)[None, :, None] * np.ones((PATCH, 1, 1))
    rgb = np.minimum(ramp * np.array(NEUTRAL), 1)
    planes = whole(open_frame(write(rgb=rgb)))[:, 4:-4, 8:-8]
    balanced = planes / np.array(NEUTRAL, np.float32)[:, None, None]
    spread = (balanced.max(axis=0) - balanced.min(axis=0)) / balanced.max(axis=0)
    assert spread.max() < 0.03


def test_the_original_is_not_touched(write):
    path = write()
    before = (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns)
    whole(open_frame(path))
    assert (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns) == before
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_size_and_hash_are_those_of_the_file(write):
    """SHA-256 (FIPS 180-4) by the standard library's reader of files."""
    path = write()
    facts = open_frame(path).facts
    with path.open("rb") as file:
        assert facts.sha256 == hashlib.file_digest(file, "sha256").hexdigest()
    assert facts.size == path.stat().st_size


def test_an_error_while_hashing_goes_on_beside_is_told_and_leaves_no_thread(write, monkeypatch):
    path, done = write(mosaic=np.zeros((48, 48), np.uint16)), []

    def slow_hash(data):
        time.sleep(0.2)
        done.append(len(data))

    monkeypatch.setattr(hashlib, "sha256", slow_hash)
    before = threading.active_count()
    with pytest.raises(OriginalError, match="all raw values are 0: the file holds no picture"):
        open_frame(path)
    assert done == [path.stat().st_size]
    assert threading.active_count() == before


def test_noise_and_guide_are_of_the_mosaic_that_is_kept(write):
    """A noisy crop with a clipped patch: what two threads found is what either finds alone."""
    rng = np.random.default_rng(5)
    mosaic = sensor_values(np.full((320, 480, 3), 0.4)) + rng.integers(0, 200, (320, 480))
    mosaic[40:80, 60:120] = WHITE
    frame = open_frame(
        write(mosaic=mosaic.astype(np.uint16), default_crop=(4, 2, 470, 310), black=(512,) * 4)
    )
    pixels = frame.pixels
    measured = measure_noise(pixels.mosaic, pixels.sensor.phase, np.full(4, 512.0), WHITE)
    assert frame.facts.noise_source.measured == measured is not None
    assert frame.facts.noise == pixels.sensor.noise == measured.noise
    guide = highlight_guide(pixels.mosaic, pixels.sensor, pixels.balance)
    np.testing.assert_array_equal(pixels.highlights, guide)


def test_a_read_only_original_opens(write):
    path = write()
    path.chmod(0o444)
    assert open_frame(path).facts.width == 4 * PATCH


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"mosaic": np.full((48, 48), 600, np.uint16)}, "all raw values are 600"),
        ({"mosaic": np.zeros((48, 48), np.uint16)}, "all raw values are 0"),
        ({"color_matrix1": np.zeros((3, 3)), "color_matrix2": None}, "the camera matrix is"),
        ({"color_matrix2": np.ones((3, 3))}, "the camera matrix is"),
        ({"as_shot_neutral": (0.5, 1, 0)}, "impossible as-shot white balance"),
        ({"white": 400}, "impossible levels: black 540, white 400"),
    ],
)
def test_what_opens_is_not_yet_a_picture(write, changes, message):
    path = write(**changes)
    with pytest.raises(OriginalError, match=message) as caught:
        open_frame(path)
    assert str(caught.value).startswith(str(path))
    assert caught.value.allowed or caught.value.remedy


@pytest.mark.parametrize("linear", [False, True])
@pytest.mark.parametrize(("brightest", "dark"), [(0.0095, True), (0.0105, False)])
def test_a_nearly_black_frame_opens_only_if_it_is_accepted(write, brightest, dark, linear):
    rgb = patches() / patches().max() * brightest
    black = (512,) * 4
    mosaic = np.round(512 + rgb * (WHITE - 512)).astype(np.uint16) if linear else None
    path = write(rgb=rgb, mosaic=mosaic, black=black)
    frame = open_frame(path, accept_dark=True)
    assert frame.facts.brightest == pytest.approx(brightest, abs=1 / (WHITE - 512))
    told = [warning for warning in frame.facts.warnings if "nearly black" in warning]
    assert len(told) == dark
    if dark:
        with pytest.raises(OriginalError, match="nearly black: .* lens cap .* --accept-dark"):
            open_frame(path)
    else:
        open_frame(path)


def test_a_frame_without_any_light_is_not_to_be_accepted(write):
    mosaic = np.full((48, 48), 500, np.uint16)
    mosaic[0, 0] = 400
    path = write(mosaic=mosaic)
    with pytest.raises(OriginalError, match="every pixel is black"):
        open_frame(path, accept_dark=True)


@pytest.mark.parametrize(
    ("neutral", "words"),
    [
        ((0.001, 1, 0.5), "no light with a colour temperature"),
        ((1, 0.45, 0.08), "the as-shot white, 1"),
    ],
)
def test_a_strange_white_is_reported_but_opens(write, neutral, words):
    """Its channels are balanced within limits while the mosaic is developed."""
    frame = open_frame(write(as_shot_neutral=neutral))
    assert any(words in warning for warning in frame.facts.warnings)
    np.testing.assert_allclose(frame.facts.camera.neutral, np.array(neutral) / max(neutral))
    assert frame.pixels.balance.max() <= 32
    assert not open_frame(write()).facts.warnings


def replace_tag(path, code, new):
    """Give an entry of the main directory another code (TIFF 6.0: 12 bytes an entry)."""
    content = bytearray(path.read_bytes())
    start = int.from_bytes(content[4:8], "little")
    for place in range(start + 2, len(content), 12):
        if int.from_bytes(content[place : place + 2], "little") == code:
            content[place : place + 2] = new.to_bytes(2, "little")
            return path.write_bytes(content)
    raise AssertionError(f"no tag {code}")


def test_no_stated_white_balance_is_daylight_and_told(write):
    path = write()
    replace_tag(path, 50728, 65000)
    facts = open_frame(path).facts
    assert any("D65" in warning for warning in facts.warnings)
    # CIE 15: XYZ of D65 at Y 1 from x 0.3127, y 0.3290, through the D65 matrix
    expected = MATRIX_D65 @ [0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290]
    np.testing.assert_allclose(facts.camera.neutral, expected / expected.max(), atol=1e-3)


def test_a_white_stated_as_chromaticity(write):
    """DNG 1.4, AsShotWhiteXY, which stands in place of AsShotNeutral."""
    path = write(as_shot_neutral=(0.3127, 0.3290))
    replace_tag(path, 50728, 50729)
    facts = open_frame(path).facts
    assert facts.warnings == ()
    expected = MATRIX_D65 @ [0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290]
    np.testing.assert_allclose(facts.camera.neutral, expected / expected.max(), atol=1e-3)


@pytest.mark.parametrize("compression", [None, "ljpeg"])
@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9])
def test_cut_off_files(write, kept, compression):
    path = write(compression=compression)
    content = path.read_bytes()
    path.write_bytes(content[: int(kept * len(content))])
    with pytest.raises(OriginalError) as caught:
        open_frame(path)
    assert caught.value.remedy


@pytest.mark.parametrize("suffix", [".dng", ".nef", ".jpg", ".tif", ".png", ".txt"])
@pytest.mark.parametrize(
    "content", [b"\0" * 4096, bytes(range(256)) * 32, b"II*\0\x08\0\0\0" + b"\xff" * 500]
)
def test_garbage(tmp_path, suffix, content):
    path = tmp_path / f"garbage{suffix}"
    path.write_bytes(content)
    with pytest.raises(OriginalError, match="garbage"):
        open_frame(path)


def test_empty_folder_and_missing(tmp_path):
    (tmp_path / "empty.dng").touch()
    for name, message in (
        ("empty.dng", "an empty file"),
        ("", "a folder"),
        ("missing.dng", "No such file"),
    ):
        with pytest.raises(OriginalError, match=message):
            open_frame(tmp_path / name)


def test_three_random_bytes_in_the_header_never_give_a_traceback(write):
    path = write(exif={"ExposureTime": 0.004, "LensModel": "50 mm"}, gps=(48.5, 2.25))
    content = path.read_bytes()
    start = int.from_bytes(content[4:8], "little")
    generator = np.random.default_rng(11)
    opened = 0
    for _ in range(60):
        damaged = bytearray(content)
        for place in generator.integers(start, len(content), 3):
            damaged[place] = generator.integers(256)
        path.write_bytes(damaged)
        try:
            open_frame(path)
            opened += 1
        except OriginalError:
            pass
    assert 0 < opened < 60


@pytest.mark.skipif(not REAL_RAW.exists(), reason="the real raw file is not beside the repository")
def test_a_real_raw(tmp_path):
    path = tmp_path / REAL_RAW.name
    shutil.copy(REAL_RAW, path)
    frame = open_frame(path)
    assert (frame.facts.width, frame.facts.height) == (1734, 1156)
    (calibration,) = frame.facts.camera.calibrations
    assert calibration.xyz_to_camera[0, 0] == pytest.approx(0.6461)
    # its AsShotNeutral is 1, 2.477, 1.462
    np.testing.assert_allclose(frame.facts.camera.neutral, [0.40371, 1, 0.59023], atol=1e-5)
    with rawpy.imread(str(path)) as raw:
        green = raw.raw_image_visible[::2, 1::2].astype(float)
        mean = (green - raw.black_level_per_channel[1]).mean() / (raw.white_level - 2056)
    assert frame.pixels.reduced(4)[1].mean() == pytest.approx(mean, rel=0.01)
