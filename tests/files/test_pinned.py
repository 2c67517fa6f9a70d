"""Bytes that outputs of earlier versions rest on.

`grading redo` makes an output again and writes it only if its SHA-256 is the one in the sidecar. So
each digest here stands for everybody's sidecars: where one changes, none of the outputs made before
can be made again to the bit. Change one on purpose only, and say so in CHANGELOG.md.

The pictures go through a recipe with every stage and a mask, from a mosaic and from a rendered
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
    ("raw", "srgb"): "89aab0ea62cc3cd6be45736360d1fc415f369b5c076fc1d99fcc37ba1bf4a11f",
    ("raw", "bt2020"): "f383c56ad55a8d96d6792b50ab43b8381660da95b052cf32848061c448bfb29f",
    ("rendered", "srgb"): "79fb9cb8c8511ed43cd61f102088f52f8f6d1cd39e5a781eaca9d0001f2831fc",
    ("rendered", "bt2020"): "7b42906a1a1dfbcfa6473f6995fcb76f70ae16b5c3e4cd967b991a570301583a",
}
FILES = {
    ("raw", "srgb"): "7db1323c130b72ad4be3acd15566c437d840119fcc72a4c734633c0a3161d40e",
    ("raw", "bt2020"): "d0aba263504fd6059d917a3671aa124fdafeabb1b63eea1ce9e27ab35c111c7e",
    ("rendered", "srgb"): "3eab140484f0b6ff1b8acde895e8af08f8722f0a27be3d603cbdb0e22ac6cd78",
    ("rendered", "bt2020"): "cde3b68b6ab8005bd72df52e100a38f7f20f3be53144416db452f26d65606467",
}


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
    )  # fmt: skip
    return request.param, grading.open_frame(path)


def rendered(frame, file_format, space):
    recipe = recipe_from_mapping(RECIPE, "pinned")
    return grading.render(frame, recipe, grading.Output(file_format, space, long_edge=100))


def test_every_stage_is_in_the_recipe():
    from grading.stages.registry import STAGES

    assert {stage.name for stage in STAGES} <= RECIPE.keys()


@pytest.mark.parametrize("space", SPACES)
def test_profiles(space):
    assert sha256(icc_profile(space)) == PROFILES[space]


@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_pictures(frame, file_format, space):
    kind, opened = frame
    array = rendered(opened, file_format, space).array
    assert sha256(array.astype(array.dtype.newbyteorder("<")).tobytes()) == PICTURES[kind, space]


@pytest.mark.parametrize(("file_format", "space"), [("jpeg", "srgb"), ("tiff", "bt2020")])
def test_files(frame, file_format, space):
    kind, opened = frame
    data = encode(rendered(opened, file_format, space), opened.exif)
    if file_format == "tiff":
        with tifffile.TiffFile(io.BytesIO(data)) as file:
            assert file.pages[0].shape == (67, 100, 3)
    assert sha256(data) == FILES[kind, space]
