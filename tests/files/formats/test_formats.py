"""Encoders, read back by Pillow, tifffile and exifread."""

import io
import struct

import exifread
import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image

from grading.colour.profiles import icc_profile
from grading.errors import OutputError
from grading.files.formats.jpeg import encode_jpeg
from grading.files.formats.record import Attached, Header
from grading.files.formats.registry import FORMATS
from grading.files.formats.tiff import encode_tiff
from grading.files.metadata import tifftags
from grading.files.metadata.boxes import add_items
from grading.files.metadata.containers import add_to_jpeg
from grading.files.metadata.tifftags import Tag
from grading.files.originals import open_frame

ICC = icc_profile("display-p3")
MAIN = {271: Tag(tifftags.ASCII, "Invented"), 33432: Tag(tifftags.ASCII, "© someone")}
EXIF = {33434: Tag(tifftags.RATIONAL, ((1, 125),)), 37380: Tag(tifftags.SRATIONAL, ((-2, 3),))}
GPS = {1: Tag(tifftags.ASCII, "N"), 2: Tag(tifftags.RATIONAL, ((52, 1), (30, 1), (0, 1)))}
CARRIED = (MAIN, EXIF, GPS)
RNG = np.random.default_rng(1)
PICTURE8 = np.kron(RNG.integers(0, 256, (6, 9, 3), dtype=np.uint8), np.ones((8, 8, 1), np.uint8))
PICTURE16 = RNG.integers(0, 65536, (37, 53, 3), dtype=np.uint16)
PICTURES = {8: PICTURE8, 10: PICTURE16 >> 6, 16: PICTURE16}
XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>any</x:xmpmeta>"


def space_for(record):
    """One that is not the default, where the format can state it."""
    return "display-p3" if "display-p3" in (record.spaces or ("display-p3",)) else "srgb"


def decoded(record, file):
    """Codes by a reader that is not ours."""
    if record.suffix == ".tif":
        return tifffile.imread(io.BytesIO(file))
    kind = {".jpg": "jpeg8", ".png": "png", ".avif": "avif", ".jxl": "jpegxl"}[record.suffix]
    return getattr(imagecodecs, f"{kind}_decode")(file)


def facts_of(record, file):
    """EXIF of the main directory by Pillow, which reads no JPEG XL; there from the box itself."""
    if record.suffix != ".jxl":
        with Image.open(io.BytesIO(file)) as image:
            return dict(image.getexif())
    exif = Image.Exif()
    exif.load(file[file.index(b"Exif\0\0\0\0") + 8 :])
    return dict(exif)


def carried(file):
    tags = exifread.process_file(io.BytesIO(file), details=False)
    return {name: tags[name].values for name in (
        "Image Make", "EXIF ExposureTime", "EXIF ExposureBiasValue", "GPS GPSLatitude",
        "EXIF ExifImageWidth", "EXIF ExifImageLength", "Image Orientation",
    )}  # fmt: skip


@pytest.mark.parametrize("kind", ["jpeg", "tiff"])
def test_exif_and_profile_come_back(kind):
    if kind == "jpeg":
        file, (height, width) = encode_jpeg(PICTURE8, ICC, CARRIED, 95), PICTURE8.shape[:2]
    else:
        file, (height, width) = encode_tiff(PICTURE16, ICC, CARRIED), PICTURE16.shape[:2]
    tags = carried(file)
    assert tags["Image Make"] == "Invented"
    assert [float(v) for v in tags["EXIF ExposureTime"]] == [0.008]
    assert [float(v) for v in tags["EXIF ExposureBiasValue"]] == pytest.approx([-2 / 3])
    assert [float(v) for v in tags["GPS GPSLatitude"]] == [52, 30, 0]
    assert tags["EXIF ExifImageWidth"] == [width] and tags["EXIF ExifImageLength"] == [height]
    assert tags["Image Orientation"] == [1]
    if kind == "jpeg":
        with Image.open(io.BytesIO(file)) as image:
            assert image.info["icc_profile"] == ICC
            assert image.getexif().get_ifd(34853)[1] == "N"
            assert image.getexif()[33432].encode("latin-1").decode() == "© someone"


def test_tiff_is_exact_in_tifffile():
    file = encode_tiff(PICTURE16, ICC, CARRIED)
    with tifffile.TiffFile(io.BytesIO(file)) as read:
        page = read.pages[0]
        np.testing.assert_array_equal(page.asarray(), PICTURE16)
        assert page.iccprofile == ICC
        assert page.tags[34665].value["ExposureTime"] == (1, 125)
        assert page.tags[34853].value["GPSLatitudeRef"] == "N"


