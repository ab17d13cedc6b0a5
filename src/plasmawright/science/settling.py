"""Crowded cells settling in a closed spinning tube: the one-dimensional finite-volume march.

Every kind of cell is a continuum with a volume fraction; plasma fills the rest. Kinds exchange places pair by pair,
so that the volume of each is kept to round-off and no cell of the grid is ever fuller than it can be packed:

    A d(phi_i)/dt + d/dr [A phi_i v_i] = 0
    phi_i v_i = sum_k phi_i phi_k (u_i - u_k)          over all kinds and plasma (u_plasma = 0)
    u_i = a(r) K_i F(phi) (rho_i - rho_mix) + w_i      K_i = 2 R_i^2 m_i / (9 mu)
    F   = (1 - phi)^(n - 2) [1 - (phi / phi_packed)^8]

``w_i`` is what the settling red cells do to the others: platelets are pressed out of the bed ahead of the plasma
(``expression``), white cells are carried with the network (``entrainment``). A stirring of the plasma above the bed
may be added. At each face the mobility is that of the receiving side, after the schemes of Bürger, Garcia, Karlsen
and Towers for polydisperse suspensions (J. Eng. Math. 60 (2008) 387, from memory), with van Leer slopes and Heun's
method.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import OutOfRange
from plasmawright.science.settling_kernel import STEPS_MAX, march_range

Array = NDArray[np.float64]

PORTIONS_PER_THREAD = 10


@dataclass(frozen=True, kw_only=True)
class Suspension:
    """What the cells are, one value a draw and kind.

    Parameters
    ----------
    mobility_m2_per_pa_s
        K of each kind, shape (draws, kinds).
    density_kg_m3
        Of each kind, shape (draws, kinds).
    plasma_density_kg_m3
        Shape (draws,).
    expression
        beta of each kind, 0 for all but platelets, shape (draws, kinds).
    entrainment
        theta of each kind, 0 for all but white cells, shape (draws, kinds).
    packed_frac, loose_frac
        Packing limit of each kind under an infinite and under no load, shape (draws, kinds).
    packing_load_pa, packing_exponent
        s0 and b of the approach to the limit, shape (draws,).
    hindrance_exponent
        n, the same for all.
    stirring_m2_s
        Diffusivity of cells in the plasma above the bed, shape (draws,); 0 for none.
    """

    mobility_m2_per_pa_s: Array
    density_kg_m3: Array
    plasma_density_kg_m3: Array
    expression: Array
    entrainment: Array
    packed_frac: Array
    loose_frac: Array
    packing_load_pa: Array
    packing_exponent: Array
    stirring_m2_s: Array
    hindrance_exponent: float


@dataclass(frozen=True, kw_only=True)
class Column:
    """The grid: cells from the meniscus (index 0) to the bottom, one row a draw.

    Parameters
    ----------
    face_area_m2, face_acceleration_m_s2
        At the faces, shape (draws, cells + 1); acceleration is along the tube's axis, positive towards the bottom.
    cell_volume_m3
        Shape (draws, cells).
    cell_height_m
        Height of one cell of the grid, shape (draws,).
    """

    face_area_m2: Array
    face_acceleration_m_s2: Array
    cell_volume_m3: Array
    cell_height_m: Array


def families(suspension: Suspension) -> NDArray[np.int64]:
    """Return the family of each kind as a number, plasma last: all platelets are one, all white cells another.

    Kinds of one family hardly differ in speed and hardly fill a place between them: what they would exchange with
    each other is left out of the march, a sixth of its work.
    """
    kinds = suspension.expression.shape[1]
    found = np.arange(3, kinds + 4)
    found[:kinds][(suspension.entrainment > 0).any(axis=0)] = 2
    found[:kinds][(suspension.expression > 0).any(axis=0)] = 1
    return found


def march(
    phi: Array, moments_s: Array, *, suspension: Suspension, column: Column, sublayer_m: float, threads: int
) -> Array:
    """Spin every draw's column and return its cells at each moment.

    Parameters
    ----------
    phi
        Volume fractions at the start, shape (draws, kinds, cells); red cells are kind 0, plasma is what is left.
    moments_s
        Ascending times at full speed, shape (moments,); see ``rotor.equivalent_time_s`` for ramps.
    sublayer_m
        Depth of still plasma over the bed that stirring does not reach.
    threads
        How many threads share the draws; the answer does not depend on it.

    Returns
    -------
    numpy.ndarray
        Volume fractions, shape (draws, moments, kinds, cells).

    Raises
    ------
    OutOfRange
        If a fraction is negative or a grid cell is fuller than it can be.
    """
    draws, kinds, cells = phi.shape
    total = phi.sum(axis=1)
    if not (phi.min() >= 0 and total.max() < 1):
        raise OutOfRange("phi", float(total.max()), 0, 1, "Volume fractions of one place add up to less than 1.")
    family = families(suspension)
    seen = np.empty((draws, len(moments_s), kinds, cells))
    steps = np.empty(draws, dtype=np.int64)
    faces_m2 = np.ascontiguousarray(column.face_area_m2[:, :-1])
    pull_m_s2 = np.ascontiguousarray(column.face_acceleration_m_s2[:, :-1])

    def run(start: int, stop: int) -> None:
        march_range(
            start,
            stop,
            phi,
            family,
            moments_s,
            suspension.mobility_m2_per_pa_s,
            suspension.density_kg_m3,
            suspension.plasma_density_kg_m3,
            suspension.expression,
            suspension.entrainment,
            suspension.packed_frac,
            suspension.loose_frac,
            suspension.packing_load_pa,
            suspension.packing_exponent,
            suspension.stirring_m2_s,
            suspension.hindrance_exponent - 2,
            faces_m2,
            pull_m_s2,
            column.cell_volume_m3,
            column.cell_height_m,
            sublayer_m,
            seen,
            steps,
        )

    if threads == 1 or draws == 1:
        run(0, draws)
    else:
        # more portions than threads, since draws differ in how many steps they take
        edges = np.linspace(0, draws, min(threads * PORTIONS_PER_THREAD, draws) + 1).astype(int)
        with ThreadPoolExecutor(threads) as pool:
            for done in [pool.submit(run, int(a), int(b)) for a, b in pairwise(edges)]:
                done.result()
    if steps.max() >= STEPS_MAX:
        raise OutOfRange("steps.minutes", float(steps.max()), 1, STEPS_MAX, "Shorten the spin or lower its force.")
    return seen
