"""Raw originals that are no Bayer mosaic, on charts whose camera light is known."""

import numpy as np
import pytest
import rawpy

import dng
from files.charts import MATRIX_A, MATRIX_D65, PATCH, patch_means, patches, whole
from grading.colour.camera import camera_to_working, neutral_to_xy
from grading.develop.libraw import demosaic_libraw
from grading.errors import OriginalError
from grading.files.originals import open_frame
from grading.region import Region
from grading.signal import Signal
from grading.stages import white_balance
from kernels.raws import photograph, psnr

WHITE, BLACK = 16383, 512
# Every colour in each row and column of three sites, as 6x6 patterns are made
SIX = "GBGGRGRGRBGBGBGGRGGRGGBGBGBRGRGRGGBG"
FOUR = "CYGM"  # C, Y; G, M: the complementary mosaic of early colour cameras
# Rows G, C, M, Y: made of the three-colour matrix, C and M and Y the sums of two of its rows
MIX = np.array([[0, 1, 0], [0, 0.5, 0.5], [0.5, 0, 0.5], [0.5, 0.5, 0]])
NEUTRAL3, NEUTRAL4 = np.array([0.5, 1, 0.625]), np.array([1, 0.8125, 0.5625, 0.75])


@pytest.fixture
def write(tmp_path):
    def write(codes, **changes):
        options = {"white": WHITE, "black": (BLACK,) * 4} | changes
        dng.write_dng(tmp_path / "a.dng", codes, **options)
        return tmp_path / "a.dng"

    return write


def camera(matrices=(MATRIX_A, MATRIX_D65), neutral=NEUTRAL3):
    return {
        "color_matrix1": matrices[0],
        "illuminant1": "A",
        "color_matrix2": matrices[1],
        "illuminant2": "D65",
        "as_shot_neutral": neutral,
    }


def codes_of(light, black=BLACK):
    return np.round(black + light * (WHITE - black)).astype(np.uint16)


def test_a_6x6_mosaic_comes_back_on_the_raw_scale(write):
    rgb = patches(22, 22)  # LibRaw wants 512 pixels
    frame = open_frame(write(codes_of(dng.mosaic_of(rgb, SIX)), pattern=SIX, **camera()))
    assert frame.facts.decoder.endswith("6x6 mosaic, three passes")
    np.testing.assert_allclose(
        patch_means(whole(frame)), patch_means(rgb.transpose(2, 0, 1)), atol=1e-4
    )


def test_a_6x6_mosaic_is_interpolated_in_balanced_light(write):
    """LibRaw's three passes on a photograph under strong gains, beside the same left unbalanced."""
    truth = photograph("astronaut")
    gains = 1 / NEUTRAL3[:, None, None]
    light = (truth / gains).transpose(1, 2, 0)
    path = write(codes_of(dng.mosaic_of(light, SIX)), pattern=SIX, **camera())
    with rawpy.imread(str(path)) as raw:
        unbalanced = demosaic_libraw(raw).transpose(2, 0, 1) / 65535 * gains
    found = psnr(whole(open_frame(path)) * gains, truth)
    assert found > 35.5
    assert found > psnr(unbalanced, truth) + 3


def test_the_crop_of_a_6x6_mosaic(write):
    rgb = patches(23, 23)
    path = write(
        codes_of(dng.mosaic_of(rgb, SIX)), pattern=SIX, **camera(),
        default_crop=(PATCH, 2 * PATCH, 20 * PATCH, 10 * PATCH), orientation=6,
    )  # fmt: skip
    frame = open_frame(path)
    assert (frame.facts.width, frame.facts.height) == (10 * PATCH, 20 * PATCH)
    cropped = np.rot90(rgb[2 * PATCH : 12 * PATCH, PATCH : 21 * PATCH], -1)
    np.testing.assert_allclose(
        patch_means(whole(frame)), patch_means(cropped.transpose(2, 0, 1)), atol=1e-4
    )


