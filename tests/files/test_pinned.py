"""Bytes that outputs of earlier versions rest on.

`grading redo` makes an output again and writes it only if its SHA-256 is the one in the sidecar. So
each digest here stands for everybody's sidecars: where one changes, none of the outputs made before
can be made again to the bit. Change one on purpose only, and say so in CHANGELOG.md.

The pictures go through a recipe with many stages and a mask, from a mosaic and from a rendered
original; how a JPEG is coded is libjpeg-turbo's (3.1 here), so its pixels are pinned apart.
"""

import hashlib
import io

import numpy as np
import pytest
import tifffile

import dng
import grading
from files.charts import MATRIX_A, MATRIX_D65
from files.damage import picture
from grading.colour.profiles import icc_profile
from grading.colour.spaces import SPACES
from grading.recipe.load import recipe_from_mapping
from grading.shoot.deliver import encode

RECIPE = {
    "grading": 1,
    "title": "Everything",
    "white_balance": {"shift": -15},
    "exposure": {"stops": 0.4},
    "lift": {"shadows": 0.7, "highlights": -0.4},
    "levels": {"black": -9},
    "tone_curve": {"contrast": 1.2, "toe": 0.3},
    "split_toning": {"shadows": {"hue": "5PB", "chroma": 0.02}},
    "hues": {"reds": {"centre": "5R", "width": 60, "saturation": 0.3}},
    "cdl": {"slope": [1.02, 1, 0.97]},
    "local": {
        "top": {
            "where": {"gradient": {"full": [0.5, 0], "none": [0.5, 0.6]}},
            "exposure": {"stops": -0.5},
        }
    },
}

PROFILES = {
    "srgb": "2103eb91849dfd4630b8eaf74ec1dfc380b41ac4038b8940cfb3a9922c44bbaf",
    "display-p3": "9adb1c99755048e30a4c048c58b2a3643b87249a164ef65cfe332500978d8eb6",
    "bt2020": "5683ed754e83b3854d19078b63a2bfb470a32550e1eaf6c6430c715c4295bf0e",
    "oprgb": "38de6740a838ab018f2440344472b0711fff45d5f04b50e771eca933576edf4d",
}
PICTURES = {
    ("raw", "srgb", None):
        "ea9d6fa3fd4cc9b00a40be11aa3513f404a2feb13544036c6a3a1cb138b6659d",
    ("raw", "srgb", 100):
        "32a769605a339b4afb6716cc5f7a3342e6bfa7e4299d86fc3dd38853f34bd74f",
    ("raw", "bt2020", None):
        "5ab10b4d98715ba17ce00e28d07ede4d2665e277b2322b8101ac785d38241a3f",
    ("raw", "bt2020", 100):
        "0975e25bad6b9162b12a44d858c9aac832629912877a7995527900f0403358d3",
    ("rendered", "srgb", None):
        "29636548fd95845b99ac12c3c74912948c847efbe351cd50a0276dcb5d4267ca",
    ("rendered", "srgb", 100):
        "25af60d7134445881fcc7beb4d20e5feaff621649b6502592186e18809c7ee81",
    ("rendered", "bt2020", None):
        "fa979f66085210c37c8f927b52ae4e36813d609d5ff9814bccf5b55bca647442",
    ("rendered", "bt2020", 100):
        "11ee1de1c1b5fb4e82f44ab3f0c9eff8065d3848a4c351d0042b0d2f396d22e4",
}
"""By kind of original, space and long edge."""

NOT_SHARPENED = {
    ("raw", "srgb"): "4440f85e5fe7e26997b66b37f4518d084b526eddf7be9a39f8b20f55feb36384",
    ("raw", "bt2020"): "d13744f5111504986e4fb2705f040d0d9e3294377b8bb9b58edc3b27420236f6",
    ("rendered", "srgb"): "93166ec2f6c173bf675e5cb692faced61518722ade4614436778f667d8499dbe",
    ("rendered", "bt2020"): "8dc75d314917c8fbdf8fcdf2713539acc6366a619744472b050e96fe53178483",
}
"""Of a long edge of 100 pixels, without sharpening."""

FILES = {
    ("raw", "srgb"): "43935f4611eb1a393b9ea92366ae55b887d8fa1a77ae7386c53dd516ae50a18b",
    ("raw", "bt2020"): "b9cce6c239e054d4f23d8e2a54baf4a4979cfe667d57f9d0562cb5c857733e8e",
    ("rendered", "srgb"): "90db7d8cd4f5af3f2cd250e8cfed462710dedef811e6a636724e6e6b6d00c3e0",
    ("rendered", "bt2020"): "fd59c2a8983d72f049c600c4ab2ee1994d28bd58c0f1da007d1849ff190a122a",
}
"""Of a long edge of 100 pixels."""


def sha256(data):
    return hashlib.sha256(data).hexdigest()


@pytest.fixture(scope="module", params=["raw", "rendered"])
def frame(request, tmp_path_factory):
    """A small frame with noise, a clipped corner and saturated colours."""
    folder, rgb = tmp_path_factory.mktemp("pinned"), picture(120, 180)
    rgb[:30, :40] = 255
    rgb[60:90, 60:120] = (200, 30, 20)
    if request.param == "rendered":
        path = folder / "a.tif"
        tifffile.imwrite(path, rgb, photometric="rgb", iccprofile=icc_profile("display-p3"))
        return request.param, grading.open_frame(path)
    path = folder / "a.dng"
    mosaic = dng.mosaic_of(rgb.astype(np.uint16) * 12 + 512)
    mosaic[:30, :40] = 5600
    dng.write_dng(
        path, mosaic, white=5600, black=(512,) * 4,
        color_matrix1=MATRIX_A, illuminant1="A", color_matrix2=MATRIX_D65, illuminant2="D65",
        as_shot_neutral=(0.5, 1, 0.625), exif={"ExposureTime": 0.004},
        noise_profile=(1e-3, 1e-5),
    )  # fmt: skip
    return request.param, grading.open_frame(path)


def rendered(frame, file_format, space, long_edge=100, **keys):
    recipe = recipe_from_mapping(RECIPE, "pinned")
    return grading.render(frame, recipe, grading.Output(file_format, space, long_edge, **keys))


def digest_of(array):
    return sha256(array.astype(array.dtype.newbyteorder("<")).tobytes())


@pytest.mark.parametrize("space", SPACES)
def test_profiles(space):
    assert sha256(icc_profile(space)) == PROFILES[space]


@pytest.mark.parametrize("long_edge", [None, 100])
@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_pictures(frame, file_format, space, long_edge):
    kind, opened = frame
    found = digest_of(rendered(opened, file_format, space, long_edge).array)
    assert found == PICTURES[kind, space, long_edge]


@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_pictures_that_are_not_sharpened(frame, file_format, space):
    kind, opened = frame
    picture = rendered(opened, file_format, space, sharpen=0.0)
    assert digest_of(picture.array) == NOT_SHARPENED[kind, space]


@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_files(frame, file_format, space):
    kind, opened = frame
    data = encode(rendered(opened, file_format, space), opened.exif)
    if file_format == "tiff":
        with tifffile.TiffFile(io.BytesIO(data)) as file:
            assert file.pages[0].shape == (67, 100, 3)
    assert sha256(data) == FILES[kind, space]
