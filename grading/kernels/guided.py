"""A guided filter: how two planes follow a third, and means of 3x3 pixels.

He, Sun and Tang, "Guided image filtering", IEEE PAMI 35:1397, 2013.
"""

from grading.kernels.primitives import aligned, borrowing, f32, fma, inner

EVEN = f32(0.2)
"""Variance of the guide, in that of a site's noise, up to which it leads nothing; ours."""


@inner
def follow(half):
    """How both other planes go with the first: slopes and what is left, means of 3x3 windows, and
    its variance."""
    rows, columns = half.shape[1:]
    slopes, rest = aligned((2, rows, columns)), aligned((2, rows, columns))
    light, spread = half[0], aligned((rows, columns))
    product, mean, level, offset = (
        aligned((rows, columns)), aligned((rows, columns)), aligned((rows, columns)),
        aligned((rows, columns)),
    )  # fmt: skip
    joint = aligned((rows, columns))
    mean3(light, mean)
    _product(light.ravel(), light.ravel(), product.ravel())
    mean3(product, spread)
    _variance(mean.ravel(), spread.ravel())
    for k in range(2):
        colour = half[1 + k]
        mean3(colour, level)
        _product(light.ravel(), colour.ravel(), product.ravel())
        mean3(product, joint)
        _line(
            mean.ravel(), spread.ravel(), level.ravel(), joint.ravel(), product.ravel(),
            offset.ravel(),
        )  # fmt: skip
        mean3(product, slopes[k])
        mean3(offset, rest[k])
    return slopes, rest, spread


@inner
def _product(a, b, out):
    for x in range(out.size):
        out[x] = a[x] * b[x]


@inner
def _variance(mean, square):
    for x in range(mean.size):
        spread = fma(-mean[x], mean[x], square[x])
        square[x] = spread if spread > f32(0) else f32(0)


@inner
def _line(mean, spread, level, joint, slope, offset):
    for x in range(slope.size):
        slope[x] = fma(-mean[x], level[x], joint[x]) / (spread[x] + EVEN)
        offset[x] = fma(-slope[x], mean[x], level[x])


@inner
def mean3(plane, out):
    """Means of 3x3 pixels, the outermost repeated."""
    _mean_rows(plane, aligned((plane.shape[1] + 2,)), out)


@borrowing
def _mean_rows(plane, line, out):
    rows = plane.shape[0]
    for y in range(rows):
        mean_row(plane[max(y - 1, 0)], plane[y], plane[min(y + 1, rows - 1)], line, out[y])


@inner
def mean_row(up, here, low, line, out):
    """Means of 3x3 pixels about a row; `line` has room for two more."""
    columns = out.size
    for x in range(columns):
        line[x + 1] = (up[x] + low[x]) + here[x]
    line[0], line[columns + 1] = line[1], line[columns]
    before, after = line, line[2:]
    for x in range(columns):
        out[x] = f32(1 / 9) * ((before[x] + after[x]) + line[x + 1])