def test_tiff_of_a_view_and_without_exif():
    view = PICTURE16[::-1, ::2]
    with tifffile.TiffFile(io.BytesIO(encode_tiff(view, ICC, None))) as read:
        np.testing.assert_array_equal(read.pages[0].asarray(), view)


def test_jpeg_keeps_full_chroma():
    file = encode_jpeg(PICTURE8, ICC, None, 100)
    with Image.open(io.BytesIO(file)) as image:
        assert [layer[1:3] for layer in image.layer] == [(1, 1)] * 3
        assert np.abs(np.asarray(image, int) - PICTURE8).max() <= 3


def test_quality_changes_the_tables():
    sizes = [len(encode_jpeg(PICTURE8, ICC, None, quality)) for quality in (50, 80, 95)]
    assert sizes == sorted(set(sizes))


def test_the_same_input_gives_the_same_bytes():
    assert encode_jpeg(PICTURE8, ICC, CARRIED, 90) == encode_jpeg(PICTURE8, ICC, CARRIED, 90)
    assert encode_tiff(PICTURE16, ICC, CARRIED) == encode_tiff(PICTURE16, ICC, CARRIED)


def test_a_large_profile_is_split_and_put_together_again():
    profile = bytes(RNG.integers(0, 256, 200_000, dtype=np.uint8))
    file = encode_jpeg(PICTURE8, profile, CARRIED, 90)
    with Image.open(io.BytesIO(file)) as image:
        assert image.info["icc_profile"] == profile
    assert carried(file)["Image Make"] == "Invented"


@pytest.mark.parametrize(("srgb", "expected"), [(True, 1), (False, 65535)])
def test_exif_says_srgb_where_it_is(srgb, expected):
    """Exif 2.32, 4.6.5, ColorSpace: 1 is sRGB, 65535 is uncalibrated."""
    jpeg = encode_jpeg(PICTURE8, ICC, CARRIED, 90, srgb)
    for file in (jpeg, encode_tiff(PICTURE16, ICC, CARRIED, srgb=srgb)):
        tags = exifread.process_file(io.BytesIO(file))
        assert tags["EXIF ColorSpace"].values == [expected]


TEXTS = {270: "d" * 70_000, 315: "é" * 40_000, 33432: "© someone"}


def test_text_too_long_for_a_jpeg_is_shortened():
    """The longest first; what is short stays, and what is no text. Exif 2.32, 4.7.2: 64 KiB."""
    main = MAIN | {code: Tag(tifftags.ASCII, text) for code, text in TEXTS.items()}
    exif = main, EXIF, GPS
    file = encode_jpeg(PICTURE8, ICC, exif, 90)
    with Image.open(io.BytesIO(file)) as image:
        assert image.size == (72, 48)
        assert len(image.info["exif"]) <= 65533
        found = {code: image.getexif()[code].encode("latin-1").decode() for code in TEXTS}
    assert found[33432] == TEXTS[33432]
    for code in (270, 315):
        assert 10_000 < len(found[code]) < len(TEXTS[code])
        assert TEXTS[code].startswith(found[code])
    assert carried(file)["GPS GPSLatitude"]
    with tifffile.TiffFile(io.BytesIO(encode_tiff(PICTURE16, ICC, exif))) as read:
        assert read.pages[0].tags[270].value == TEXTS[270]


def test_what_is_no_text_and_too_long_for_a_jpeg_is_left_out():
    many = ((1, 2),) * 9000
    exif = EXIF | {41995: Tag(tifftags.UNDEFINED, b""), 42034: Tag(tifftags.RATIONAL, many)}
    file = encode_jpeg(PICTURE8, ICC, (MAIN, exif, GPS), 90)
    assert carried(file)["Image Make"] == "Invented"
    with Image.open(io.BytesIO(file)) as image:
        assert 42034 not in image.getexif().get_ifd(34665)


def test_an_original_whose_text_is_too_long_opens_with_a_note(tmp_path):
    main = MAIN | {270: Tag(tifftags.ASCII, TEXTS[270])}
    path = tmp_path / "a.tif"
    path.write_bytes(encode_tiff(PICTURE16, ICC, (main, EXIF, GPS)))
    frame = open_frame(path)
    (warning,) = frame.facts.warnings
    assert "EXIF text is longer than a JPEG can carry" in warning
    assert encode_jpeg(PICTURE8, ICC, frame.exif, 90)


