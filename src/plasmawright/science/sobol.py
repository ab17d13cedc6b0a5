"""Evenly spread draws: a Sobol sequence of our own, so that a seed means the same numbers for ever.

The primitive polynomials and first direction numbers are those of Joe and Kuo, SIAM J. Sci. Comput. 30 (2008) 2635,
table new-joe-kuo-6. The sequence is shifted digit by digit (exclusive or) with bits made from the seed by Vigna's
splitmix64 generator, which keeps it even. Another seed gives other points of the same net, not independent ones.
"""

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import OutOfRange

BITS = 32

# (polynomial with its leading bit, first direction numbers), from the second dimension on; the first needs none.
DIRECTIONS: tuple[tuple[int, tuple[int, ...]], ...] = (
    (3, (1,)),
    (7, (1, 3)),
    (11, (1, 3, 1)),
    (13, (1, 1, 1)),
    (19, (1, 1, 3, 3)),
    (25, (1, 3, 5, 13)),
    (37, (1, 1, 5, 5, 17)),
    (41, (1, 1, 5, 5, 5)),
    (47, (1, 1, 7, 11, 19)),
    (55, (1, 1, 5, 1, 1)),
    (59, (1, 1, 1, 3, 11)),
    (61, (1, 3, 5, 5, 31)),
    (67, (1, 3, 3, 9, 7, 49)),
    (91, (1, 1, 1, 15, 21, 21)),
    (97, (1, 3, 1, 13, 27, 49)),
    (103, (1, 1, 1, 15, 7, 5)),
    (109, (1, 3, 1, 15, 13, 25)),
    (115, (1, 1, 5, 5, 19, 61)),
    (131, (1, 3, 7, 11, 23, 15, 103)),
    (137, (1, 3, 7, 13, 13, 15, 69)),
    (143, (1, 1, 3, 13, 7, 35, 63)),
    (145, (1, 3, 5, 9, 1, 25, 53)),
    (157, (1, 3, 1, 13, 9, 35, 107)),
    (167, (1, 3, 1, 5, 27, 61, 31)),
    (171, (1, 1, 5, 11, 19, 41, 61)),
    (185, (1, 3, 5, 3, 3, 13, 69)),
    (191, (1, 1, 7, 13, 1, 19, 1)),
    (193, (1, 3, 7, 5, 13, 19, 59)),
    (203, (1, 1, 3, 9, 25, 29, 41)),
    (211, (1, 3, 5, 13, 23, 1, 55)),
    (213, (1, 3, 7, 3, 13, 59, 17)),
    (229, (1, 3, 1, 3, 5, 53, 69)),
    (239, (1, 1, 5, 5, 23, 33, 13)),
    (241, (1, 1, 7, 7, 1, 61, 123)),
    (247, (1, 1, 7, 9, 13, 61, 49)),
    (253, (1, 3, 3, 5, 3, 55, 33)),
    (285, (1, 3, 1, 15, 31, 13, 49, 245)),
    (299, (1, 3, 5, 15, 31, 59, 63, 97)),
    (301, (1, 3, 1, 11, 11, 11, 77, 249)),
    (333, (1, 3, 1, 11, 27, 43, 71, 9)),
    (351, (1, 1, 7, 15, 21, 11, 81, 45)),
    (355, (1, 3, 7, 3, 25, 31, 65, 79)),
    (357, (1, 3, 1, 1, 19, 11, 3, 205)),
    (361, (1, 1, 5, 9, 19, 21, 29, 157)),
    (369, (1, 3, 7, 11, 1, 33, 89, 185)),
    (391, (1, 3, 3, 3, 15, 9, 79, 71)),
    (397, (1, 3, 7, 11, 15, 39, 119, 27)),
    (425, (1, 1, 3, 1, 11, 31, 97, 225)),
    (451, (1, 1, 1, 3, 23, 43, 57, 177)),
    (463, (1, 3, 7, 7, 17, 17, 37, 71)),
    (487, (1, 3, 1, 5, 27, 63, 123, 213)),
    (501, (1, 1, 3, 5, 11, 43, 53, 133)),
    (529, (1, 3, 5, 5, 29, 17, 47, 173, 479)),
    (539, (1, 3, 3, 11, 3, 1, 109, 9, 69)),
    (545, (1, 1, 1, 5, 17, 39, 23, 5, 343)),
    (557, (1, 3, 1, 5, 25, 15, 31, 103, 499)),
    (563, (1, 1, 1, 11, 11, 17, 63, 105, 183)),
    (601, (1, 1, 5, 11, 9, 29, 97, 231, 363)),
    (607, (1, 1, 5, 15, 19, 45, 41, 7, 383)),
    (617, (1, 3, 7, 7, 31, 19, 83, 137, 221)),
    (623, (1, 1, 1, 3, 23, 15, 111, 223, 83)),
    (631, (1, 1, 5, 13, 31, 15, 55, 25, 161)),
    (637, (1, 1, 3, 13, 25, 47, 39, 87, 257)),
)
DIMENSIONS_MAX = len(DIRECTIONS) + 1
COUNT_MAX = 1 << 20


def _splitmix64(state: int) -> int:
    state = (state + 0x9E3779B97F4A7C15) & 0xFFFFFFFFFFFFFFFF
    state = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
    state = ((state ^ (state >> 27)) * 0x94D049BB133111EB) & 0xFFFFFFFFFFFFFFFF
    return state ^ (state >> 31)


def _directions(dimension: int) -> NDArray[np.uint64]:
    """Return the ``BITS`` direction numbers of one dimension, counted from 0."""
    if dimension == 0:
        return np.array([1 << (BITS - 1 - bit) for bit in range(BITS)], dtype=np.uint64)
    polynomial, numbers = DIRECTIONS[dimension - 1]
    degree = len(numbers)
    found = list(numbers)
    for bit in range(degree, BITS):
        new = found[bit - degree] ^ (found[bit - degree] << degree)
        for back in range(1, degree):
            if polynomial >> (degree - back) & 1:
                new ^= found[bit - back] << back
        found.append(new)
    return np.array([number << (BITS - 1 - bit) for bit, number in enumerate(found)], dtype=np.uint64)


def sobol(*, count: int, dimensions: int, seed: int) -> NDArray[np.float64]:
    """Return ``count`` points of the unit cube, shape (count, dimensions), each strictly between 0 and 1.

    Raises
    ------
    OutOfRange
        If ``dimensions`` or ``count`` is more than the sequence holds.
    """
    if not 1 <= dimensions <= DIMENSIONS_MAX:
        raise OutOfRange("dimensions", dimensions, 1, DIMENSIONS_MAX, "Draw fewer quantities together.")
    if not 1 <= count <= COUNT_MAX:
        raise OutOfRange("draws", count, 1, COUNT_MAX, "Ask for a number of draws in this range; 512 is usual.")
    gray = np.arange(count, dtype=np.uint64)
    gray ^= gray >> np.uint64(1)
    points = np.empty((count, dimensions))
    for dimension in range(dimensions):
        digits = np.zeros(count, dtype=np.uint64)
        for bit, direction in enumerate(_directions(dimension)):
            digits ^= np.where(gray >> np.uint64(bit) & np.uint64(1), direction, np.uint64(0))
        shift = _splitmix64(_splitmix64(seed & 0xFFFFFFFF) + dimension) >> (64 - BITS)
        points[:, dimension] = ((digits ^ np.uint64(shift)).astype(float) + 0.5) / 2.0**BITS
    return points
