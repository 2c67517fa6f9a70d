"""White points against CIE and published figures, and against colour-science.

Run as a script, this module prints the series of the Planckian locus in
`grading.colour.locus`.
"""

import numpy as np
import pytest
from numpy.polynomial import chebyshev

from grading.colour import locus
from grading.colour.spaces import uv_to_xy, xy_to_uv
from grading.colour.white import (
    daylight_xy,
    default_duv,
    kelvin_duv_to_xy,
    kelvin_to_mired,
    mired_to_kelvin,
    nearest_kelvin,
    xy_to_kelvin_duv,
)

C2 = 1.4388e-2
"""Second radiation constant of CIE 015, m K."""


def planckian_uv(position):
    """CIE 1960 u, v of the Planckian locus at 2500 K / (T + 2500 K), from the CIE 1931
    observer at 1 nm; shape (..., 2)."""
    from colour import MSDS_CMFS

    observer = MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    metres = observer.wavelengths * 1e-9
    position = np.asarray(position)[..., None]
    exponent = C2 / metres * position / (2500 * (1 - position))
    # Planck's law over its limit at infinite temperature, which is 1 at exponent 0
    share = np.divide(exponent, np.expm1(exponent), out=np.ones_like(exponent), where=exponent > 0)
    x, y, z = np.moveaxis(metres**-4 * share @ observer.values, -1, 0)
    return np.stack([4 * x, 6 * y], axis=-1) / (x + 15 * y + 3 * z)[..., None]


def fit(count=400, degree=16):
    """Chebyshev series of the locus, shape (degree + 1, 2)."""
    nodes = np.cos(np.pi * (np.arange(count) + 0.5) / count)
    return chebyshev.chebfit(nodes, planckian_uv((nodes + 1) / 2 * 2500 / 3500), degree)


def test_stored_series_is_the_fit():
    np.testing.assert_allclose(locus._LOCUS, fit(), rtol=0, atol=6e-12)


def test_locus_is_the_observer_s():
    kelvin = np.geomspace(1000, 100000, 501)
    uv = xy_to_uv(kelvin_duv_to_xy(kelvin, 0 * kelvin))
    np.testing.assert_allclose(uv, planckian_uv(2500 / (kelvin + 2500)), rtol=0, atol=3e-9)


@pytest.mark.parametrize(
    ("kelvin", "xy"),
    # computed with Planck's law and the CIE 1931 observer by colour-science, five digits
    # for 1000 and 40000 K also CIE 015's Planck's law and observer, summed here at 1 nm
    [
        (1000, (0.65275, 0.34446)), (2000, (0.52668, 0.41330)), (3000, (0.43693, 0.40408)),
        (6500, (0.31353, 0.32363)), (40000, (0.24720, 0.24472)),
    ],  # fmt: skip
)
def test_planckian_chromaticities(kelvin, xy):
    np.testing.assert_allclose(kelvin_duv_to_xy(kelvin, 0), xy, rtol=0, atol=6e-6)


@pytest.mark.parametrize(
    ("xy", "kelvin", "duv"),
    [
        # CIE 015: illuminant A is Planckian at 2848 x 1.4388 / 1.4350 = 2855.5 K
        ((0.44758, 0.40745), 2855.5, 0.0000),
        # D65 as the RGB standards state it, and D50 to four digits, as colour-science
        # finds them by Ohno's method
        ((0.3127, 0.3290), 6504.3, 0.0032),
        ((0.3457, 0.3585), 5000.7, 0.0032),
    ],
)
def test_illuminants(xy, kelvin, duv):
    found, distance = xy_to_kelvin_duv(xy)
    assert found == pytest.approx(kelvin, abs=0.1)
    assert distance == pytest.approx(duv, abs=5e-5)


def test_example_of_ohno():
    """Y. Ohno, LEUKOS 10 (2014): (u, v) = (0.1978, 0.3122)."""
    kelvin, duv = xy_to_kelvin_duv(uv_to_xy([0.1978, 0.3122]))
    assert kelvin == pytest.approx(6507.47, abs=0.1)
    assert duv == pytest.approx(0.003223, abs=1e-6)


