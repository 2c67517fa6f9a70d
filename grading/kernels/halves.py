"""Planes at half size, of the frame's blocks of 2x2 pixels, and back at full size."""

from grading.kernels.primitives import aligned, borrowing, f32, fma, inner, u64


@borrowing
def add(a, b, out):
    """Sums of two rows."""
    for x in range(out.size):
        out[x] = a[x] + b[x]


@inner
def halve(plane, region, down, over, out):
    """Means of the frame's blocks of 2x2 pixels in a region of a plane.

    Its outermost blocks may be cut, the first by `down` rows and `over` columns."""
    _halve(plane, region, down, over, aligned((2 * out.shape[1],)), out)


@borrowing
def _halve(plane, region, down, over, line, out):
    top, bottom, left, right = region
    for y in range(out.shape[0]):
        first = plane[max(top + 2 * y - down, top), left:right]
        second = plane[min(top + 2 * y + 1 - down, bottom - 1), left:right]
        halve_rows(first, second, over, line, out[y])


@borrowing
def halve_rows(first, second, over, line, out):
    """The same for a row of blocks; `line` has room for two values for each."""
    columns = first.size
    add(first, second, line[over : over + columns])
    line[0] = line[over]
    line[2 * out.size - 1] = line[over + columns - 1]
    for x in range(u64(out.size)):
        out[x] = f32(0.25) * (line[x + x] + line[x + x + u64(1)])


@inner
def diagonals(plane, region, down, over, out):
    """Energy of what is diagonal in the same blocks, as detail as fine as pixels is."""
    _diagonals(plane, region, down, over, aligned((2 * out.shape[1],)), out)


@borrowing
def _diagonals(plane, region, down, over, line, out):
    top, bottom, left, right = region
    columns = right - left
    for y in range(out.shape[0]):
        first = plane[max(top + 2 * y - down, top), left:right]
        second = plane[min(top + 2 * y + 1 - down, bottom - 1), left:right]
        for x in range(columns):
            line[over + x] = first[x] - second[x]
        line[0] = line[over]
        line[line.size - 1] = line[over + columns - 1]
        for x in range(u64(out.shape[1])):
            difference = f32(0.5) * (line[x + x] - line[x + x + u64(1)])
            out[y, x] = difference * difference


@borrowing
def enlarge(plane, y, line, out):
    """A row at full size, linearly between the middles of its blocks; `y` counts from the first."""
    near, far = y // 2, y // 2 - 1 + 2 * (y % 2)
    near, far = plane[near], plane[min(max(far, 0), plane.shape[0] - 1)]
    count = near.size
    for x in range(count):
        line[x + 1] = fma(f32(0.75), near[x], f32(0.25) * far[x])
    line[0], line[count + 1] = line[1], line[count]
    before, after = line, line[2:]
    for x in range(u64(count)):
        own = f32(0.75) * line[x + u64(1)]
        out[x + x] = fma(f32(0.25), before[x], own)
        out[x + x + u64(1)] = fma(f32(0.25), after[x], own)
