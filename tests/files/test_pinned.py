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
        "ff0b1518ea6355048e7a06ab3373a2fbbbe910e8b6c8be72edc56117a4441019",
    ("raw", "srgb", 100):
        "156a17fb56f4ad0b1bccb76bbcca8aa83a4bc9008ec14b2bd243f1ce3ab7a065",
    ("raw", "bt2020", None):
        "a5323818ae0a5dff78371d371c474cbdd8409d0b1b7588dddbe5c28f61864a9f",
    ("raw", "bt2020", 100):
        "40ab6b87eecd8abcd91fed77e3c29657d3b4e6bd7f9c76e15432d44d72e47485",
    ("rendered", "srgb", None):
        "0c98ef3b41507488e2c7602b58fd63a34f94af3820b50d0de467bde7027df876",
    ("rendered", "srgb", 100):
        "af8dce5e9200675100b04c68ae08ea136d7905709a5fd154a8c1291d2df7b628",
    ("rendered", "bt2020", None):
        "af81d1fd12ed79a944867fb67420a2e2718d4aec5b5ecc9f656915ddde68401d",
    ("rendered", "bt2020", 100):
        "c6636d741d5e7a9ba6931dcfde2a52fedac7a738df860f49440a7fb5e993d69c",
}
"""By kind of original, space and long edge."""

FILES = {
    ("raw", "srgb"): "84f6e890ae2c5c0e64998673241d843b1a993855fd48befe3a48ebb220d4731b",
    ("raw", "bt2020"): "9d087b5e686384f9701ad1a16132f793bd27e82f592c736baa42c5d38d39af9e",
    ("rendered", "srgb"): "a539a562d074b8da853701397bc551f7609f372272230cee6ca9104089c838bd",
    ("rendered", "bt2020"): "a6d73c5f3a8097fb501889df9b83192c6bacc22d655c03ee607afed84b30facd",
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


def rendered(frame, file_format, space, long_edge=100):
    recipe = recipe_from_mapping(RECIPE, "pinned")
    return grading.render(frame, recipe, grading.Output(file_format, space, long_edge))


@pytest.mark.parametrize("space", SPACES)
def test_profiles(space):
    assert sha256(icc_profile(space)) == PROFILES[space]


@pytest.mark.parametrize("long_edge", [None, 100])
@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_pictures(frame, file_format, space, long_edge):
    kind, opened = frame
    array = rendered(opened, file_format, space, long_edge).array
    found = sha256(array.astype(array.dtype.newbyteorder("<")).tobytes())
    assert found == PICTURES[kind, space, long_edge]


@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_files(frame, file_format, space):
    kind, opened = frame
    data = encode(rendered(opened, file_format, space), opened.exif)
    if file_format == "tiff":
        with tifffile.TiffFile(io.BytesIO(data)) as file:
            assert file.pages[0].shape == (67, 100, 3)
    assert sha256(data) == FILES[kind, space]
