"""Scalars for compiled loops: strict IEEE arithmetic, no branches, nothing from the C library.

Loops made of these vectorise, and give the same bits in the vector body and in its remainder, on
every processor and for every size of tile. That is why `fastmath` is nowhere used. Sums and
products of uint32 are cast back, since Numba would widen them to 64 bits.
"""

import numba
import numpy as np
from llvmlite import binding, ir
from numba import types
from numba.extending import intrinsic


def _use_wide_registers():
    """On processors with AVX-512, LLVM prefers registers of half the width unless told."""
    features = binding.get_host_cpu_features()
    if features.get("avx512f") and not numba.config.CPU_FEATURES:
        numba.config.CPU_FEATURES = features.flatten() + ",-prefer-256-bit"


_use_wide_registers()


def compiled(function):
    """Compile a function at its first call; the machine code is kept where there is a place."""
    options = {"nogil": True, "error_model": "numpy"}
    try:
        return numba.njit(cache=True, **options)(function)
    except RuntimeError:  # neither beside the module nor in the user's cache folder
        return numba.njit(**options)(function)


f32, i32, u32, u64 = np.float32, np.int32, np.uint32, np.uint64

SIGN, MAGNITUDE = u32(0x80000000), u32(0x7FFFFFFF)
TINY = f32(1e-30)
LOG2_E_2 = f32(2.8853900817779268)
"""2 / ln 2."""


@intrinsic
def bits(context, x):
    """The bit pattern of a float32 as uint32."""
    return types.uint32(types.float32), lambda c, b, s, a: b.bitcast(a[0], ir.IntType(32))


@intrinsic
def from_bits(context, x):
    """The float32 of a bit pattern."""
    return types.float32(types.uint32), lambda c, b, s, a: b.bitcast(a[0], ir.FloatType())


@compiled
def cbrt(x):
    """Cube root, odd in x; relative error below 3e-7 (a guess by bits, two steps of Halley)."""
    b = bits(x)
    a = from_bits(b & MAGNITUDE)
    y = from_bits(u32(u32((b & MAGNITUDE) // u32(3)) + u32(709921077)))
    c = y * y * y
    y = y * ((c + a + a) / (c + c + a))
    c = y * y * y
    y = y * ((c + a + a) / (c + c + a))
    y = y if a > TINY else f32(0)
    return from_bits(bits(y) | (b & SIGN))


@compiled
def log2(x):
    """Binary logarithm of a normal x > 0; absolute error below 3e-7 for |log2 x| <= 1.

    With m in sqrt(1/2)..sqrt(2) and s = (m - 1) / (m + 1), ln m = 2 artanh s as a series.
    """
    b = u32(bits(x) - u32(0x3F3504F3))
    exponent = f32(i32(b) >> i32(23))
    m = from_bits(u32((b & u32(0x007FFFFF)) + u32(0x3F3504F3)))
    s = (m - f32(1)) / (m + f32(1))
    q = s * s
    series = f32(1) + q * (f32(1 / 3) + q * (f32(1 / 5) + q * (f32(1 / 7) + q * f32(1 / 9))))
    return exponent + LOG2_E_2 * s * series


@compiled
def exp2(x):
    """Two to the power of x for -126 <= x <= 126; relative error below 3e-7 (a Taylor series)."""
    whole = i32(i32(x + f32(126.5)) - i32(126))
    t = (x - f32(whole)) * f32(np.log(2))
    series = f32(1) + t * (
        f32(1)
        + t
        * (
            f32(1 / 2)
            + t * (f32(1 / 6) + t * (f32(1 / 24) + t * (f32(1 / 120) + t * f32(1 / 720))))
        )
    )
    return series * from_bits(u32(u32(whole + i32(127)) << u32(23)))


@compiled
def clamp(x, low, high):
    """x within low..high; low for a NaN."""
    x = x if x > low else low
    return x if x < high else high


@compiled
def smooth(t):
    """Rise from 0 to 1 without a kink at either end, for t clamped to 0..1."""
    t = clamp(t, f32(0), f32(1))
    return t * t * (f32(3) - f32(2) * t)


@compiled
def diamond_place(a, b, size):
    """Position of the hue of (a, b) in a table of `size` even steps of the diamond angle."""
    slope = a / (abs(a) + abs(b) + f32(1e-12))
    angle = f32(1) - slope if b >= f32(0) else f32(3) + slope
    return clamp(angle * (f32(size - 1) * f32(0.25)), f32(0), f32(size - 1) * f32(1 - 1e-7))


@compiled
def scramble(x):
    """A hash of 32 bits that leaves no pattern: multiply and shift, twice."""
    x = u32(u32(x ^ (x >> u32(16))) * u32(0x7FEB352D))
    x = u32(u32(x ^ (x >> u32(15))) * u32(0x846CA68B))
    return u32(x ^ (x >> u32(16)))