def test_an_exif_block_too_large_for_jpeg_is_refused():
    with pytest.raises(OutputError, match="the EXIF block has"):
        add_to_jpeg(encode_jpeg(PICTURE8, ICC, None, 90), exif=bytes(70_000))


@pytest.mark.parametrize("long", [(1, 65500), (65500, 1)])
def test_a_picture_longer_than_decoders_take_is_refused(long):
    jpeg = encode_jpeg(np.zeros((*long, 3), np.uint8), ICC, None, 90)
    with Image.open(io.BytesIO(jpeg)) as image:
        image.load()
    rows, columns = longer = tuple(side + (side > 1) for side in long)
    with pytest.raises(OutputError, match=f"JPEG of {columns} x {rows} pixels; allowed: .* 65500"):
        encode_jpeg(np.zeros((*longer, 3), np.uint8), ICC, None, 90)


@pytest.mark.parametrize("suffix", ["jpg", "tif"])
def test_outputs_open_as_originals(tmp_path, suffix):
    path = tmp_path / f"a.{suffix}"
    encoded = {
        "jpg": encode_jpeg(PICTURE8, ICC, CARRIED, 95),
        "tif": encode_tiff(PICTURE16, ICC, CARRIED),
    }
    path.write_bytes(encoded[suffix])
    frame = open_frame(path)
    assert frame.facts.warnings == ()
    assert frame.facts.capture.shutter == 0.008 and frame.facts.capture.latitude == 52.5


@pytest.mark.parametrize("record", FORMATS.values(), ids=FORMATS)
def test_a_record_says_what_its_files_hold(record):
    """So that a new format is one module and a line of the registry: all else asks its record."""
    picture, attached = PICTURES[record.bits], Attached(space_for(record), CARRIED, XMP)
    file = record.encode(picture, attached, 90, 1)
    height, width = picture.shape[:2]
    said = Header(width, height, record.bits, attached.space, XMP)
    assert record.read_header(io.BytesIO(file)) == said
    assert facts_of(record, file)[271] == "Invented"
    assert (record.encode(picture, attached, 50, 1) != file) == record.has_quality
    for other in FORMATS.values():
        found = other.read_header(io.BytesIO(file))
        assert found is None or (found.bits, other.suffix) != (other.bits, record.suffix) or (
            other is record
        )


@pytest.mark.parametrize("record", FORMATS.values(), ids=FORMATS)
def test_grey_has_one_channel_and_a_space_of_its_own(record):
    grey = np.ascontiguousarray(PICTURES[record.bits][..., 0])
    file = record.encode(grey, Attached("grey", CARRIED), 100, 1)
    assert record.read_header(io.BytesIO(file)) == (*grey.shape[::-1], record.bits, "grey", None)
    assert decoded(record, file).shape == grey.shape


@pytest.mark.parametrize("record", FORMATS.values(), ids=FORMATS)
def test_no_number_of_threads_changes_a_byte(record):
    """Beyond a strip of a JPEG, and beyond the tiles that encoders share out among threads."""
    rows, columns = np.mgrid[:600, :700]
    shade = (rows + columns + RNG.integers(0, 30, rows.shape)) / 1400
    codes = np.round(shade * (2**record.bits - 1))[..., None] * np.ones(3)
    codes = codes.astype(np.uint8 if record.bits == 8 else np.uint16)
    files = {record.encode(codes, Attached("srgb", CARRIED), 90, n) for n in (1, 2, 4)}
    assert len(files) == 1


@pytest.mark.parametrize("record", FORMATS.values(), ids=FORMATS)
def test_a_file_cut_off_or_of_noise_has_no_header_or_another(record):
    """Read without an error of any kind: what a person checks may be damaged."""
    file = record.encode(PICTURES[record.bits], Attached(space_for(record), CARRIED, XMP), 90, 1)
    whole = record.read_header(io.BytesIO(file))
    for end in (0, 1, 3, 9, 13, 21, 30, 50, 100, 200):
        assert record.read_header(io.BytesIO(file[:end])) != whole
    for seed in range(40):
        noisy, rng = bytearray(file), np.random.default_rng(seed)
        for place in rng.integers(2, min(len(noisy), 900), 8):
            noisy[place] = rng.integers(256)
        record.read_header(io.BytesIO(bytes(noisy)))


