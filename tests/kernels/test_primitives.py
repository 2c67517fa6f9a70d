"""The compiled scalars against NumPy in double precision."""

import sys
from fractions import Fraction

import numba
import numpy as np
import pytest

from grading.kernels import primitives


def over(function):
    """A compiled loop over an array, as the kernels have them."""

    @numba.njit(error_model="numpy")
    def loop(x, out):
        for i in range(x.size):
            out[i] = function(x[i])

    def run(x, dtype=np.float32):
        x = np.asarray(x)
        out = np.empty(x.shape, dtype)
        loop(x.ravel(), out.ravel())
        return out

    return run


def test_what_borrows_arrays_makes_none():
    @primitives.borrowing
    def row_of_ones(x):
        out = np.empty(x.size, np.float32)
        out[:] = 1
        x[0] = out[0]

    @numba.njit
    def call(x):
        row_of_ones(x)

    with pytest.raises(numba.TypingError, match="array passed into the function"):
        call(np.zeros(2, np.float32))


def test_what_is_borrowed_is_given_back():
    @primitives.borrowing
    def raise_rows(x):
        for y in range(x.shape[0]):
            row = x[y]
            for i in range(row.size):
                row[i] += y

    @numba.njit
    def call(x):
        raise_rows(x)

    x = np.zeros((3, 2), np.float32)
    before = sys.getrefcount(x)
    call(x)
    after = sys.getrefcount(x)
    assert after == before
    assert x.tolist() == [[0, 0], [1, 1], [2, 2]]


LOOPS = {name: over(getattr(primitives, name)) for name in ("cbrt", "log2", "exp2", "smooth")}


def spread(low, high, count=200_001):
    """Floats at even steps of their logarithm."""
    return np.exp2(np.linspace(low, high, count)).astype(np.float32)


def relative_error(value, exact):
    return np.abs(value / exact - 1).max()


def test_cube_root_within_its_bound():
    x = spread(-99, 120)
    assert relative_error(LOOPS["cbrt"](x), np.cbrt(x.astype(np.float64))) < 2e-7


def test_cube_root_is_odd_and_tiny_light_is_black():
    x = spread(-60, 20, 4001)
    np.testing.assert_array_equal(LOOPS["cbrt"](-x), -LOOPS["cbrt"](x))
    np.testing.assert_array_equal(LOOPS["cbrt"](np.float32([0, 1e-31, -1e-31, 1e-45])), [0] * 4)


def test_cube_root_of_what_is_no_number_is_black():
    assert LOOPS["cbrt"](np.float32([np.nan]))[0] == 0


def test_logarithm_within_its_bound():
    x = spread(-1, 1)
    assert np.abs(LOOPS["log2"](x) - np.log2(x.astype(np.float64))).max() < 2e-7


def test_logarithm_over_the_whole_range_is_right_to_the_last_digit_of_its_size():
    x = spread(-125, 127)
    exact = np.log2(x.astype(np.float64))
    assert (np.abs(LOOPS["log2"](x) - exact) / np.maximum(np.abs(exact), 1)).max() < 2e-7


def test_logarithm_of_powers_of_two_is_exact():
    exponents = np.arange(-126, 128)
    np.testing.assert_array_equal(LOOPS["log2"](np.exp2(exponents).astype(np.float32)), exponents)


def test_power_of_two_within_its_bound():
    x = np.linspace(-126, 126, 500_001).astype(np.float32)
    assert relative_error(LOOPS["exp2"](x), np.exp2(x.astype(np.float64))) < 2e-7


def test_power_of_whole_numbers_is_exact():
    x = np.arange(-126, 127).astype(np.float32)
    np.testing.assert_array_equal(LOOPS["exp2"](x), np.exp2(x))


def test_the_seam_between_whole_numbers():
    """The float32 numbers about 1/2, where the whole part changes."""
    x = np.float32(0.5) + np.arange(-8, 9, dtype=np.float32) * np.float32(2.0**-25)
    assert relative_error(LOOPS["exp2"](x), np.exp2(x.astype(np.float64))) < 2e-7


