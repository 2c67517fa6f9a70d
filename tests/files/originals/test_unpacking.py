"""DNGs of lossless JPEG that are decoded here: the counts, and all facts, are those of LibRaw."""

import io
import struct

import numpy as np
import pytest
import rawpy

import dng
from files.charts import MATRIX_D65, whole
from files.damage import DEMO, lossy_dng, picture
from files.lossless import UNEVEN, in_strips, in_tiles
from grading.develop.counts import active
from grading.errors import OriginalError
from grading.files.metadata.tifftags import Tag, read_pictures, write_directories
from grading.files.originals import open_frame
from grading.files.originals.unpacking import unpacked
from tiffwriter import BYTE, LONG, SHORT

CAMERA = dict(
    white=16383, black=(400, 410, 420, 430), color_matrix1=MATRIX_D65, illuminant1="D65",
    as_shot_neutral=(0.5, 1, 0.6),
)  # fmt: skip
GREY = CAMERA | {"pattern": None, "color_matrix1": None, "as_shot_neutral": None}
LIMIT = 10**9


def counts(shape=(100, 120), precision=14):
    return np.random.default_rng(3).integers(0, 1 << precision, shape).astype(np.uint16)


def written(folder, mosaic, layout, **camera):
    path = folder / "a.dng"
    dng.write_dng(path, mosaic, compression=layout, **(CAMERA | camera))
    return path


def read(file, counts=None):
    """Counts, LibRaw's unless given, and all facts that opening an original asks LibRaw for."""
    with rawpy.imread(file) as raw:
        return raw.raw_image.copy() if counts is None else counts, (
            raw.sizes, raw.num_colors, raw.color_desc, raw.white_level, raw.black_level_per_channel,
            None if raw.raw_pattern is None else raw.raw_pattern.tolist(),
            raw.camera_whitebalance, raw.rgb_xyz_matrix.tolist(), raw.tone_curve.tolist(),
            raw.raw_type, raw.raw_image_visible.shape, [raw.raw_color(0, x) for x in (0, 1)]
            if raw.raw_type.name == "Flat" else None,
        )  # fmt: skip


def unpacked_file(content):
    return unpacked(bytes(content), read_pictures(content), LIMIT)


def assert_same_as_libraw(content):
    theirs, facts = read(io.BytesIO(content))
    ours, our_facts = read(*unpacked_file(content))
    np.testing.assert_array_equal(ours, theirs)
    assert our_facts == facts
    return ours


@pytest.mark.parametrize("predictor", range(1, 8))
@pytest.mark.parametrize(("precision", "components"), [(16, 1), (14, 2), (12, 1), (12, 4)])
def test_every_precision_and_predictor(tmp_path, precision, components, predictor):
    mosaic = counts(precision=precision)
    layout = in_tiles(32, 48, components, precision=precision, predictor=predictor)
    content = written(tmp_path, mosaic, layout).read_bytes()
    np.testing.assert_array_equal(assert_same_as_libraw(content), mosaic)


