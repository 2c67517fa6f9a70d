"""ICC profiles against ICC.1:2022, read by a parser of its own, and against LittleCMS."""

from hashlib import md5
from io import BytesIO
from struct import unpack_from

import numpy as np
import pytest

from grading.colour.adaptation import bradford
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.profiles import GREY, icc_profile, space_of_profile
from grading.colour.spaces import SPACES, rgb_to_xyz, xy_to_xyz
from grading.colour.transfer import decode

D50 = np.array([0.9642, 1.0, 0.8249])
"""ICC.1:2022, 7.2.16."""


def tag_table(profile):
    """Content of every tag; the layout is checked on the way (ICC.1:2022, 7.3)."""
    (count,) = unpack_from(">I", profile, 128)
    tags, ends = {}, [132 + 12 * count]
    for i in range(count):
        signature, offset, size = unpack_from(">4sII", profile, 132 + 12 * i)
        assert offset % 4 == 0
        assert offset >= 132 + 12 * count
        assert offset + size <= len(profile)
        assert signature not in tags
        tags[signature.decode()] = profile[offset : offset + size]
        ends.append(offset + size)
    assert len(profile) - max(ends) < 4
    return tags


def fixed(content, start=8):
    return np.frombuffer(content[start:], dtype=">i4") / 65536


@pytest.fixture(params=SPACES)
def name(request):
    return request.param


def test_header(name):
    profile = icc_profile(name)
    assert unpack_from(">I", profile, 0) == (len(profile),)
    assert len(profile) % 4 == 0
    assert profile[8:12] == bytes([4, 0x40, 0, 0])
    assert profile[12:24] == b"mntrRGB XYZ "
    assert unpack_from(">6H", profile, 24) == (2025, 1, 1, 0, 0, 0)
    assert profile[36:40] == b"acsp"
    # ICC.1:2022, 7.2.16: X, Y, Z of D50 are F6D6h, 10000h, D32Dh
    assert unpack_from(">3I", profile, 68) == (0xF6D6, 0x10000, 0xD32D)
    assert profile[100:128] == bytes(28)


def test_identity_is_the_digest_of_the_rest(name):
    """ICC.1:2022, 7.2.18: MD5 with flags, rendering intent and identity set to 0."""
    blank = bytearray(icc_profile(name))
    identity = bytes(blank[84:100])
    blank[44:48], blank[64:68], blank[84:100] = bytes(4), bytes(4), bytes(16)
    assert md5(blank).digest() == identity


def test_tags(name):
    tags = tag_table(icc_profile(name))
    required = {"desc", "cprt", "wtpt", "chad"}
    required |= {colour + kind for colour in "rgb" for kind in ("XYZ", "TRC")}
    assert required <= set(tags) <= required | {"cicp"}
    assert tags["desc"][28:].decode("utf-16-be") == SPACES[name].title
    assert tags["cprt"][28:].decode("utf-16-be") == "No copyright, use freely"
    np.testing.assert_allclose(fixed(tags["wtpt"]), D50, rtol=0, atol=1e-5)
    colorants = sum(fixed(tags[colour + "XYZ"]) for colour in "rgb")
    np.testing.assert_array_equal(colorants, fixed(tags["wtpt"]))
    white = fixed(tags["chad"]).reshape(3, 3) @ xy_to_xyz(SPACES[name].white)
    np.testing.assert_allclose(white, D50, rtol=0, atol=5e-5)


def test_code_points():
    """ITU-T H.273 tables 2 and 3: primaries 1 BT.709, 9 BT.2020, 12 P3 D65; transfer 13
    sRGB, 14 BT.2020; matrix 0 and full range for RGB."""
    expected = {"srgb": (1, 13), "display-p3": (12, 13), "bt2020": (9, 14)}
    for name in SPACES:
        tag = tag_table(icc_profile(name)).get("cicp")
        if name in expected:
            assert tag == b"cicp" + bytes(4) + bytes([*expected[name], 0, 1])
        else:
            assert tag is None


def test_srgb_colorants_are_the_known_ones():
    """XYZ of sRGB's primaries adapted to D50 by Bradford, as profiles in use carry them."""
    tags = tag_table(icc_profile("srgb"))
    known = {
        "rXYZ": (0.43604, 0.22248, 0.01392),
        "gXYZ": (0.38511, 0.71691, 0.09707),
        "bXYZ": (0.14305, 0.06061, 0.71391),
    }
    for tag, xyz in known.items():
        np.testing.assert_allclose(fixed(tags[tag]), xyz, rtol=0, atol=4e-5)


