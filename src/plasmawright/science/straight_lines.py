"""Reading values off straight lines, many rows at once, compiled."""

from numba import njit


@njit(nogil=True, cache=True)
def read_off(at, axis, values, read):
    """Fill ``read[d, n]`` with ``values[d]`` read off at ``at[d, n]`` by straight lines; ends are held beyond them.

    Shapes (draws, points), (draws, knots), (draws, knots), (draws, points); ``axis`` and ``at`` ascend.
    """
    draws, points = at.shape
    knots = axis.shape[1]
    for d in range(draws):
        k = 0
        for n in range(points):
            here = at[d, n]
            while k < knots - 2 and axis[d, k + 1] < here:
                k += 1
            wide = axis[d, k + 1] - axis[d, k]
            part = (here - axis[d, k]) / wide if wide > 0.0 else 1.0
            part = min(max(part, 0.0), 1.0)
            read[d, n] = values[d, k] + part * (values[d, k + 1] - values[d, k])
