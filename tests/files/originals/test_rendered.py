"""Rendered originals; LittleCMS and Pillow are the oracles."""

import io
import struct
import zlib

import colour
import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms, ImageOps

from grading.colour import transfer
from grading.colour.profiles import icc_profile
from grading.colour.spaces import SPACES, WORKING, rgb_to_rgb, xyz_to_rgb
from grading.errors import OriginalError
from grading.files.originals import open_frame
from grading.region import Region

RNG = np.random.default_rng(3)
NOISE8 = RNG.integers(0, 256, (40, 56, 3), dtype=np.uint8)
NOISE16 = RNG.integers(0, 65536, (40, 56, 3), dtype=np.uint16)
PROFILES = ("srgb", "display-p3", "bt2020", "oprgb")


def whole(frame):
    return frame.pixels.read(frame.region)


def to_srgb8(planes):
    """8-bit sRGB codes, shape (H, W, 3), of the working light."""
    linear = np.tensordot(planes, rgb_to_rgb(WORKING, SPACES["srgb"]), axes=(0, 1))
    return np.round(255 * np.clip(transfer.encode("srgb", linear), 0, 1)).astype(int)


def smooth(height=64, width=64):
    y, x = np.mgrid[0:1:height * 1j, 0:1:width * 1j]
    return np.round(np.stack([x, y, (x + y) / 2], axis=-1) * 255).astype(np.uint8)


