"""Split toning: the shares of the scale, and where the tints go."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from frames_in_memory import colours_of, planes_of, signal, turn
from grading.colour import munsell, oklab
from grading.stages.split_toning import STAGE, SplitToning, Tint

EXAMPLE = {
    "shadows": {"hue": 250, "chroma": 0.03}, "highlights": {"hue": "5YR", "chroma": 0.03},
}  # fmt: skip
ALONE = [
    {part: tint}
    for part in ("shadows", "midtones", "highlights")
    for tint in ({"hue": 40.0, "chroma": 0.02}, {"lightness": 0.05})
]

LIGHTNESS = np.linspace(0, 1, 1001)


def toned(lab, **keys):
    constants = STAGE.prepare(SplitToning(**keys), signal())
    return colours_of(STAGE.apply(planes_of(lab), constants))


def greys(lightness):
    return np.stack([lightness, 0 * lightness, 0 * lightness], axis=1)


def weights(lightness, balance):
    """Of shadows, midtones and lights at a lightness: what a lighter one of them alone adds."""
    lab, lighter = greys(np.atleast_1d(lightness)), Tint(lightness=0.3)
    parts = ("shadows", "midtones", "highlights")
    moved = [toned(lab, **{part: lighter}, balance=balance) - lab for part in parts]
    return np.array(moved)[..., 0] / 0.3


def test_no_tint_is_no_step():
    assert STAGE.prepare(SplitToning(balance=1.0), signal()) is None
    assert STAGE.prepare(SplitToning(shadows=Tint(hue=90.0)), signal()) is None


@given(balance=st.floats(-4, 2))
@settings(max_examples=40, deadline=None)
def test_shares_sum_to_one_and_change_one_way(balance):
    shadows, middle, lights = weights(LIGHTNESS, balance)
    np.testing.assert_allclose(shadows + middle + lights, 1, atol=2e-6)
    assert np.diff(shadows).max() < 1e-6 and np.diff(lights).min() > -1e-6
    assert middle.min() > -1e-6
    ends = shadows[0], lights[0], shadows[-1], lights[-1]
    np.testing.assert_allclose(ends, (1, 0, 0, 1), atol=1e-6)


@pytest.mark.parametrize("balance", [-4.0, -1.3, 0.0, 2.0])
def test_balance_is_the_tone_at_which_shadows_and_lights_weigh_the_same(balance):
    """Oklab lightness of a grey is the cube root of its light (B. Ottosson, 2020)."""
    crossing = oklab.working_to_oklab(np.full(3, 0.18 * 2.0**balance))[0]
    shadows, middle, lights = weights(crossing, balance)
    assert shadows == pytest.approx(lights, abs=1e-6)
    assert middle == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize("balance", [-3.0, 0.0, 1.5])
def test_each_part_goes_towards_its_hue_by_its_chroma(balance):
    parts = dict(
        shadows=Tint(hue=250.0, chroma=0.04, lightness=-0.02),
        midtones=Tint(hue=140.0, chroma=0.01),
        highlights=Tint(hue=60.0, chroma=0.05, lightness=0.03),
    )
    moved = toned(greys(LIGHTNESS), **parts, balance=balance) - greys(LIGHTNESS)
    exact = np.zeros((len(LIGHTNESS), 3))
    u = LIGHTNESS ** (np.log(0.5) / np.log(np.cbrt(0.18 * 2.0**balance)))
    shares = (1 - u) ** 2, 2 * u * (1 - u), u**2
    for weight, tint in zip(shares, parts.values(), strict=True):
        direction = np.radians(tint.hue)
        shift = [tint.lightness, tint.chroma * np.cos(direction), tint.chroma * np.sin(direction)]
        exact += weight[:, None] * shift
    # between entries of the table near black the power may bend
    np.testing.assert_allclose(moved[10:], exact[10:], atol=1e-5)
    np.testing.assert_allclose(moved, exact, atol=1e-3)


def test_one_tint_for_all_is_an_even_tint():
    tint = Tint(hue=200.0, chroma=0.03)
    moved = toned(greys(LIGHTNESS), shadows=tint, midtones=tint, highlights=tint)
    np.testing.assert_allclose(np.hypot(moved[:, 1], moved[:, 2]), 0.03, atol=1e-6)
    assert np.abs(turn(oklab.hue(moved), 200)).max() < 1e-3
    np.testing.assert_allclose(moved[:, 0], LIGHTNESS, atol=1e-6)


@pytest.mark.parametrize("name", ["5PB", "YR", "10G"])
def test_munsell_hues(name):
    tint = SplitToning.model_validate({"shadows": {"hue": name, "chroma": 0.05}}).shadows
    assert tint.hue == munsell.hue_degrees(name)


def test_chroma_without_a_hue_is_refused():
    with pytest.raises(ValidationError, match="chroma goes with hue"):
        Tint(chroma=0.1)


def test_pure_black_and_pure_white_are_toned_as_the_ends_of_the_scale():
    lab = [[-0.2, 0, 0], [0, 0, 0], [1, 0, 0], [3, 0, 0]]
    tints = {"shadows": Tint(hue=0.0, chroma=0.1), "highlights": Tint(hue=180.0, chroma=0.2)}
    moved = toned(lab, **tints) - lab
    np.testing.assert_allclose(moved[:, 1], [0.1, 0.1, -0.2, -0.2], atol=1e-6)
