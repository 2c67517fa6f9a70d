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
        "e603dc7b168e332694aa925604ec2f995dc1322800f825f7a95c5f0dca3fdc14",
    ("raw", "srgb", 100):
        "d07a51623ca3ef783d0aeb495eac2b7055bda89a4cdfa9dbf483553cbf3568f7",
    ("raw", "bt2020", None):
        "8e55c54456b78002887d277bc08ad175d9962fb8a3b60b69bf876841c5344408",
    ("raw", "bt2020", 100):
        "dcd53783bc8ce7a679ed366636ed4f921ba8a372c97246f1b5fb809dad396381",
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
    ("raw", "srgb"): "0065ee88ba52b2998257ff80d81c04013811d4091d5726868400aec22ac92f3d",
    ("raw", "bt2020"): "86f757d2e2ec0f8f80e87605179f6fda17e9e516b1f56bcda6154307dd3634cf",
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