def save(path, picture, **options):
    Image.fromarray(picture).save(path, **options)
    return path


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_8_bit_through_the_profile_agrees_with_littlecms(tmp_path, profile, suffix):
    icc = icc_profile(profile)
    path = save(tmp_path / f"a.{suffix}", NOISE8, icc_profile=icc)
    frame = open_frame(path)
    assert frame.facts.camera is None and frame.facts.warnings == ()
    expected = ImageCms.profileToProfile(
        Image.fromarray(NOISE8),
        ImageCms.ImageCmsProfile(io.BytesIO(icc)),
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    assert np.abs(to_srgb8(whole(frame)) - np.asarray(expected, int)).max() <= 1


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_16_bit_keeps_its_precision(tmp_path, profile, suffix):
    """Linear light agrees with LittleCMS in floating point, far below one code of 8 bit."""
    path = tmp_path / f"a.{suffix}"
    icc = icc_profile(profile)
    if suffix == "tif":
        tifffile.imwrite(path, NOISE16, photometric="rgb", iccprofile=icc)
    else:
        path.write_bytes(with_png_profile(imagecodecs.png_encode(NOISE16), icc))
    linear = imagecodecs.cms_profile(
        "rgb", whitepoint=WORKING.white, primaries=np.ravel(WORKING.primaries), gamma=1.0
    )
    expected = imagecodecs.cms_transform(
        NOISE16, icc, linear, colorspace="rgb", outcolorspace="rgb", outdtype=np.float32, intent=1
    )
    # profiles round their matrices to 1/65536
    np.testing.assert_allclose(whole(open_frame(path)).transpose(1, 2, 0), expected, atol=6e-5)


def test_every_code_of_16_bit_is_another_light(tmp_path):
    ramp = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    path = tmp_path / "a.tif"
    icc = icc_profile("srgb")
    tifffile.imwrite(path, np.stack([ramp] * 3, -1), photometric="rgb", iccprofile=icc)
    assert np.all(np.diff(whole(open_frame(path)).reshape(3, -1)) > 0)


@pytest.mark.parametrize(
    "curve",
    [
        b"curv" + struct.pack(">II", 0, 0),
        b"curv" + struct.pack(">IIH", 0, 1, 563),
        b"curv"
        + struct.pack(">II1024H", 0, 1024, *np.uint16(np.linspace(0, 1, 1024) ** 1.8 * 65535)),
        b"para" + struct.pack(">IHHi", 0, 0, 0, 2 << 16),
        b"para" + struct.pack(">IHH3i", 0, 1, 0, 2 << 16, 60000, 5536),
        b"para" + struct.pack(">IHH4i", 0, 2, 0, 2 << 16, 60000, 3000, 2536),
        b"para" + struct.pack(">IHH5i", 0, 3, 0, 157286, 62119, 3417, 5072, 2651),
        b"para" + struct.pack(">IHH7i", 0, 4, 0, 157286, 60000, 3417, 5072, 2651, 1000, 900),
    ],
)
def test_all_kinds_of_curves_agree_with_littlecms(tmp_path, curve):
    """ICC.1:2022, 10.6 and 10.18."""
    icc = rebuilt(icc_profile("srgb"), {b"rTRC": curve, b"gTRC": curve, b"bTRC": curve})
    frame = open_frame(save(tmp_path / "a.png", NOISE8, icc_profile=icc))
    linear = imagecodecs.cms_profile(
        "rgb", whitepoint=WORKING.white, primaries=np.ravel(WORKING.primaries), gamma=1.0
    )
    expected = imagecodecs.cms_transform(
        NOISE8, icc, linear, colorspace="rgb", outcolorspace="rgb", outdtype=np.float32, intent=1
    )
    np.testing.assert_allclose(whole(frame).transpose(1, 2, 0), expected, atol=1e-4)


def rebuilt(icc, changed):
    """A profile with some of its tags exchanged (ICC.1:2022, 7.3)."""
    count = struct.unpack_from(">I", icc, 128)[0]
    tags = {}
    for i in range(count):
        name, offset, size = struct.unpack_from(">4sII", icc, 132 + 12 * i)
        tags[name] = icc[offset : offset + size]
    return assembled(icc[4:128], tags | changed)


def assembled(header, tags):
    """A profile of a header (without its size field) and tags."""
    offset, table, body = 132 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        table += struct.pack(">4sII", name, offset + len(body), len(content))
        body += content + b"\0" * (-len(content) % 4)
    return struct.pack(">I", 128 + len(table) + len(body)) + header + table + body


def with_png_profile(png, icc):
    """A PNG with an iCCP chunk after its header (W3C PNG, 11.3.3.3)."""
    content = b"profile\0\0" + zlib.compress(icc)
    crc = zlib.crc32(b"iCCP" + content)
    chunk = struct.pack(">I4s", len(content), b"iCCP") + content + struct.pack(">I", crc)
    return png[:33] + chunk + png[33:]


def test_a_table_profile_goes_through_littlecms(tmp_path):
    """Profiles with multi-dimensional tables: Lab pictures aside, LittleCMS can make one."""
    icc = table_profile()
    path = save(tmp_path / "a.png", NOISE8, icc_profile=icc)
    planes = whole(open_frame(path))
    lab = NOISE8 / 255  # the table turns R, G, B into Lab of the PCS (16-bit Lab, mft2)
    encoded = np.round(lab * 65535)
    L, a, b = (encoded[..., 0] / 652.8, *(encoded[..., i] / 256 - 128 for i in (1, 2)))
    d50 = np.array([0.9642, 1.0, 0.8249])
    xyz = colour.Lab_to_XYZ(np.stack([L, a, b], -1), colour.XYZ_to_xy(d50))
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        d50, colour.xy_to_XYZ((0.3127, 0.3290)), transform="Bradford"
    )
    expected = xyz @ adapt.T @ xyz_to_rgb(WORKING).T
    np.testing.assert_allclose(planes.transpose(1, 2, 0), expected, atol=2e-3)


@pytest.mark.parametrize("white", [(63190, 65536, 54061), (62288, 65536, 71372)])
def test_a_table_profile_is_read_media_relative(tmp_path, white):
    """ICC.1:2022, 6.3: of its tables the colorimetric one, whatever white its medium has."""
    identity = save(tmp_path / "a.png", NOISE8, icc_profile=table_profile())
    icc = table_profile(white, {b"A2B0": TURNED, b"A2B1": STRAIGHT})
    several = save(tmp_path / "b.png", NOISE8, icc_profile=icc)
    np.testing.assert_allclose(whole(open_frame(several)), whole(open_frame(identity)), atol=1e-5)


