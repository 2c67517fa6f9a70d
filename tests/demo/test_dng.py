"""The DNG writer, read back by independent readers: LibRaw (rawpy), ExifRead and tifffile."""

import struct
from fractions import Fraction
from pathlib import Path

import exifread
import numpy as np
import pytest
import rawpy
import tifffile

import dng

MATRIX_A = [[0.9, -0.3, -0.1], [-0.4, 1.2, 0.2], [0.0, 0.1, 0.6]]
MATRIX_D65 = [[0.8, -0.2, -0.1], [-0.5, 1.3, 0.2], [-0.1, 0.2, 0.7]]
EXIF = {
    "ExposureTime": Fraction(1, 250),
    "FNumber": 2.8,
    "ISOSpeedRatings": 800,
    "DateTimeOriginal": "2031:09:14 19:02:10",
    "OffsetTimeOriginal": "+01:00",
    "FocalLength": 35,
    "LensModel": "Invented 35 mm f/2",
}


@pytest.fixture
def mosaic():
    return np.random.default_rng(3).integers(0, 16384, (54, 84), dtype=np.uint16)


def write(path, mosaic, **options):
    facts = dict(
        white=16383,
        color_matrix1=MATRIX_A,
        illuminant1="A",
        color_matrix2=MATRIX_D65,
        illuminant2="D65",
        as_shot_neutral=(0.5, 1.0, 0.625),
    )
    dng.write_dng(path, mosaic, **(facts | options))
    return str(path)


@pytest.mark.parametrize("compression", [None, "ljpeg"])
@pytest.mark.parametrize("pattern", ["RGGB", "BGGR", "GRBG", "GBRG"])
def test_rawpy_reads_every_phase_bit_exact(tmp_path, mosaic, pattern, compression):
    path = write(tmp_path / "x.dng", mosaic, pattern=pattern, compression=compression)
    with rawpy.imread(path) as raw:
        assert np.array_equal(raw.raw_image, mosaic)
        colours = raw.color_desc.decode()
        sites = "".join(colours[raw.raw_colors[y, x]] for y in (0, 1) for x in (0, 1))
        assert sites == pattern


@pytest.mark.parametrize("shape", [(32, 50), (520, 1030), (700, 600)])
def test_lossless_jpeg_tiles_of_awkward_sizes(tmp_path, shape):
    mosaic = np.random.default_rng(4).integers(0, 65536, shape, dtype=np.uint16)
    with rawpy.imread(write(tmp_path / "x.dng", mosaic, white=65535, compression="ljpeg")) as raw:
        assert np.array_equal(raw.raw_image, mosaic)


def test_lossless_jpeg_is_smaller_on_a_smooth_picture(tmp_path):
    mosaic = np.add.outer(np.arange(512), np.arange(512)).astype(np.uint16)
    plain, packed = tmp_path / "plain.dng", tmp_path / "packed.dng"
    write(plain, mosaic)
    write(packed, mosaic, compression="ljpeg")
    assert packed.stat().st_size < plain.stat().st_size / 3


def test_a_third_calibration(tmp_path, mosaic):
    """Tag codes and the layout of IlluminantData: DNG specification 1.6."""
    lamp = dict(color_matrix3=np.eye(3), illuminant3=(0.3756, 0.3723))
    with tifffile.TiffFile(write(tmp_path / "x.dng", mosaic, **lamp)) as file:
        tags = {tag.code: tag.value for tag in file.pages[0].tags}
    assert tuple(tags[50706]) == (1, 6, 0, 0)
    assert tags[52529] == 255
    assert tags[52531] == (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1)
    form, *ratio = struct.unpack("<H4I", tags[52535])
    assert form == 0
    assert ratio[0] / ratio[1] == 0.3756
    assert ratio[2] / ratio[3] == 0.3723
    with rawpy.imread(str(tmp_path / "x.dng")) as raw:
        assert np.array_equal(raw.raw_image, mosaic)


def test_levels_and_neutral(tmp_path, mosaic):
    path = write(tmp_path / "x.dng", mosaic, black=(500, 510, 520, 530), white=15000)
    with rawpy.imread(path) as raw:
        # LibRaw lists R, G, B, second G; the file lists sites row by row.
        assert raw.black_level_per_channel == [500, 510, 530, 520]
        assert raw.white_level == 15000
        assert raw.camera_whitebalance[:3] == pytest.approx([2.0, 1.0, 1.6])