def test_duv_is_that_of_ansi_c78_377():
    """The closed form of ANSI C78.377, a fit of about 1e-5 to the same distance."""
    series = [-0.471106, 1.925865, -2.4243787, 1.5317403, -0.5179722, 0.0893944, -0.00616793]
    kelvin, duv = np.meshgrid(np.geomspace(2700, 6500, 30), np.linspace(-0.01, 0.01, 9))
    u, v = np.moveaxis(xy_to_uv(kelvin_duv_to_xy(kelvin, duv)), -1, 0)
    length = np.hypot(u - 0.292, v - 0.24)
    closed = length - np.polynomial.polynomial.polyval(np.arccos((u - 0.292) / length), series)
    np.testing.assert_allclose(duv, closed, rtol=0, atol=1e-5)


def test_agrees_with_ohno_s_method_in_colour_science():
    from colour.temperature import uv_to_CCT_Ohno2013

    for kelvin in (2000, 3200, 5600, 9000, 20000):
        for duv in (-0.02, 0, 0.02):
            uv = xy_to_uv(kelvin_duv_to_xy(kelvin, duv))
            found, distance = uv_to_CCT_Ohno2013(uv)
            assert found == pytest.approx(kelvin, rel=3e-5)
            assert distance == pytest.approx(duv, abs=1e-6)


@pytest.mark.parametrize(("low", "high", "limit"), [(1000, 40000, 0.05), (1001, 99900, 0.0499)])
def test_round_trip(low, high, limit):
    kelvin, duv = np.meshgrid(np.geomspace(low, high, 300), np.linspace(-limit, limit, 41))
    found, distance = xy_to_kelvin_duv(kelvin_duv_to_xy(kelvin, duv))
    np.testing.assert_allclose(found, kelvin, rtol=1e-10)
    np.testing.assert_allclose(distance, duv, rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("kelvin", "xy"),
    [
        # CIE 015, chromaticities of D50, D55, D65 and D75 (nominal x 1.4388 / 1.4380)
        (5000, (0.34567, 0.35850)),
        (5500, (0.33243, 0.34744)),
        (6500, (0.31272, 0.32903)),
        (7500, (0.29903, 0.31488)),
    ],
)
def test_daylight_illuminants(kelvin, xy):
    kelvin *= 1.4388 / 1.4380
    np.testing.assert_allclose(daylight_xy(kelvin), xy, rtol=0, atol=1.1e-4)
    np.testing.assert_allclose(kelvin_duv_to_xy(kelvin), daylight_xy(kelvin), rtol=0, atol=5e-5)


@pytest.mark.parametrize(
    ("kelvin", "x"),
    [
        # CIE 015: 0.244063 + 0.09911e3 / T + 2.9678e6 / T^2 - 4.6070e9 / T^3 up to 7000 K, and
        # 0.237040 + 0.24748e3 / T + 1.9018e6 / T^2 - 2.0064e9 / T^3 above, written out
        (6600, 0.3111864), (7000, 0.3053574), (7300, 0.3014715), (7499, 0.2991027),
        (20000, 0.2539177),
    ],
)  # fmt: skip
def test_daylight_on_both_sides_of_7000_k(kelvin, x):
    assert daylight_xy(kelvin)[0] == pytest.approx(x, abs=1e-7)


def test_usual_light_is_thermal_below_4000_k_and_daylight_above_5000_k():
    assert (default_duv([1000, 2000, 3999, 4000]) == 0).all()
    kelvin = np.linspace(5000, 25000, 41)
    np.testing.assert_allclose(kelvin_duv_to_xy(kelvin), daylight_xy(kelvin), rtol=0, atol=8e-5)
    assert default_duv(60000) == default_duv(25000)


@pytest.mark.parametrize(("way", "share"), [(0.25, 0.15625), (0.5, 0.5), (0.75, 0.84375)])
def test_between_them_daylight_comes_in_smoothly(way, share):
    """By 3 t^2 - 2 t^3, with t rising evenly in mired from 250 to 200."""
    kelvin = mired_to_kelvin(250 - 50 * way)
    daylight = xy_to_kelvin_duv(daylight_xy(kelvin))[1]
    assert default_duv(kelvin) == pytest.approx(share * daylight, abs=1e-9)