def test_littlecms_finds_the_same_colours(name):
    from imagecodecs import cms_profile, cms_transform

    space, profile = SPACES[name], icc_profile(name)
    levels = np.linspace(0, 1, 17)
    rgb = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(17, -1, 3)
    found = cms_transform(
        rgb.astype(np.float32),
        profile,
        cms_profile("xyz"),
        colorspace="rgb",
        outcolorspace="xyz",
        intent=1,
    )
    matrix = bradford(xy_to_xyz(space.white), D50) @ rgb_to_xyz(space)
    expected = decode(space.transfer, rgb) @ matrix.T
    difference = delta_e_2000(xyz_to_lab(found, D50), xyz_to_lab(expected, D50))
    assert difference.max() < 0.01


def test_pillow_opens_and_reads_the_profile(name):
    from PIL.ImageCms import ImageCmsProfile, getProfileCopyright, getProfileDescription

    profile = ImageCmsProfile(BytesIO(icc_profile(name)))
    assert getProfileDescription(profile).strip() == SPACES[name].title
    assert getProfileCopyright(profile).strip() == "No copyright, use freely"
    primaries = [
        profile.profile.red_primary,
        profile.profile.green_primary,
        profile.profile.blue_primary,
    ]
    # (XYZ, xyY) of each primary, adapted back to the medium's white
    assert np.isfinite(primaries).all()
    np.testing.assert_allclose(profile.profile.media_white_point[0], D50, rtol=0, atol=1e-5)


def test_srgb_is_what_littlecms_builds_in():
    from PIL import Image, ImageCms

    codes = np.random.default_rng(6).integers(0, 256, (64, 64, 3), dtype=np.uint8)
    ours = ImageCms.ImageCmsProfile(BytesIO(icc_profile("srgb")))
    theirs = ImageCms.createProfile("sRGB")
    found = ImageCms.profileToProfile(Image.fromarray(codes), ours, theirs)
    np.testing.assert_allclose(np.asarray(found).astype(int), codes, rtol=0, atol=1)
    assert (np.asarray(found) == codes).mean() > 0.999


def test_bytes_are_the_same_every_time(name):
    assert icc_profile(name) == icc_profile(name)


def test_other_spaces_are_refused():
    with pytest.raises(ValueError, match="no colour space 'wide'; allowed: srgb, display-p3"):
        icc_profile("wide")


def test_grey_profile():
    """ICC.1:2022, 8.4.4: a monochrome display profile has kTRC beside what all have."""
    profile = icc_profile(GREY)
    assert unpack_from(">I", profile, 0) == (len(profile),) and profile[12:24] == b"mntrGRAYXYZ "
    tags = tag_table(profile)
    assert set(tags) == {"desc", "cprt", "wtpt", "chad", "kTRC"}
    assert tags["kTRC"] == tag_table(icc_profile("srgb"))["rTRC"]
    blank = bytearray(profile)
    blank[44:48], blank[64:68], blank[84:100] = bytes(4), bytes(4), bytes(16)
    assert md5(blank).digest() == profile[84:100]


def test_littlecms_finds_the_greys_of_srgb():
    from PIL import Image, ImageCms

    codes = np.arange(256, dtype=np.uint8)[None].repeat(4, axis=0)
    grey, srgb = (ImageCms.ImageCmsProfile(BytesIO(icc_profile(n))) for n in (GREY, "srgb"))
    image = Image.fromarray(codes)
    found = np.asarray(ImageCms.profileToProfile(image, grey, srgb, outputMode="RGB")).astype(int)
    assert np.abs(found - codes[..., None]).max() <= 1
    lab = ImageCms.createProfile("LAB")
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    made = ImageCms.buildTransform(grey, lab, "L", "LAB", renderingIntent=intent)
    found = np.asarray(ImageCms.applyTransform(image, made))
    y = decode("srgb", codes / 255)[..., None] * D50
    np.testing.assert_allclose(found[..., 0] / 2.55, xyz_to_lab(y, D50)[..., 0], atol=0.4)
    assert not found[..., 1:].any()


def test_a_profile_names_its_space(name):
    assert space_of_profile(icc_profile(name)) == name
    assert space_of_profile(icc_profile(name)[:-1]) is None and space_of_profile(None) is None
