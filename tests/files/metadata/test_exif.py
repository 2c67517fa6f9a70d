"""Facts of capture and the EXIF block; exifread and Pillow are the oracles."""

import io
import struct
from fractions import Fraction

import exifread
import numpy as np
import pytest
from PIL import Image

import dng
from grading.files.metadata import tifftags
from grading.files.metadata.exif import (
    capture_facts,
    carried_exif,
    exif_block,
    orientation,
    output_directories,
    read_exif,
)
from grading.files.metadata.tifftags import Tag

EXIF = {
    "ExposureTime": Fraction(1, 250),
    "FNumber": 2.8,
    "ISOSpeedRatings": 400,
    "FocalLength": 50,
    "DateTimeOriginal": "2024:06:01 21:40:05",
    "OffsetTimeOriginal": "+02:00",
    "ExposureBiasValue": Fraction(-1, 3),
    "LensSpecification": (24, 70, 2.8, 4),
    "LensModel": "24-70 mm",
}
GPS = (-33.856784, 151.215297)


@pytest.fixture
def raw(tmp_path):
    path = tmp_path / "a.dng"
    dng.write_dng(
        path,
        np.arange(48 * 64, dtype=np.uint16).reshape(48, 64),
        white=4000,
        color_matrix1=np.eye(3),
        illuminant1="D65",
        as_shot_neutral=(0.5, 1, 0.6),
        orientation=8,
        exif=EXIF,
        gps=GPS,
    )
    return path


def test_the_serial_number_of_a_body_by_either_standard():
    """Tags of Exif 2.32 and of the DNG specification 1.6."""
    text = tifftags.Tag(tifftags.ASCII, "0042")
    assert capture_facts(({}, {42033: text}, {})).serial == "0042"
    assert capture_facts(({50735: text}, {}, {})).serial == "0042"


def test_facts_of_capture(raw):
    facts = capture_facts(read_exif(raw.read_bytes()))
    assert facts.make == "Invented" and facts.model == "Camera" and facts.lens == "24-70 mm"
    assert facts.time == "2024-06-01T21:40:05+02:00"
    assert (facts.shutter, facts.aperture, facts.iso, facts.focal_length) == (0.004, 2.8, 400, 50)
    assert facts.latitude == pytest.approx(GPS[0], abs=1e-6)
    assert facts.longitude == pytest.approx(GPS[1], abs=1e-6)


def test_what_is_not_stated_is_none():
    facts = capture_facts(({}, {}, {}))
    assert all(value is None for value in vars(facts).values())


@pytest.mark.parametrize(
    ("date", "offset", "subseconds", "expected"),
    [
        ("2024:06:01 21:40:05", None, None, "2024-06-01T21:40:05"),
        ("2024:06:01 21:40:05", "-03:30", "25", "2024-06-01T21:40:05.25-03:30"),
        ("2024:06:01 21:40:05", "   :  ", "", "2024-06-01T21:40:05"),
        ("0000:00:00 00:00:00", "+02:00", None, None),
        ("    :  :     :  :  ", None, None, None),
        ("2024:13:01 21:40:05", None, None, None),
    ],
)
def test_times(date, offset, subseconds, expected):
    tags = {36867: date, 36881: offset, 37521: subseconds}
    exif = {code: Tag(tifftags.ASCII, text) for code, text in tags.items() if text is not None}
    assert capture_facts(({}, exif, {})).time == expected


def test_values_out_of_reason_are_not_facts():
    exif = {33434: Tag(tifftags.RATIONAL, ((1, 0),)), 33437: Tag(tifftags.RATIONAL, ((0, 10),))}
    gps = {
        1: Tag(tifftags.ASCII, "N"),
        2: Tag(tifftags.RATIONAL, ((95, 1), (0, 1), (0, 1))),
    }
    facts = capture_facts(({}, exif, gps))
    assert facts.shutter is None and facts.aperture is None and facts.latitude is None


def carried_from(data):
    carried, warnings = carried_exif(read_exif(data))
    assert not warnings
    return carried