# LibRaw's flip codes of EXIF orientations 1 to 8: bit 0 mirrors columns, bit 1 rows, bit 2
# transposes (LibRaw data structures, `sizes.flip`).
@pytest.mark.parametrize("orientation, flip", list(enumerate([0, 1, 3, 2, 4, 6, 7, 5], 1)))
def test_orientation(tmp_path, mosaic, orientation, flip):
    with rawpy.imread(write(tmp_path / "x.dng", mosaic, orientation=orientation)) as raw:
        assert raw.sizes.flip == flip


def test_active_area_and_crop(tmp_path, mosaic):
    path = write(
        tmp_path / "x.dng", mosaic, active_area=(2, 4, 54, 84), default_crop=(6, 8, 60, 40)
    )
    with rawpy.imread(path) as raw:
        sizes = raw.sizes
        assert (sizes.top_margin, sizes.left_margin, sizes.height, sizes.width) == (2, 4, 52, 80)
        assert np.array_equal(raw.raw_image_visible, mosaic[2:, 4:])
        assert (sizes.crop_width, sizes.crop_height) == (60, 40)


def test_exif_and_gps(tmp_path, mosaic):
    path = write(tmp_path / "x.dng", mosaic, make="Maker", model="One", exif=EXIF,
                 gps=(-12.5, 30.2625))
    with open(path, "rb") as file:
        tags = exifread.process_file(file, details=False)
    assert str(tags["Image Make"]) == "Maker" and str(tags["Image Model"]) == "One"
    assert tags["EXIF ExposureTime"].values[0] == Fraction(1, 250)
    assert tags["EXIF FNumber"].values[0] == Fraction(14, 5)
    assert tags["EXIF ISOSpeedRatings"].values == [800]
    assert str(tags["EXIF DateTimeOriginal"]) == EXIF["DateTimeOriginal"]
    assert str(tags["EXIF OffsetTimeOriginal"]) == "+01:00"
    assert str(tags["EXIF LensModel"]) == EXIF["LensModel"]
    assert str(tags["GPS GPSLatitudeRef"]) == "S"
    assert tags["GPS GPSLatitude"].values == [12, 30, 0]
    assert str(tags["GPS GPSLongitudeRef"]) == "E"
    assert tags["GPS GPSLongitude"].values == [30, 15, 45]
    with rawpy.imread(path) as raw:
        assert raw.other.iso_speed == 800
        assert raw.other.shutter_speed == pytest.approx(1 / 250)
        assert raw.other.focal_length == pytest.approx(35)


def test_matrices(tmp_path, mosaic):
    with tifffile.TiffFile(write(tmp_path / "x.dng", mosaic)) as tiff:
        tags = tiff.pages[0].tags
        for code, light, expected in ((50721, 17, MATRIX_A), (50722, 21, MATRIX_D65)):
            pairs = np.reshape(tags[code].value, (3, 3, 2))
            assert np.allclose(pairs[..., 0] / pairs[..., 1], expected, atol=1e-6)
            assert tags[code + 57].value == light


@pytest.mark.parametrize("compression", [None, "ljpeg"])
def test_linear_picture(tmp_path, compression):
    picture = np.random.default_rng(5).integers(0, 65536, (60, 50, 3), dtype=np.uint16)
    path = write(tmp_path / "x.dng", picture, white=65535, compression=compression)
    with rawpy.imread(path) as raw:
        assert raw.raw_type == rawpy.RawType.Stack
        assert np.array_equal(raw.raw_image[..., :3], picture)


def test_same_bytes_each_time(tmp_path, mosaic):
    first = write(tmp_path / "a.dng", mosaic, exif=EXIF, gps=(1, 2), compression="ljpeg")
    second = write(tmp_path / "b.dng", mosaic, exif=EXIF, gps=(1, 2), compression="ljpeg")
    assert Path(first).read_bytes() == Path(second).read_bytes()


def test_mosaic_of_keeps_the_sites_colour():
    rgb = np.broadcast_to(np.array([1, 2, 3], np.uint16), (4, 4, 3))
    assert dng.mosaic_of(rgb, "GBRG")[:2, :2].tolist() == [[2, 3], [1, 2]]