@pytest.mark.parametrize(
    ("pattern", "size", "neutral", "mix"),
    [(SIX, 22 * PATCH, NEUTRAL3, np.eye(3)), (FOUR, 4 * PATCH, NEUTRAL4, MIX)],
)
def test_noise_below_black_is_kept_without_bias(write, pattern, size, neutral, mix):
    rng = np.random.default_rng(4)
    codes = np.rint(rng.normal(BLACK, 12, (size, size)))
    codes[: PATCH // 2] = 4000  # so that there is a picture
    matrices = mix @ MATRIX_A, mix @ MATRIX_D65
    path = write(codes.astype(np.uint16), pattern=pattern, **camera(matrices, neutral))
    dark = whole(open_frame(path))[:, PATCH:]
    assert dark.min() < -12 / WHITE
    np.testing.assert_allclose(dark.mean((1, 2)) * WHITE, 0, atol=1)


def test_too_small_a_6x6_mosaic_is_told(write):
    path = write(codes_of(dng.mosaic_of(patches(), SIX)), pattern=SIX, **camera())
    with pytest.raises(OriginalError, match="6x6 mosaic of 96 x 72 pixels; allowed: 512"):
        open_frame(path)


@pytest.mark.parametrize("black", [(BLACK,) * 4, (500, 510, 520, 530)])
def test_four_colours_are_seen_through_their_matrix(write, black):
    """DNG 1.4, chapter 6: XYZ by the pseudo-inverse of a 4x3 matrix, here of known XYZ.

    Colours the camera can see lie in the range of its matrix; to those, the least-squares way
    back and forth is exact, whatever the light.
    """
    rgb = patches()
    light = rgb @ MIX.T
    site_black = np.tile(np.reshape(black, (2, 2)), (light.shape[0] // 2, light.shape[1] // 2))
    mosaic = codes_of(dng.mosaic_of(light, FOUR), site_black)
    matrices = MIX @ MATRIX_A, MIX @ MATRIX_D65
    path = write(mosaic, pattern=FOUR, black=black, **camera(matrices, MIX @ NEUTRAL3))
    frame = open_frame(path)
    assert frame.facts.decoder.endswith("VNG of four colours")

    seen = frame.facts.camera
    xy = neutral_to_xy(seen, seen.neutral)
    found = patch_means(whole(frame)) @ camera_to_working(seen, xy).T
    reference = open_frame(write(codes_of(dng.mosaic_of(rgb)), **camera())).facts.camera
    np.testing.assert_allclose(xy, neutral_to_xy(reference, reference.neutral), atol=2e-4)
    expected = patch_means(rgb.transpose(2, 0, 1)) @ camera_to_working(reference, xy).T
    np.testing.assert_allclose(found, expected, atol=5e-4)


def test_white_of_four_colours_is_one_and_black_zero(write):
    light = np.zeros((2 * PATCH, 2 * PATCH, 4))
    light[:, PATCH:] = NEUTRAL4
    matrices = MIX @ MATRIX_A, MIX @ MATRIX_D65
    path = write(codes_of(dng.mosaic_of(light, FOUR)), pattern=FOUR, **camera(matrices, NEUTRAL4))
    planes = whole(open_frame(path))
    np.testing.assert_allclose(planes[:, 8:-8, 8 : PATCH - 8], 0, atol=1e-4)
    np.testing.assert_allclose(planes[1, 8:-8, PATCH + 8 : -8], 1, atol=1e-4)


@pytest.mark.parametrize("changes", [{"color_matrix1": MATRIX_A}, {"as_shot_neutral": NEUTRAL3}])
def test_four_colours_need_facts_of_four(write, changes):
    mosaic = codes_of(dng.mosaic_of(patches(channels=4), FOUR))
    facts = camera((MIX @ MATRIX_A, MIX @ MATRIX_D65), NEUTRAL4) | changes
    with pytest.raises(OriginalError, match="allowed: (12, for a sensor of 4|4 positive numbers)"):
        open_frame(write(mosaic, pattern=FOUR, **facts))


@pytest.mark.parametrize("compression", [None, "ljpeg"])
def test_a_monochrome_raw_is_three_equal_channels(write, compression):
    light = patches(channels=1)[..., 0]
    light[:PATCH, :PATCH], light[:PATCH, PATCH : 2 * PATCH] = 0, 1
    frame = open_frame(write(codes_of(light), pattern=None, compression=compression))
    assert frame.facts.decoder.endswith("monochrome samples")
    assert frame.facts.camera is None and frame.facts.monochrome
    planes = whole(frame)
    assert planes.dtype == np.float32 and planes.flags.c_contiguous
    np.testing.assert_array_equal(planes[1:], planes[:1].repeat(2, 0))
    np.testing.assert_allclose(planes[0], light, atol=0.51 / (WHITE - BLACK))
    assert np.all(planes[:, :PATCH, :PATCH] == 0)
    np.testing.assert_allclose(planes[:, :PATCH, PATCH : 2 * PATCH], 1, atol=1e-7)
    np.testing.assert_array_equal(frame.pixels.read(Region(5, 40, 11, 30)), planes[:, 5:40, 11:30])


@pytest.mark.parametrize(
    "balance", [{"as_shot": True}, {"kelvin": 3200}, {"neutral": [0.5, 0.5]}]
)
def test_no_white_balance_tints_a_monochrome_raw(write, balance):
    frame = open_frame(write(codes_of(patches(channels=1)[..., 0]), pattern=None))
    stated = white_balance.resolve(white_balance.WhiteBalance(**balance), frame)
    assert white_balance.prepare(stated, Signal.of(frame)) is None


@pytest.mark.parametrize("compression", [None, "ljpeg"])
def test_linear_samples_are_only_scaled(write, compression):
    """DNG 1.4, LinearRaw: the inverse of the levels stated, sample by sample."""
    light = np.random.default_rng(2).uniform(0, 0.94, (64, 80, 3))
    black = np.array([400, 500, 600])
    path = write(codes_of(light, black), black=(*black, 0), compression=compression, **camera())
    frame = open_frame(path)
    assert frame.facts.decoder.endswith("linear samples")
    expected = (codes_of(light, black).astype(float) - black) / (WHITE - black)
    np.testing.assert_allclose(whole(frame).transpose(1, 2, 0), expected, atol=1e-7)