def test_the_block_reads_the_same_in_exifread_and_pillow(raw):
    block = exif_block(carried_from(raw.read_bytes()), 640, 480)
    tags = exifread.process_file(io.BytesIO(block), details=False)
    original = exifread.process_file(io.BytesIO(raw.read_bytes()), details=False)
    carried = [
        "Image Make", "Image Model", "Image DateTime", "EXIF ExposureTime", "EXIF FNumber",
        "EXIF ISOSpeedRatings", "EXIF FocalLength", "EXIF DateTimeOriginal",
        "EXIF OffsetTimeOriginal", "EXIF ExposureBiasValue", "EXIF LensSpecification",
        "EXIF LensModel", "GPS GPSLatitude", "GPS GPSLongitude", "GPS GPSLatitudeRef",
    ]  # fmt: skip
    for name in carried:
        assert tags[name].values == original[name].values, name
    assert tags["Image Orientation"].values == [1]
    assert tags["EXIF ExifImageWidth"].values == [640]
    assert tags["EXIF ExifImageLength"].values == [480]
    pillow = Image.Exif()
    pillow.load(b"Exif\0\0" + block)
    assert pillow[271] == "Invented"
    assert float(pillow.get_ifd(34665)[33434]) == 0.004
    assert float(pillow.get_ifd(34853)[2][0]) == 33


def test_nothing_of_the_original_file_itself_is_carried(raw):
    main, exif, _ = read_exif(raw.read_bytes())
    exif |= {
        37500: Tag(tifftags.UNDEFINED, b"maker note"),
        42033: Tag(tifftags.ASCII, "serial number"),
        40965: Tag(tifftags.LONG, (1234,)),
    }
    carried, _ = carried_exif((main | {513: Tag(tifftags.LONG, (99,))}, exif, {}))
    block = exif_block(carried, 10, 10)
    assert b"maker note" not in block and b"serial number" not in block
    main, exif, gps = read_exif(block)
    assert not {513, 273, 50721, 50706} & main.keys()
    assert not {37500, 40965, 42033} & exif.keys() and gps == {}


def test_the_block_of_a_block_is_the_same(raw):
    block = exif_block(carried_from(raw.read_bytes()), 640, 480)
    assert exif_block(carried_from(block), 640, 480) == block


def test_the_size_of_a_block_is_known_before_it_is_written(raw):
    for carried in (carried_from(raw.read_bytes()), ({}, {}, {}), ({270: Tag(2, "é" * 3)}, {}, {})):
        directories = output_directories(carried, 640, 480)
        assert tifftags.block_size(*directories) == len(exif_block(carried, 640, 480))


def big_endian_block():
    """Exif 2.32, 4.5.2, by hand: one main entry, one EXIF entry, big-endian."""
    exif = struct.pack(">HHHIHHI", 1, 34855, 3, 1, 200, 0, 0)
    main = struct.pack(">HHHIHHHHIII", 2, 274, 3, 1, 6, 0, 34665, 4, 1, 38, 0)
    return struct.pack(">2sHI", b"MM", 42, 8) + main + exif


def test_big_endian_files():
    directories = read_exif(big_endian_block())
    assert orientation(directories) == 6
    assert capture_facts(directories).iso == 200


def test_blocks_inside_other_files():
    block = big_endian_block()
    segment = struct.pack(">BBH", 0xFF, 0xE1, len(block) + 8) + b"Exif\0\0" + block
    jpeg = b"\xff\xd8" + segment + b"\xff\xda\0\x02\xff\xd9"
    preview = b"FUJIFILM".ljust(84, b"\0") + struct.pack(">II", 128, len(jpeg))
    boxes = b"".join(struct.pack(">I4s", len(b) + 8, n) + b for n, b in ((b"CMT1", block),))
    for file in (jpeg, preview.ljust(128, b"\0") + jpeg, b"\0\0\0\x18ftypcrx " + bytes(8) + boxes):
        assert orientation(read_exif(file)) == 6


def test_a_preview_that_is_none():
    """A pointer to the file itself leads nowhere."""
    assert read_exif(b"FUJIFILM".ljust(84, b"\0") + struct.pack(">II", 0, 128) + bytes(36)) == (
        {}, {}, {},
    )  # fmt: skip


def test_damaged_directories_are_read_as_far_as_they_are_sound():
    block = bytearray(big_endian_block())
    struct.pack_into(">I", block, 30, 1 << 31)  # the EXIF pointer leads nowhere
    assert orientation(read_exif(bytes(block))) == 6
    looped = struct.pack("<2sHIHI", b"II", 42, 8, 0, 8)
    assert tifftags.read_chain(looped) == [{}]
    for cut in range(len(block)):
        read_exif(bytes(block[:cut]))
