"""Scalars for compiled loops: strict IEEE arithmetic, no branches, nothing from the C library.

Loops made of these vectorise, and give the same bits in the vector body and in its remainder, on
every processor and for every size of tile. That is why `fastmath` is nowhere used. Sums and
products of uint32 are cast back, since Numba would widen them to 64 bits.
"""

import numba
import numpy as np
from llvmlite import binding, ir
from numba import types
from numba.extending import intrinsic, register_jitable


def _use_wide_registers():
    """With AVX-512, LLVM prefers registers of half the width unless told otherwise."""
    features = binding.get_host_cpu_features()
    if features.get("avx512f") and not numba.config.CPU_FEATURES:
        numba.config.CPU_FEATURES = features.flatten() + ",-prefer-256-bit"


_use_wide_registers()


_OPTIONS = {"error_model": "numpy", "no_cfunc_wrapper": True}


def compiled(function):
    """Compile a function at its first call; the machine code is kept where there is a place."""
    options = {"nogil": True, **_OPTIONS}
    try:
        return numba.njit(cache=True, **options)(function)
    except RuntimeError:  # neither beside the module nor in the user's cache folder
        return numba.njit(**options)(function)


inner = register_jitable(**_OPTIONS)
"""Compile a function for those that call it and are compiled: nothing is made to call it from
Python, which sees it as it is written, and nothing is kept, since its callers hold its code."""

borrowing = register_jitable(_nrt=False, **_OPTIONS)
"""The same for a function that neither makes arrays nor gives any back: it does not count who holds
those that it is given, so the rows that it takes of them, and hands on, cost nothing."""

CACHE_LINE = 64
"""Bytes; as many as the widest vector register has."""