def lab_table(turned):
    """An mft2 tag that takes RGB for Lab of the PCS; all reversed, if turned."""
    grid = np.stack(np.meshgrid(*[[0, 65535]] * 3, indexing="ij"), -1).reshape(-1)
    table = struct.pack(">4sI4B", b"mft2", 0, 3, 3, 2, 0)
    table += struct.pack(">9i", *(np.eye(3).ravel() * 65536).astype(int))
    table += struct.pack(">HH", 2, 2) + struct.pack(">6H", *[0, 65535] * 3)
    table += struct.pack(f">{len(grid)}H", *(grid[::-1] if turned else grid))
    return table + struct.pack(">6H", *[0, 65535] * 3)


STRAIGHT, TURNED = lab_table(False), lab_table(True)


def table_profile(white=(63190, 65536, 54061), tables=None):
    """An ICC v2 profile whose tables go from RGB to Lab of the PCS; by default a straight A2B0."""
    media = struct.pack(">4sI3i", b"XYZ ", 0, *white)
    text = b"text\0\0\0\0none\0"
    desc = struct.pack(">4sII5s", b"desc", 0, 5, b"test\0") + b"\0" * 79
    header = struct.pack(
        ">4sI4s4s4s12x4s24xI3i48x", b"", 0x02400000, b"scnr", b"RGB ", b"Lab ", b"acsp",
        0, 63190, 65536, 54061,
    )  # fmt: skip
    tags = {b"desc": desc, b"cprt": text, b"wtpt": media}
    return assembled(header, tags | (tables or {b"A2B0": STRAIGHT}))


def test_no_profile_is_taken_as_srgb_and_told(tmp_path):
    frame = open_frame(save(tmp_path / "a.png", NOISE8))
    assert frame.facts.warnings == ("the file carries no colour profile; sRGB is assumed",)
    np.testing.assert_array_equal(to_srgb8(whole(frame)), NOISE8)


def test_a_file_that_says_srgb_is_not_warned_of(tmp_path):
    exif = Image.Exif()
    exif.get_ifd(34665)[40961] = 1
    frame = open_frame(save(tmp_path / "a.jpg", smooth(), exif=exif))
    assert frame.facts.warnings == ()


@pytest.mark.parametrize("format", ["JPEG", "PNG"])
def test_a_picture_may_be_named_like_a_dng(tmp_path, format):
    frame = open_frame(save(tmp_path / "a.dng", NOISE8, format=format))
    other = open_frame(save(tmp_path / "a", NOISE8, format=format))
    assert frame.facts.decoder.startswith(format)
    np.testing.assert_array_equal(whole(frame), whole(other))


@pytest.mark.parametrize("suffix", ["jpg", "tif", "png"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_agrees_with_pillow(tmp_path, orientation, suffix):
    exif = Image.Exif()
    exif[274] = orientation
    icc = icc_profile("srgb")
    path = save(tmp_path / f"a.{suffix}", smooth(40, 56), exif=exif, icc_profile=icc)
    frame = open_frame(path)
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image), int)
    assert (frame.facts.height, frame.facts.width) == expected.shape[:2]
    assert np.abs(to_srgb8(whole(frame)) - expected).max() <= 1
    part = frame.pixels.read(Region(3, 21, 5, 30))
    np.testing.assert_array_equal(part, whole(frame)[:, 3:21, 5:30])


@pytest.mark.parametrize("depth", [8, 16])
def test_grey_becomes_neutral_rgb(tmp_path, depth):
    ramp = np.linspace(0, 2**depth - 1, 256).round().astype(f"uint{depth}")
    path = tmp_path / "a.png"
    path.write_bytes(imagecodecs.png_encode(np.tile(ramp, (4, 1))))
    planes = whole(open_frame(path))
    expected = transfer.decode("srgb", ramp / (2**depth - 1))
    np.testing.assert_allclose(planes, np.tile(expected, (3, 4, 1)), atol=2e-7)


