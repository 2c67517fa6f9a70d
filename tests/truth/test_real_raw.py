"""A real raw with a colour chart in it, once a grey patch is sampled.

The chart's colours are those published for its 24 patches (after November 2014), as colour-science
carries them. Mixed light and blur set the floor, so order is asked for, not exact colour.
"""

from pathlib import Path

import numpy as np
import pytest

from grading.colour import adaptation, difference, oklab, spaces
from grading.engine.execute import render
from grading.engine.output import Output
from grading.files.originals import open_frame
from grading.recipe.load import recipe_from_mapping
from truth.pictures import xyz_of

RAW = Path(__file__).parents[3] / "shared" / "raws" / "tinydng_colorchart.dng"

pytestmark = [
    pytest.mark.truth,
    pytest.mark.skipif(not RAW.exists(), reason="the real raw file is not beside the repository"),
]

COLUMNS = (
    (715, 822, 929, 1036, 1143, 1252),
    (711, 820, 927, 1035, 1145, 1254),
    (706, 816, 926, 1036, 1146, 1257),
    (703, 813, 924, 1035, 1146, 1258),
)
ROWS = (
    (626, 623, 620, 617, 615, 613),
    (724, 722, 720, 717, 715, 714),
    (827, 825, 823, 821, 819, 817),
    (930, 928, 926, 925, 924, 923),
)
NEUTRALS = slice(18, 24)


def published():
    """XYZ of the patches under D65, white 1, shape (24, 3)."""
    import colour

    name = next(name for name in colour.CCS_COLOURCHECKERS if "24 - After" in name)
    chart = colour.CCS_COLOURCHECKERS[name]
    xyz = np.array([colour.xyY_to_XYZ(value) for value in chart.data.values()])
    white = spaces.xy_to_xyz(chart.illuminant)
    return xyz @ adaptation.cat16(white, spaces.xy_to_xyz(spaces.D65)).T


@pytest.fixture(scope="module")
def patches():
    """XYZ of the patches in the finished picture, exposed so that one grey is as published."""
    frame = open_frame(RAW)
    place = [COLUMNS[3][1] / frame.facts.width, ROWS[3][1] / frame.facts.height]
    recipe = {"grading": 1, "title": "chart", "white_balance": {"neutral": place}}
    array = render(frame, recipe_from_mapping(recipe, "chart"), Output("tiff", "bt2020")).array
    means = [
        xyz_of(array[y - 22 : y + 22, x - 22 : x + 22], "bt2020").mean((0, 1))
        for y, x in zip(np.ravel(ROWS), np.ravel(COLUMNS), strict=True)
    ]
    xyz = np.array(means)
    return xyz * published()[19, 1] / xyz[19, 1]


def lab(xyz):
    return difference.xyz_to_lab(xyz, spaces.xy_to_xyz(spaces.D65))


def test_greys_are_neutral(patches):
    chroma = np.hypot(*lab(patches)[NEUTRALS, 1:].T)
    assert chroma[1] < 2.5
    assert chroma[:5].max() < 5  # the black patch holds more flare than light of its own


def test_neutrals_are_in_the_order_of_lightness(patches):
    assert (np.diff(patches[NEUTRALS, 1]) < 0).all()


def test_patches_are_in_the_order_of_lightness(patches):
    found, stated = (lab(xyz)[:, 0].argsort().argsort() for xyz in (patches, published()))
    assert np.corrcoef(found, stated)[0, 1] > 0.95  # Spearman's rank correlation


def test_colourful_patches_are_in_the_order_of_hue(patches):
    seen, stated = oklab.xyz_to_oklab(patches), oklab.xyz_to_oklab(published())
    vivid = np.hypot(stated[:, 1], stated[:, 2]) > 0.08
    turn = (oklab.hue(seen) - oklab.hue(stated) + 180) % 360 - 180
    assert vivid.sum() >= 12
    assert np.abs(turn[vivid]).max() < 20
    order = oklab.hue(stated)[vivid].argsort()
    assert (np.diff(oklab.hue(seen)[vivid][order]) < 0).sum() <= 2  # neighbours may change places


def test_colours_are_plausible(patches):
    """The best any 3x3 matrix reached on this frame is 2.96, LibRaw's matrix 4.75 (measured)."""
    assert difference.delta_e_2000(lab(patches), lab(published())).mean() < 6