LAYOUTS = {
    "tiles that overhang": (counts((101, 123)), in_tiles(32, 48, 2, precision=14), {}),
    "one component": (counts((101, 123)), in_tiles(48, 32, 1, precision=14), {}),
    "two rows in one": (counts(), in_tiles(32, 48, 2, lines=2, precision=14), {}),
    "codes up to 16 bits": (counts(), in_tiles(32, 32, 2, precision=14, lengths=UNEVEN), {}),
    "restarts": (counts(), in_tiles(32, 32, 2, precision=14, interval_rows=8), {}),
    "restart at each row": (counts(), in_tiles(32, 32, 2, precision=14, interval_rows=1), {}),
    "one strip": (counts(), in_strips(100, 2, precision=14), {}),
    "an odd strip": (counts((101, 123)), in_strips(101, 1, precision=14), {}),
    "areas": (
        counts((101, 123)),
        in_tiles(32, 48, 2, precision=14),
        {"active_area": (3, 5, 99, 121), "default_crop": (2, 4, 80, 70)},
    ),
    "14 bits stated": (counts(), in_tiles(32, 32, 2, precision=14, tags={258: (SHORT, 14)}), {}),
    "12 bits stated": (
        counts(precision=12),
        in_tiles(32, 32, 2, precision=12, tags={258: (SHORT, 12)}),
        {"white": 4095},
    ),
    "every colour at each pixel": (counts((64, 96, 3)), in_tiles(32, 48, 3, precision=14), {}),
    "every colour, one strip": (counts((64, 96, 3)), in_strips(64, 3, precision=14), {}),
    "monochrome": (counts(), in_tiles(32, 48, 1, precision=14), GREY),
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_layout(tmp_path, name):
    mosaic, layout, camera = LAYOUTS[name]
    content = written(tmp_path, mosaic, layout, **camera).read_bytes()
    ours = assert_same_as_libraw(content)
    np.testing.assert_array_equal(ours if mosaic.ndim == 2 else ours[..., :3], mosaic)


@pytest.mark.parametrize(("precision", "entries"), [(14, 16384), (14, 1024), (8, 256)])
def test_a_table_of_linearisation_is_still_applied(tmp_path, precision, entries):
    """DNG LinearizationTable; what is beyond its end takes its last value."""
    mosaic, table = counts(precision=precision), np.arange(entries) ** 2 // entries * 3 + 5
    tags = {258: (SHORT, 8 if precision == 8 else 16), 50712: (SHORT, table)}
    layout = in_tiles(32, 32, 2, precision=precision, tags=tags)
    content = written(tmp_path, mosaic, layout, white=50000).read_bytes()
    expected = table[np.minimum(mosaic, entries - 1)]
    np.testing.assert_array_equal(assert_same_as_libraw(content), expected)


def big_endian(content):
    """A TIFF of one directory in the other order of bytes (TIFF 6.0, section 2)."""
    changed = bytearray(content)
    (start,) = struct.unpack_from("<I", content, 4)
    (entries,) = struct.unpack_from("<H", content, start)
    struct.pack_into(">2sHI", changed, 0, b"MM", 42, start)
    struct.pack_into(">H", changed, start, entries)
    for place in range(start + 2, start + 2 + 12 * entries, 12):
        code, kind, count, value = struct.unpack_from("<HHII", content, place)
        struct.pack_into(">HHII", changed, place, code, kind, count, value)
        width = {1: 1, 2: 1, 3: 2, 4: 4, 5: 4, 7: 1, 10: 4}[kind]
        size = count * width * (2 if kind in (5, 10) else 1)
        at = place + 8 if size <= 4 else value
        values = np.frombuffer(content, f"<u{width}", size // width, at)
        changed[at : at + size] = values.astype(f">u{width}").tobytes()
    return bytes(changed)


def test_the_other_order_of_bytes(tmp_path):
    mosaic = counts((101, 123))
    content = written(tmp_path, mosaic, in_tiles(32, 48, 2, precision=14)).read_bytes()
    np.testing.assert_array_equal(assert_same_as_libraw(big_endian(content)), mosaic)


def behind_a_preview(content):
    """The same file with a main directory of a preview, and that of the raw below it."""
    (raw,) = read_pictures(content)
    preview = {254: 1, 256: 8, 257: 8, 259: 1, 262: 2, 273: len(content), 277: 3, 278: 8, 279: 192}
    main = {code: tag for code, tag in raw.items() if code in (271, 272) or code > 50700}
    main |= {code: Tag(LONG, (number,)) for code, number in preview.items()}
    main |= {258: Tag(SHORT, (8, 8, 8)), 330: Tag(LONG, (raw.start,))}
    changed = bytearray(content + bytes(192))
    changed[4:8] = len(changed).to_bytes(4, "little")
    return bytes(changed + write_directories(main, {}, len(changed)))


def test_a_raw_behind_a_preview(tmp_path):
    mosaic = counts()
    content = written(tmp_path, mosaic, in_tiles(32, 48, 2, precision=14)).read_bytes()
    np.testing.assert_array_equal(assert_same_as_libraw(behind_a_preview(content)), mosaic)


@pytest.mark.parametrize(
    "layout",
    [
        in_strips(32, 2, precision=14),
        in_strips(32, 2, padded=True, precision=14),
        in_strips(1, 1, precision=14),
        in_tiles(256, 256, 2, precision=14),
        in_tiles(32, 32, 2, precision=14, predictor=4, interval_rows=8),
    ],
    ids=["strips", "padded strips", "rows", "a tile larger than all", "restarts and above"],
)
def test_what_libraw_alone_gets_wrong(tmp_path, layout):
    """It decodes the first strip only, and so on; there is no third reading but the truth."""
    mosaic = counts()
    path = written(tmp_path, mosaic, layout)
    np.testing.assert_array_equal(read(*unpacked_file(path.read_bytes()))[0], mosaic)


def stored(rows=100, tags=()):
    """A mosaic that is not compressed, in strips of so many rows."""

    def layout(mosaic):
        parts = [mosaic[top : top + rows].tobytes() for top in range(0, len(mosaic), rows)]
        plain = {258: (SHORT, 16), 259: (SHORT, 1), 278: (LONG, rows)}
        return dng.Layout(plain | dict(tags), parts)

    return layout


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("pattern", ["RGGB", "GBRG"])
@pytest.mark.parametrize("layout", [stored(), stored(17)], ids=["a strip", "strips"])
def test_counts_that_lie_there_are_not_copied(tmp_path, layout, pattern, swapped):
    mosaic = counts((100, 123), 16)
    areas = {"active_area": (3, 5, 99, 121), "default_crop": (2, 4, 80, 70)}
    content = written(tmp_path, mosaic, layout, white=65535, pattern=pattern, **areas).read_bytes()
    if swapped:
        at = content.index(mosaic.tobytes())
        content = bytearray(big_endian(content))
        content[at : at + mosaic.nbytes] = mosaic.byteswap().tobytes()
    assert_same_as_libraw(bytes(content))
    assert unpacked_file(content)[1].base is not None


MASKED = {50830: (LONG, (0, 0, 100, 4))}
SEEN_BY_LIBRAW = {
    "a table of linearisation": {50712: (SHORT, np.arange(16384) // 2)},
    "black in masked areas alone": MASKED | {50714: (SHORT, ())},
    "other colours": {33422: (BYTE, (0, 1, 1, 1))},
    "colours in another order": {50710: (BYTE, (2, 1, 0))},
}


@pytest.mark.parametrize("name", SEEN_BY_LIBRAW)
@pytest.mark.parametrize("packed", [False, True])
def test_libraw_sees_counts_that_it_changes_or_learns_from(tmp_path, packed, name):
    tags = SEEN_BY_LIBRAW[name]
    layout = in_tiles(32, 32, 2, precision=14, tags=tags) if packed else stored(tags=tags)
    content = written(tmp_path, counts(), layout).read_bytes()
    file, found = unpacked_file(content)
    assert found is None and (file is not None) == packed


def test_a_frame_is_that_of_the_file_that_is_not_compressed(tmp_path):
    mosaic = counts((130, 150))
    plain = open_frame(written(tmp_path, mosaic, None))
    for layout in (in_tiles(64, 64, 2, precision=14), in_strips(50, 2, precision=14)):
        packed = open_frame(written(tmp_path, mosaic, layout))
        np.testing.assert_array_equal(whole(packed), whole(plain))
        assert packed.facts.noise == plain.facts.noise
        assert packed.facts.sha256 != plain.facts.sha256


NOT_COVERED = {
    "no white level": in_tiles(32, 32, 2, 1, {258: (SHORT, 14), 50717: (SHORT, ())}, precision=14),
    "fields of rows": in_tiles(32, 32, 2, precision=14, tags={50975: (LONG, 2)}),
    "two planes": in_tiles(32, 32, 2, precision=14, tags={284: (SHORT, 2)}),
    "lines that do not fit": in_tiles(32, 32, 2, precision=14, tags={322: (LONG, 30)}),
    "too few rows": in_tiles(32, 32, 2, precision=14, tags={323: (LONG, 33)}),
}


@pytest.mark.parametrize("name", NOT_COVERED)
def test_other_layouts_are_left_to_libraw(tmp_path, name):
    content = written(tmp_path, counts(), NOT_COVERED[name]).read_bytes()
    assert unpacked_file(content) == (None, None)


def test_other_codings_are_left_to_libraw(tmp_path):
    assert unpacked_file(lossy_dng(picture())) == (None, None)
    content = written(tmp_path, counts(), in_tiles(32, 32, 2, precision=14)).read_bytes()
    shifted = bytearray(content)
    shifted[shifted.index(b"\xff\xda") + 11] = 1  # the last header byte: a point transform of 1
    assert unpacked_file(shifted) == (None, None)


def test_several_strips_that_nothing_here_decodes_are_refused(tmp_path):
    """LibRaw would leave in all but the first what the memory held."""
    layout = in_strips(50, 2, precision=14, tags={50975: (LONG, 2)})
    with pytest.raises(OriginalError, match="2 strips of JPEG, of which LibRaw decodes one"):
        open_frame(written(tmp_path, counts(), layout))


def test_a_picture_of_too_many_pixels_is_refused_before_it_is_decoded(tmp_path):
    path = written(tmp_path, counts(), in_tiles(32, 32, 2, precision=14))
    with pytest.raises(OriginalError, match="a picture of 120 x 100 pixels"):
        open_frame(path, max_pixels=100 * 120 - 1)


def test_a_damaged_strip_is_named(tmp_path):
    path = written(tmp_path, counts(), in_strips(25, 2, precision=14))
    content = bytearray(path.read_bytes())
    starts = [n for n in range(len(content)) if content[n : n + 2] == b"\xff\xd8"]
    content[starts[2] + 200 : starts[2] + 400] = bytes(200)
    path.write_bytes(content)
    with pytest.raises(OriginalError, match="part 3 of the 4 parts"):
        open_frame(path)


def test_two_sizes_of_a_picture_are_refused():
    with rawpy.imread(str(DEMO)) as raw, pytest.raises(ValueError, match="two"):
        active(np.zeros((1024, 1535), np.uint16), raw.sizes)
