"""The most within windows of a plane, by doubling: of 2, 4, 8 and so on values, and of as many as
the window has from two such windows that overlap. A plane may be several side by side.

Time goes by the number of loops more than by their length, so they run over whole rows.
"""

from grading.kernels.primitives import inner


@inner
def most_along(lines, wide, size, out):
    """The most of the `size` values from each on, of the first row of `lines`; both are used."""
    step, which = 1, 0
    while 2 * step <= size:
        wide -= step
        more(lines[which], lines[which, step:], lines[1 - which, :wide])
        which, step = 1 - which, 2 * step
    more(lines[which], lines[which, size - step :], out)


@inner
def most_down(plane, size):
    """Have each row be the most of as many rows from it on as `size` has in a power of two.

    Returns
    -------
    int
        That power. The most of `size` rows is the more of row y and row y + size - power.
    """
    step, rows = 1, plane.shape[0]
    while 2 * step <= size:
        rows -= step
        for y in range(rows):
            more(plane[y], plane[y + step], plane[y])
        step *= 2
    return step


@inner
def more(a, b, out):
    """The more of each two values."""
    for x in range(out.size):
        out[x] = max(a[x], b[x])
