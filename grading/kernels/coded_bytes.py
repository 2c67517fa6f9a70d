"""The entropy-coded bytes of JPEG, read several at a time, up to a marker (ITU-T T.81, B.1.1.5)."""

import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

from grading.kernels.primitives import inner

_LOWEST_BITS, _TOP_BITS = np.uint64(0x0101010101010101), np.uint64(0x8080808080808080)


@inner
def is_data(stream, place):
    """Whether there is a byte, and no marker: 255 is data with a zero after it."""
    if place >= stream.size:
        return False
    return stream[place] != 255 or (place + 1 < stream.size and stream[place + 1] == 0)


@inner
def none_is_255(eight):
    """Whether none of the eight bytes of a number is 255, so that all are data as they are."""
    return (~eight - _LOWEST_BITS) & eight & _TOP_BITS == np.uint64(0)


@intrinsic
def load(context, array, place):
    """Eight bytes of an array from a place on, as a number: the first byte is its highest.

    Nothing checks that they are within the array.
    """

    def generate(context, builder, signature, arguments):
        at = _address(context, builder, signature, arguments)
        return builder.bswap(builder.load(at, align=1))

    return types.uint64(array, types.int64), generate


@intrinsic
def store(context, array, place, number):
    """The opposite of `load`."""

    def generate(context, builder, signature, arguments):
        at = _address(context, builder, signature, arguments)
        builder.store(builder.bswap(arguments[2]), at, align=1)
        return context.get_dummy_value()

    return types.none(array, types.int64, types.uint64), generate


def _address(context, builder, signature, arguments):
    data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
    return builder.bitcast(builder.gep(data, [arguments[1]]), ir.IntType(64).as_pointer())