def test_alpha_is_dropped_and_told(tmp_path):
    rgba = np.concatenate([NOISE8, NOISE8[..., :1]], axis=2)
    frame = open_frame(save(tmp_path / "a.png", rgba, icc_profile=icc_profile("srgb")))
    assert frame.facts.warnings == ("transparency is left out",)
    np.testing.assert_array_equal(to_srgb8(whole(frame)), NOISE8)


@pytest.mark.parametrize("channels", [2, 4])
@pytest.mark.parametrize("depth", [8, 16])
def test_alpha_is_dropped_and_told_whatever_it_goes_with(tmp_path, channels, depth):
    codes = (NOISE8 if depth == 8 else NOISE16)[..., [0, 1, 2, 0][:channels]]
    path = tmp_path / "a.png"
    path.write_bytes(imagecodecs.png_encode(np.ascontiguousarray(codes)))
    frame = open_frame(path)
    assert "transparency is left out" in frame.facts.warnings
    shown = codes[..., :3] if channels == 4 else codes[..., :1].repeat(3, 2)
    expected = np.round(shown / (257 if depth == 16 else 1))
    assert np.abs(to_srgb8(whole(frame)) - expected).max() <= 1


@pytest.mark.parametrize("suffix", ["jpg", "tif"])
def test_cmyk_is_refused(tmp_path, suffix):
    Image.fromarray(NOISE8).convert("CMYK").save(tmp_path / f"a.{suffix}")
    with pytest.raises(OriginalError, match=r"allowed: RGB or grey .*CMYK.*export"):
        open_frame(tmp_path / f"a.{suffix}")


def test_a_float_tiff_is_refused(tmp_path):
    tifffile.imwrite(tmp_path / "a.tif", NOISE8.astype(np.float32), photometric="rgb")
    with pytest.raises(OriginalError, match="a TIFF of RGB in float32"):
        open_frame(tmp_path / "a.tif")


def test_a_planar_tiff(tmp_path):
    path = tmp_path / "a.tif"
    planes = np.ascontiguousarray(NOISE16.transpose(2, 0, 1))
    tifffile.imwrite(path, planes, photometric="rgb", planarconfig="separate")
    interleaved = tmp_path / "b.tif"
    tifffile.imwrite(interleaved, NOISE16, photometric="rgb")
    np.testing.assert_array_equal(whole(open_frame(path)), whole(open_frame(interleaved)))


@pytest.mark.parametrize("kind", ["jpg", "progressive.jpg", "png", "tif", "deflate.tif"])
@pytest.mark.parametrize("kept", [0.02, 0.3, 0.6, 0.95])
def test_cut_off_files(tmp_path, kind, kept):
    path = tmp_path / f"a.{kind}"
    if kind == "deflate.tif":
        tifffile.imwrite(path, NOISE8, photometric="rgb", compression="zlib")
    elif kind == "progressive.jpg":
        save(path, NOISE8, progressive=True)
    else:
        save(path, NOISE8)
    content = path.read_bytes()
    path.write_bytes(content[: int(kept * len(content))])
    with pytest.raises(OriginalError, match=str(path)):
        open_frame(path)


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_a_constant_picture_is_refused(tmp_path, suffix):
    path = save(tmp_path / f"a.{suffix}", np.full((32, 32, 3), 128, np.uint8))
    with pytest.raises(OriginalError, match="holds no picture"):
        open_frame(path)


@pytest.mark.parametrize(
    "icc",
    [
        b"nonsense",
        icc_profile("srgb")[:200],
        ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes(),
    ],
)
def test_a_profile_that_cannot_be_honoured_is_refused(tmp_path, icc):
    path = save(tmp_path / "a.png", NOISE8, icc_profile=icc)
    with pytest.raises(OriginalError, match="the embedded"):
        open_frame(path)


def test_a_jpeg_of_any_size(tmp_path, monkeypatch, recwarn):
    """Pillow by itself refuses what is twice this limit, which some cameras' files are."""
    path = save(tmp_path / "a.jpg", NOISE8)
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 1000)
    assert open_frame(path).facts.width == 56
    assert not recwarn