@pytest.mark.parametrize("side", [-1, 1])
def test_far_on_either_side_of_the_locus_there_is_no_temperature(side):
    """CIE 015: from 0.05 on, which is 5 times what is 0.01 away."""
    on, off = (xy_to_uv(kelvin_duv_to_xy(5000, duv)) for duv in (0, 0.01 * side))
    assert xy_to_kelvin_duv(uv_to_xy(on + 4.99 * (off - on)))[1] == pytest.approx(0.0499 * side)
    with pytest.raises(ValueError, match="no correlated colour temperature"):
        xy_to_kelvin_duv(uv_to_xy(on + 5.01 * (off - on)))


def test_usual_light_changes_without_a_jump():
    mired = np.arange(10, 1000, 0.25)
    duv = default_duv(mired_to_kelvin(mired))
    assert np.abs(np.diff(duv)).max() < 3e-5
    assert duv.min() == 0
    assert duv.max() < 0.0034
    np.testing.assert_allclose(
        xy_to_kelvin_duv(kelvin_duv_to_xy(mired_to_kelvin(mired)[1:-1]))[0],
        mired_to_kelvin(mired)[1:-1],
        rtol=1e-10,
    )


@pytest.mark.parametrize(
    ("source", "target", "shift"),
    # differences of reciprocal megakelvin written out; amounts usual for conversion and
    # light balancing filters are common practice, no source
    [(3200, 5500, -131), (5500, 3400, 112), (3400, 5500, -112), (5500, 3200, 131)],
)
def test_mired_shifts(source, target, shift):
    assert kelvin_to_mired(target) - kelvin_to_mired(source) == pytest.approx(shift, abs=0.7)
    assert mired_to_kelvin(kelvin_to_mired(source) + shift) == pytest.approx(target, rel=5e-3)


def test_positive_duv_is_greener():
    """ANSI C78.377: Duv is positive above the locus."""
    assert kelvin_duv_to_xy(4000, 0.01)[1] > kelvin_duv_to_xy(4000, 0)[1]


def test_leading_shapes():
    kelvin = np.full((2, 3), 5000.0)
    xy = kelvin_duv_to_xy(kelvin)
    assert xy.shape == (2, 3, 2)
    assert [values.shape for values in xy_to_kelvin_duv(xy)] == [(2, 3), (2, 3)]
    assert nearest_kelvin(xy).shape == (2, 3)
    assert kelvin_duv_to_xy(5000, np.zeros(4)).shape == (4, 2)


def test_nearest_kelvin_stays_in_range():
    np.testing.assert_allclose(nearest_kelvin([[0.72, 0.28], [0.2, 0.2]]), [1000, 100000])
    assert nearest_kelvin(kelvin_duv_to_xy(3300, 0.02)) == pytest.approx(3300)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: kelvin_duv_to_xy(900), "temperature 900 K is not within 1000 to 100000 K"),
        (lambda: kelvin_duv_to_xy([5000, np.nan]), "temperature nan K is not within"),
        (lambda: kelvin_duv_to_xy(5000, -0.06), "Duv -0.06 is not within -0.05 to 0.05"),
        (lambda: default_duv(np.inf), "temperature inf K"),
        (lambda: daylight_xy(3000), "daylight temperature 3000 K"),
        (lambda: xy_to_kelvin_duv((0.15, 0.06)), r"\(0.1500, 0.0600\) has no correlated"),
        (lambda: xy_to_kelvin_duv([(0.3, 0.3), (0.3, 0.6)]), r"\(0.3000, 0.6000\) has no"),
        (lambda: xy_to_kelvin_duv((0.3, 0)), "is not a light"),
        (lambda: nearest_kelvin((np.nan, 0.3)), "is not a light"),
        (lambda: kelvin_to_mired(0), "temperature 0.0 K is not above 0"),
        (lambda: mired_to_kelvin(-1), "-1.0 mired is not above 0"),
    ],
)
def test_impossible_values_are_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


if __name__ == "__main__":
    for u, v in fit():
        print(f"        [{u:.11f}, {v:.11f}],")
