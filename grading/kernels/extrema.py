"""The most within windows of a plane, by trebling: of 3, 9 and so on values, and of as many as the
window has from three such windows that overlap. A plane may be several side by side.

Time goes by the number of loops more than by their length, so they run over whole rows.
"""

from grading.kernels.primitives import inner


@inner
def most_along(lines, wide, size, out):
    """The most of the `size` values from each on, of the first row of `lines`; both are used."""
    step, which = 1, 0
    while 3 * step < size:
        wide -= 2 * step
        line = lines[which]
        most(line, line[step:], line[2 * step :], lines[1 - which, :wide])
        which, step = 1 - which, 3 * step
    line = lines[which]
    most(line, line[(size - step) // 2 :], line[size - step :], out)


@inner
def most_down(plane, size):
    """Have each row be the most of as many rows from it on as a power of three has below `size`.

    Returns
    -------
    int
        That power, for `most_of_rows`.
    """
    step, rows = 1, plane.shape[0]
    while 3 * step < size:
        rows -= 2 * step
        for y in range(rows):
            _raise(plane[y + step], plane[y + 2 * step], plane[y])
        step *= 3
    return step


@inner
def most_of_rows(plane, y, size, step, out):
    """The most of the `size` rows from one on, of a plane that `most_down` made."""
    most(plane[y], plane[y + (size - step) // 2], plane[y + size - step], out)


@inner
def most(a, b, c, out):
    """The most of each three values."""
    for x in range(out.size):
        out[x] = max(max(a[x], b[x]), c[x])


@inner
def _raise(a, b, values):
    """`most` in place; two names for one run of memory would keep a loop from being vectorised."""
    for x in range(values.size):
        values[x] = max(max(values[x], a[x]), b[x])
