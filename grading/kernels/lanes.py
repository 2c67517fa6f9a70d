"""Sixteen float32 side by side, as many as fill a cache line: arithmetic on all of them at once.

For loops that the compiler does not vectorise by itself, since pixels side by side take what they
need from places that are not. Every lane is strict IEEE arithmetic of its own, so bits are those of
a loop over scalars; where registers are shorter, the compiler takes several for one.
"""

import operator

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic, models, overload, register_jitable, register_model

LANES = 16

inlined = register_jitable(error_model="numpy", no_cfunc_wrapper=True, forceinline=True)
"""Compile a function into each place where it is called: lanes that are handed over as arguments
would go by way of memory."""


class Lanes(types.Type):
    """What the compiler calls the type."""

    def __init__(self):
        super().__init__("Lanes")


lanes = Lanes()
VECTOR = ir.VectorType(ir.FloatType(), LANES)
BYTES = 4


@register_model(Lanes)
class _Model(models.PrimitiveModel):
    def __init__(self, manager, kind):
        super().__init__(manager, kind, VECTOR)


def _alike(builder, scalar):
    """A scalar in each lane."""
    one = builder.insert_element(ir.Constant(VECTOR, ir.Undefined), scalar, _index(0))
    zeros = ir.Constant(ir.VectorType(ir.IntType(32), LANES), [0] * LANES)
    return builder.shuffle_vector(one, ir.Constant(VECTOR, ir.Undefined), zeros)


def _index(k):
    return ir.Constant(ir.IntType(32), k)


def _pointer(context, builder, kind, array, start):
    data = context.make_array(kind)(context, builder, array).data
    return builder.gep(data, [start], inbounds=True)


@intrinsic
def alike(context, scalar):
    """A float32 in each lane."""
    return lanes(types.float32), lambda c, builder, s, given: _alike(builder, given[0])


@intrinsic
def numbered(context):
    """0 to 15."""
    numbers = ir.Constant(VECTOR, [float(i) for i in range(LANES)])
    return lanes(), lambda c, builder, s, given: numbers


@intrinsic
def load(context, array, start):
    """Entries of a one-dimensional array from `start` on."""

    def make(context, builder, signature, given):
        at = _pointer(context, builder, signature.args[0], *given)
        return builder.load(builder.bitcast(at, VECTOR.as_pointer()), align=BYTES)

    return lanes(array, types.uint64), make


@intrinsic
def store(context, array, start, value):
    """Into a one-dimensional array, from `start` on."""

    def make(context, builder, signature, given):
        at = _pointer(context, builder, signature.args[0], *given[:2])
        builder.store(given[2], builder.bitcast(at, VECTOR.as_pointer()), align=BYTES)
        return context.get_dummy_value()

    return types.none(array, types.uint64, lanes), make


@intrinsic
def fused(context, a, b, c):
    """a * b + c in each lane, rounded once."""
    return lanes(lanes, lanes, lanes), _call("fma")


@intrinsic
def lesser(context, a, b):
    """The lesser of two, the second where one is no number."""
    return _chosen("<")


@intrinsic
def greater(context, a, b):
    """The greater of two, the second where one is no number."""
    return _chosen(">")


def _chosen(how):
    def make(context, builder, signature, given):
        return builder.select(builder.fcmp_ordered(how, *given), *given)

    return lanes(lanes, lanes), make


@intrinsic
def floor(context, a):
    """The whole number below, in each lane."""
    return lanes(lanes), _call("floor")


def _call(name):
    """What LLVM has ready for vectors."""

    def make(context, builder, signature, given):
        kind = ir.FunctionType(VECTOR, [VECTOR] * len(given))
        name_there = f"llvm.{name}.v{LANES}f32"
        called = cgutils.get_or_insert_function(builder.module, kind, name_there)
        return builder.call(called, given)

    return make


@intrinsic
def where_at_least(context, a, limit, value, other):
    """`value` where a lane of `a` is at least a float32, `other` elsewhere."""

    def make(context, builder, signature, given):
        limit = _alike(builder, given[1])
        return builder.select(builder.fcmp_ordered(">=", given[0], limit), given[2], given[3])

    return lanes(lanes, types.float32, lanes, lanes), make


def _operator(name):
    @intrinsic
    def apply(context, a, b):
        return lanes(lanes, lanes), lambda c, builder, s, given: getattr(builder, name)(*given)

    return apply


_plus, _minus, _times = _operator("fadd"), _operator("fsub"), _operator("fmul")


@overload(operator.add)
def _add(a, b):
    return (lambda a, b: _plus(a, b)) if a is lanes and b is lanes else None


@overload(operator.sub)
def _subtract(a, b):
    return (lambda a, b: _minus(a, b)) if a is lanes and b is lanes else None


@overload(operator.mul)
def _multiply(a, b):
    return (lambda a, b: _times(a, b)) if a is lanes and b is lanes else None


@intrinsic
def gathered(context, array, starts, first, x, place):
    """Lane i of `place`, a whole number p, says from where: ``array[starts[first + p] + x + i]``.

    All of an array of float32 and one of int64, and of numbers of int64.
    """

    def make(context, builder, signature, given):
        kinds, (_, _, first, x, place) = signature.args, given
        wide, value = ir.IntType(64), ir.Constant(VECTOR, ir.Undefined)
        for i in range(LANES):
            here = builder.fptosi(builder.extract_element(place, _index(i)), wide)
            start = _pointer(context, builder, kinds[1], given[1], builder.add(first, here))
            at = builder.add(builder.add(builder.load(start), x), ir.Constant(wide, i))
            pixel = builder.load(_pointer(context, builder, kinds[0], given[0], at))
            value = builder.insert_element(value, pixel, _index(i))
        return value

    return lanes(array, starts, types.uint64, types.uint64, lanes), make


@intrinsic
def fetch(context, array, start):
    """Have the cache line of an array's entry brought near, which changes no value."""

    def make(context, builder, signature, given):
        at = _pointer(context, builder, signature.args[0], *given)
        at = builder.bitcast(at, ir.IntType(8).as_pointer())
        kind = ir.FunctionType(ir.VoidType(), [at.type] + 3 * [ir.IntType(32)])
        called = cgutils.get_or_insert_function(builder.module, kind, "llvm.prefetch.p0")
        builder.call(called, [at, _index(0), _index(3), _index(1)])
        return context.get_dummy_value()

    return types.none(array, types.uint64), make