@pytest.mark.parametrize("name", LOOPS)
def test_vectors_and_remainders_give_the_same_bits(name):
    x = np.random.default_rng(5).uniform(0.01, 8, 1003).astype(np.float32)
    whole = LOOPS[name](x)
    np.testing.assert_array_equal(
        np.concatenate([LOOPS[name](x[i : i + 1]) for i in range(1003)]), whole
    )


def test_smooth_rise():
    t = np.linspace(-1, 2, 3001).astype(np.float32)
    rise = LOOPS["smooth"](t)
    assert (np.diff(rise) >= 0).all()
    np.testing.assert_array_equal(
        LOOPS["smooth"](np.float32([-1, 0, 0.5, 1, 2])), [0, 0, 0.5, 1, 1]
    )
    np.testing.assert_allclose(rise + rise[::-1], 1, atol=2e-7)
    assert LOOPS["smooth"](np.float32([np.nan]))[0] == 0


def test_clamp_takes_no_number_for_the_low_end():
    low, high = np.float32(-1), np.float32(2)
    values = [
        primitives.clamp(np.float32(x), low, high) for x in (-3, 0.5, 9, np.nan, np.inf, -np.inf)
    ]
    assert values == [-1, 0.5, 2, -1, 2, -1]


SCRAMBLE = over(primitives.scramble)


def scrambled(x):
    return SCRAMBLE(np.asarray(x, np.uint32), np.uint32)


def test_scramble_keeps_every_word_apart():
    """Multiplication by odd numbers and shifts can be undone, so no two words collide."""
    words = scrambled(np.arange(2**20))
    assert len(np.unique(words)) == 2**20


def test_scramble_sets_every_bit_half_of_the_time():
    words = scrambled(np.arange(2**18))
    shares = [np.mean((words >> np.uint32(bit)) & 1) for bit in range(32)]
    # five standard deviations of a fair coin
    np.testing.assert_allclose(shares, 0.5, atol=5 * 0.5 / 2**9)


def test_scramble_turns_one_bit_into_half_of_the_bits():
    """The avalanche criterion (Webster and Tavares, CRYPTO '85)."""
    words = np.random.default_rng(2).integers(0, 2**32, 20_000, dtype=np.uint32)
    before = scrambled(words)
    for bit in range(32):
        turned = before ^ scrambled(words ^ np.uint32(1 << bit))
        for out in range(32):
            assert abs(np.mean((turned >> np.uint32(out)) & 1) - 0.5) < 0.03, (bit, out)


def test_without_a_place_for_machine_code():
    """Numba refuses to cache what comes from no file, as where no folder can be written."""
    names = {}
    exec("def twice(x): return x + x", names)
    with pytest.raises(RuntimeError, match="cannot cache"):
        numba.njit(cache=True)(names["twice"])
    assert primitives.compiled(names["twice"])(np.float32(3)) == 6


def test_fused_multiply_add_is_rounded_once():
    """Of IEEE 754: exact fractions, rounded to the nearest float32."""

    @numba.njit
    def apply(a, b, c, out):
        for i in range(a.size):
            out[i] = primitives.fma(a[i], b[i], c[i])

    rng = np.random.default_rng(3)
    a, b = rng.uniform(0.5, 2, (2, 500)).astype(np.float32)
    c = -(a * b)  # what is left is the rounding of the product, which a second rounding loses
    out = np.empty_like(a)
    apply(a, b, c, out)
    exact = [
        float(Fraction(float(x)) * Fraction(float(y)) + Fraction(float(z)))
        for x, y, z in zip(a, b, c, strict=True)
    ]
    np.testing.assert_array_equal(out, np.float32(exact))
    assert np.count_nonzero(out) > 400


@pytest.mark.parametrize("shape", [(3, 5, 7), (1,), (2, 16)])
def test_aligned_arrays_begin_at_a_cache_line_in_and_out_of_compiled_code(shape):
    compiled = numba.njit(primitives.aligned)
    kept = []  # so that each lies elsewhere
    for make in (primitives.aligned, compiled) * 20:
        array = make(shape)
        assert array.shape == shape and array.dtype == np.float32 and array.flags.c_contiguous
        assert array.ctypes.data % primitives.CACHE_LINE == 0
        array[:] = 1
        kept.append(array)
    assert all((array == 1).all() for array in kept)