@inner
def aligned(shape):
    """An array of float32, not filled, that begins at a cache line.

    A register's load or store that straddles two lines takes two turns, which halves the speed of
    a loop that does little else; NumPy's and Numba's own arrays begin anywhere.

    Parameters
    ----------
    shape : tuple of int

    Returns
    -------
    ndarray, float32, C-contiguous
    """
    size = 1
    for length in shape:
        size *= length
    memory = np.empty(size + CACHE_LINE // 4, np.float32)
    start = -memory.ctypes.data % CACHE_LINE // 4
    return memory[start : start + size].reshape(shape)


f32, i32, u32, u64 = np.float32, np.int32, np.uint32, np.uint64

SIGN, MAGNITUDE = u32(0x80000000), u32(0x7FFFFFFF)
TINY = f32(1e-30)
LOG2_SERIES = tuple(
    f32(c)
    for c in (
        1.4426950, -0.72134733, 0.48091061, -0.36070483, 0.28791831, -0.23892028, 0.21566997,
        -0.20742154, 0.12614878,
    )
)  # fmt: skip
"""Of log2(1 + t) / t in t, for 1 + t between sqrt(1/2) and sqrt(2): least squares at the extrema
of a Chebyshev polynomial, as `EXP2_SERIES`."""

EXP2_SERIES = tuple(
    f32(c) for c in (0.69314719, 0.24022651, 0.055503571, 0.0096180567, 0.0013390869, 0.00015461450)
)
"""Of (2**t - 1) / t in t, for t between -1/2 and 1/2."""


@intrinsic
def bits(context, x):
    """The bit pattern of a float32 as uint32."""
    return types.uint32(types.float32), lambda c, b, s, a: b.bitcast(a[0], ir.IntType(32))


@intrinsic
def from_bits(context, x):
    """The float32 of a bit pattern."""
    return types.float32(types.uint32), lambda c, b, s, a: b.bitcast(a[0], ir.FloatType())


@intrinsic
def fma(context, a, b, c):
    """a * b + c, rounded once (fusedMultiplyAdd of IEEE 754-2008, 5.4.1)."""
    return (
        types.float32(types.float32, types.float32, types.float32),
        lambda c, builder, s, arguments: builder.fma(*arguments),
    )


@inner
def channels(planes):
    """The planes of a tile, shape (3, rows, columns), each as one run of pixels."""
    return planes[0].ravel(), planes[1].ravel(), planes[2].ravel()


@inner
def entries(m):
    """The entries of a (3, 3) matrix row by row, so that a loop has them in registers."""
    return m[0, 0], m[0, 1], m[0, 2], m[1, 0], m[1, 1], m[1, 2], m[2, 0], m[2, 1], m[2, 2]


@inner
def dot(a, b, c, x, y, z):
    """a x + b y + c z."""
    return fma(c, z, fma(b, y, a * x))


@inner
def transform(m, x, y, z):
    """A matrix, by its `entries`, times (x, y, z)."""
    return (
        dot(m[0], m[1], m[2], x, y, z),
        dot(m[3], m[4], m[5], x, y, z),
        dot(m[6], m[7], m[8], x, y, z),
    )


@inner
def between(low, high, share):
    """From `low` to `high` by a share of the way."""
    return fma(share, high - low, low)


@inner
def series(x, coefficients):
    """The polynomial in x whose coefficients rise in order."""
    y = coefficients[-1]
    for k in range(len(coefficients) - 2, -1, -1):
        y = fma(y, x, coefficients[k])
    return y


@inner
def cbrt(x):
    """Cube root, odd in x, 0 below 1e-30; relative error below 2e-7.

    A guess by bits of one over the root, a step of third order, and a last one on the root itself;
    no division, since that takes as long as all the rest.
    """
    magnitude = bits(x) & MAGNITUDE
    a = from_bits(magnitude)
    y = from_bits(u32(i32(f32(1419967116) - f32(i32(magnitude)) * f32(1 / 3))))
    rest = fma(-(a * y), y * y, f32(1))
    y = fma(y * rest, fma(rest, fma(rest, f32(14 / 81), f32(2 / 9)), f32(1 / 3)), y)
    root = a * y * y
    root = fma(root * fma(-root, y, f32(1)), f32(2 / 3), root)
    root = root if a > TINY else f32(0)
    return from_bits(bits(root) | (bits(x) & SIGN))


@inner
def log2(x):
    """Binary logarithm of a normal x > 0; absolute error below 2e-7 for |log2 x| <= 1."""
    b = u32(bits(x) - u32(0x3F3504F3))
    exponent = f32(i32(b) >> i32(23))
    t = from_bits(u32((b & u32(0x007FFFFF)) + u32(0x3F3504F3))) - f32(1)
    return fma(series(t, LOG2_SERIES), t, exponent)


@inner
def exp2(x):
    """Two to the power of x for -126 <= x <= 126; relative error below 2e-7."""
    whole = i32(i32(x + f32(126.5)) - i32(126))
    t = x - f32(whole)
    return fma(series(t, EXP2_SERIES), t, f32(1)) * from_bits(
        u32(u32(whole + i32(127)) << u32(23))
    )


@inner
def clamp(x, low, high):
    """x within low..high; low for a NaN."""
    x = x if x > low else low
    return x if x < high else high


@inner
def smooth(t):
    """Rise from 0 to 1 without a kink at either end, for t clamped to 0..1."""
    t = clamp(t, f32(0), f32(1))
    return t * t * fma(f32(-2), t, f32(3))


@inner
def diamond_place(a, b, size):
    """Position of the hue of (a, b) in a table of `size` even steps of the diamond angle."""
    slope = a / (abs(a) + abs(b) + f32(1e-12))
    angle = f32(1) - slope if b >= f32(0) else f32(3) + slope
    return clamp(angle * (f32(size - 1) * f32(0.25)), f32(0), f32(size - 1) * f32(1 - 1e-7))


@inner
def scramble(x):
    """A hash of 32 bits that leaves no pattern: multiply and shift, twice."""
    x = u32(u32(x ^ (x >> u32(16))) * u32(0x7FEB352D))
    x = u32(u32(x ^ (x >> u32(15))) * u32(0x846CA68B))
    return u32(x ^ (x >> u32(16)))
