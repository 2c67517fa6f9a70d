"""Where a local adjustment acts: shapes on the upright frame, and their combinations."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from cut_pieces import PIECES, cuts
from grading.masks.shape import Ground
from grading.masks.where import Where, prepare_mask
from grading.region import Region

SIZES = [(120, 80), (80, 120), (1, 1), (7, 300)]
"""Width and height: landscape, portrait, and odd ones."""

SKY = {"gradient": {"full": [0.5, 0.2], "none": [0.5, 0.6]}}
BOAT = {"ellipse": {"centre": [0.3, 0.7], "radius": [0.2, 0.1], "turn": 25.0}}
SLANT = {"gradient": {"full": [0.9, 0.1], "none": [0.2, 0.8], "feather": 0.4}}
NESTED = {"any": [{"all": [SKY, {"not": BOAT}]}, SLANT]}


def weights(where, width=120, height=80, tile=None):
    mask = prepare_mask(Where.model_validate(where), Ground(width, height))
    return mask(Region(*tile) if tile else Region.whole(height, width), None)


def at(plane, place):
    """Weight at a place given in fractions of the frame."""
    height, width = plane.shape
    return plane[min(int(place[1] * height), height - 1), min(int(place[0] * width), width - 1)]


@pytest.mark.parametrize("size", [(120, 80), (80, 120)])
def test_a_gradient_is_full_at_full_and_none_at_none(size):
    sky = weights(SKY, *size)
    assert (sky[: round(0.2 * size[1])] > 0.999).all()
    assert (sky[round(0.6 * size[1]) :] < 0.001).all()
    assert at(sky, (0.5, 0.4)) == pytest.approx(0.5, abs=0.03)
    assert (np.diff(sky, axis=0) <= 0).all()
    assert np.ptp(sky, axis=1).max() == 0


@pytest.mark.parametrize("degrees", [0, 30, 90, 135, 200, 300])
@pytest.mark.parametrize("size", [(121, 81), (81, 121)])
def test_a_gradient_runs_straight_at_any_angle(degrees, size):
    """Pixels on a line across the fade weigh the same: the angle is that of the picture as seen,
    not of a square."""
    width, height = size
    along = 25 * np.array([np.cos(np.radians(degrees)), -np.sin(np.radians(degrees))])
    middle = np.array([width / 2, height / 2])
    full, none = (((middle + sign * along) / size).tolist() for sign in (1, -1))
    plane = weights({"gradient": {"full": full, "none": none}}, width, height)
    y, x = np.mgrid[0:height, 0:width] + 0.5
    way = ((x - middle[0]) * along[0] + (y - middle[1]) * along[1]) / (2 * 25**2) + 0.5
    t = np.clip(way, 0, 1)
    np.testing.assert_allclose(plane, t * t * (3 - 2 * t), atol=1e-5)


@pytest.mark.parametrize("feather", [0.0, 0.3, 1.0])
def test_feather_is_the_share_of_the_way_about_its_middle(feather):
    plane = weights({"gradient": {"full": [0, 0.5], "none": [1, 0.5], "feather": feather}}, 1000, 3)
    fading = np.flatnonzero((plane[1] > 0) & (plane[1] < 1))
    assert fading.size == pytest.approx(1000 * feather, abs=2)
    assert plane[1, 490] > 0.5 > plane[1, 510]
    if feather:
        assert fading.mean() == pytest.approx(499.5, abs=1)


@pytest.mark.parametrize("size", [(120, 80), (80, 120)])
def test_an_ellipse_of_equal_radii_is_round(size):
    """Radii are fractions of the long edge in both directions."""
    plane = weights(
        {"ellipse": {"centre": [0.5, 0.5], "radius": [0.2, 0.2], "feather": 0.0}}, *size
    )
    y, x = np.mgrid[0 : size[1], 0 : size[0]] + 0.5
    distance = np.hypot(x - size[0] / 2, y - size[1] / 2)
    assert (plane[distance < 23.9] == 1).all() and (plane[distance > 24.1] == 0).all()


def test_an_ellipse_weighs_half_on_its_edge():
    plane = weights({"ellipse": {"centre": [0.5, 0.5], "radius": [0.3, 0.1]}}, 1001, 1001)
    assert plane[500, 500] == 1
    assert plane[500, 800] == pytest.approx(0.5, abs=0.01)
    assert plane[600, 500] == pytest.approx(0.5, abs=0.03)
    # a fade of half of the radius: whole up to 3/4 of it, none from 5/4
    assert plane[500, 500 + 222] == 1 and plane[500, 500 + 378] == 0


def test_an_ellipse_turns_anticlockwise_as_seen():
    turned = {"ellipse": {"centre": [0.5, 0.5], "radius": [0.4, 0.05], "turn": 45.0}}
    plane = weights(turned, 200, 200)
    assert at(plane, (0.7, 0.3)) == 1 and at(plane, (0.3, 0.7)) == 1
    assert at(plane, (0.7, 0.7)) == 0 and at(plane, (0.3, 0.3)) == 0


def test_all_is_the_product_any_its_counterpart_and_not_the_rest():
    sky, boat = weights(SKY).astype(np.float64), weights(BOAT).astype(np.float64)
    assert ((sky > 0.05) & (sky < 0.95)).any() and ((boat > 0.05) & (boat < 0.95)).any()
    np.testing.assert_allclose(weights({"all": [SKY, BOAT]}), sky * boat, atol=1e-6)
    np.testing.assert_allclose(weights({"any": [SKY, BOAT]}), sky + boat - sky * boat, atol=1e-6)
    np.testing.assert_allclose(weights({"not": BOAT}), 1 - boat, atol=1e-6)


def test_neither_is_not_any():
    """De Morgan's law holds for these weights."""
    neither = weights({"not": {"any": [SKY, BOAT]}})
    np.testing.assert_allclose(neither, weights({"all": [{"not": SKY}, {"not": BOAT}]}), atol=1e-6)