@pytest.mark.parametrize("record", FORMATS.values(), ids=FORMATS)
def test_exif_is_parsed_once_and_written_once(record, tmp_path, monkeypatch):
    """When the original is opened, and into the output; never in between."""
    path = tmp_path / "a.jpg"
    path.write_bytes(encode_jpeg(PICTURE8, ICC, CARRIED, 90))
    frame = open_frame(path)
    monkeypatch.setattr(tifftags._Reader, "__init__", None)  # whoever parses from here on fails
    assert record.encode(PICTURES[record.bits], Attached("srgb", frame.exif), 90, 1)


def test_a_jpeg_xl_that_would_state_another_colour_is_refused():
    """The encoder says of 16-bit codes that they are linear: nobody would see what was meant."""
    with pytest.raises(OutputError, match="does not state the space srgb; deliver another format"):
        FORMATS["jxl"].encode(PICTURE16, Attached("srgb"), 90, 1)


def test_a_jpeg_xl_of_quality_100_is_exact():
    file = FORMATS["jxl"].encode(PICTURE8, Attached("srgb", CARRIED, XMP), 100, 2)
    np.testing.assert_array_equal(imagecodecs.jpegxl_decode(file), PICTURE8)


@pytest.mark.parametrize("size", [(1, 1), (8, 8), (8, 300), (256, 264), (37, 700), (600, 800)])
def test_sizes_come_back_from_the_head_of_a_jpeg_xl(size):
    """Sides are stored in several ways: by eights, by a ratio, with 9, 13 or more bits."""
    for shape in ((*size, 3), size, (*size[::-1], 3)):
        file = FORMATS["jxl"].encode(np.zeros(shape, np.uint8), Attached(
            "srgb" if len(shape) == 3 else "grey"), 90, 1)  # fmt: skip
        found = FORMATS["jxl"].read_header(io.BytesIO(file))
        assert (found.height, found.width) == shape[:2]


@pytest.mark.parametrize("space", ["srgb", "display-p3", "bt2020", "grey"])
def test_an_avif_states_its_code_points(space):
    """ITU-T H.273 and ISO/IEC 14496-12, 12.1.5: colr box of kind nclx, of the full range."""
    shape = (16, 24) if space == "grey" else (16, 24, 3)
    file = FORMATS["avif"].encode(np.full(shape, 700, np.uint16), Attached(space), 90, 1)
    points = {"srgb": (1, 13), "display-p3": (12, 13), "bt2020": (9, 14), "grey": (1, 13)}[space]
    place = file.index(b"colrnclx") + 8
    assert struct.unpack_from(">HHHB", file, place) == (*points, 6, 0x80)
    assert np.abs(imagecodecs.avif_decode(file).astype(int) - 700).max() <= 2


def test_items_do_not_change_the_pixels_of_an_avif():
    plain = FORMATS["avif"].encode(PICTURES[10], Attached("srgb"), 90, 1)
    file = FORMATS["avif"].encode(PICTURES[10], Attached("srgb", CARRIED, XMP), 90, 1)
    np.testing.assert_array_equal(imagecodecs.avif_decode(file), imagecodecs.avif_decode(plain))
    tags = exifread.process_file(io.BytesIO(file))
    assert str(tags["Image Make"]) == "Invented"
    with Image.open(io.BytesIO(file)) as image:
        assert image.info["xmp"] == XMP and image.getexif().get_ifd(34853)[1] == "N"


@pytest.mark.parametrize("quality", [20, 90])
def test_a_grey_avif_is_exact(quality):
    grey = np.ascontiguousarray(PICTURES[10][..., 0])
    file = FORMATS["avif"].encode(grey, Attached("grey"), quality, 1)
    np.testing.assert_array_equal(imagecodecs.avif_decode(file), grey)


def test_an_avif_of_a_layout_that_nobody_knows_is_refused():
    """Rather than a file whose pixels lie elsewhere than it says."""
    plain = FORMATS["avif"].encode(PICTURES[10], Attached("srgb"), 90, 1)
    place = plain.index(b"iloc") + 4
    for other in (plain[:place] + b"\1" + plain[place + 1 :], b"", plain.replace(b"pitm", b"free")):
        with pytest.raises(OutputError, match="unknown way; deliver another format"):
            add_items(other, xmp=XMP)
    assert add_items(plain) == plain