def test_one_alone_is_itself():
    for combination in ("all", "any"):
        np.testing.assert_allclose(weights({combination: [BOAT]}), weights(BOAT), atol=1e-6)


@pytest.mark.parametrize(
    "where", [SKY, BOAT, SLANT, NESTED], ids=["sky", "boat", "slant", "nested"]
)
@pytest.mark.parametrize("size", SIZES)
def test_tiles_agree_bit_for_bit(where, size):
    whole = weights(where, *size)
    assert whole.dtype == np.float32 and whole.shape == size[::-1]
    for pieces in PIECES:
        for y0, y1, x0, x1 in cuts(size[1], size[0], pieces):
            part = weights(where, *size, (y0, y1, x0, x1))
            np.testing.assert_array_equal(part, whole[y0:y1, x0:x1])


places = st.lists(st.floats(-1, 2), min_size=2, max_size=2)
gradients = st.builds(
    lambda full, none, feather: {"gradient": {"full": full, "none": none, "feather": feather}},
    places,
    places,
    st.floats(0, 1),
).filter(lambda g: np.ptp([g["gradient"]["full"], g["gradient"]["none"]], axis=0).max() > 1e-3)
ellipses = st.builds(
    lambda centre, radius, turn, feather: {
        "ellipse": {"centre": centre, "radius": radius, "turn": turn, "feather": feather}
    },
    places,
    st.lists(st.floats(1e-3, 2), min_size=2, max_size=2),
    st.floats(-180, 180),
    st.floats(0, 1),
)
masks = st.recursive(
    gradients | ellipses,
    lambda inner: st.one_of(
        st.builds(lambda parts: {"all": parts}, st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda parts: {"any": parts}, st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda part: {"not": part}, inner),
    ),
    max_leaves=5,
)


@given(where=masks)
@settings(max_examples=150, deadline=None)
def test_weights_lie_between_nothing_and_all(where):
    plane = weights(where, 23, 17)
    assert plane.dtype == np.float32
    assert 0 <= plane.min() and plane.max() <= 1


@pytest.mark.parametrize(
    "where",
    [
        {},
        {"gradient": None},
        {**SKY, **BOAT},
        {"all": []},
        {"not": {}},
        {"gradient": {"full": [0.5, 0.5], "none": [0.5, 0.5]}},
        {"gradient": {"full": [0.5, 0.0], "none": [0.5, 1e-170]}},
        {"gradient": {"full": [0.5, 0.5], "none": [0.50009, 0.50009]}},
        {"ellipse": {"centre": [0.5, 0.5], "radius": [0, 0.1]}},
        {"ellipse": {"centre": [0.5, 2.5], "radius": [0.1, 0.1]}},
        {"gradient": {"full": [0.5], "none": [0.1, 0.2]}},
    ],
)
def test_what_is_no_shape_is_refused(where):
    with pytest.raises(ValidationError):
        Where.model_validate(where)
