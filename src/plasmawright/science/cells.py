"""The ledger of cells: what stands in a tube, and what each act does to it, losing nothing unnamed.

A :class:`Content` is the content of one tube, one row a draw: a grid of equal heights from the meniscus (index 0) to
the bottom, and the cells that lie as a pellet. Acts are pure functions from content to content. Amounts of cells are
volumes (m3) of each kind; counts are made from them by whoever knows a cell's volume.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.science.settling import Column
from plasmawright.science.settling_kernel import RED
from plasmawright.science.straight_lines import read_off
from plasmawright.science.tube import Tube, area_m2, height_m, volume_m3

Array = NDArray[np.float64]

# A place this full of cells belongs to a bed or pellet, not to a suspension, after a spin of plasma.
PELLETED_FRAC_MIN = 0.4
# And it must be fuller by this than anything was before.
PELLETED_MORE_FRAC = 0.05


@dataclass(frozen=True, kw_only=True)
class Content:
    """What stands in one tube.

    Parameters
    ----------
    tube
        Its inside; the bore may differ between draws.
    filled_m3
        Volume of everything in it, shape (draws,).
    phi
        Volume fraction of each kind in each grid cell, shape (draws, kinds, cells).
    pellet_m3
        Volume of each kind lying at the bottom out of suspension, shape (draws, kinds).
    """

    tube: Tube
    filled_m3: Array
    phi: Array
    pellet_m3: Array

    @property
    def face_height_m(self) -> Array:
        """Heights of the grid's faces, from the meniscus down to 0, shape (draws, cells + 1)."""
        cells = self.phi.shape[2]
        top_m = height_m(self.tube, self.filled_m3)
        return np.asarray(top_m[:, None] * np.linspace(1.0, 0.0, cells + 1))

    @property
    def cell_m3(self) -> Array:
        """Volumes of the grid's cells, shape (draws, cells)."""
        return -np.diff(volume_m3(_by_draw(self.tube), self.face_height_m), axis=1)

    @property
    def amounts_m3(self) -> Array:
        """Volume of each kind, suspended and pelleted, shape (draws, kinds)."""
        return self.suspended_m3 + self.pellet_m3

    @property
    def suspended_m3(self) -> Array:
        """Volume of each kind that does not lie in the pellet, shape (draws, kinds)."""
        return np.asarray(np.einsum("dkc,dc->dk", self.phi, self.cell_m3))


def _by_draw(tube: Tube) -> Tube:
    """Return the tube with its sizes as columns, so that they broadcast over a row of heights a draw."""

    def column(size_m: float | Array) -> float | Array:
        return size_m if np.ndim(size_m) == 0 else np.asarray(size_m)[:, None]

    return replace(
        tube,
        inner_diameter_m=column(tube.inner_diameter_m),
        cone_height_m=column(tube.cone_height_m),
        tip_diameter_m=column(tube.tip_diameter_m),
    )


def fill(tube: Tube, *, filled_m3: Array, amounts_m3: Array, cells: int) -> Content:
    """Pour a well-mixed suspension: ``amounts_m3`` of each kind, shape (draws, kinds), in ``filled_m3``."""
    phi = np.repeat((amounts_m3 / filled_m3[:, None])[:, :, None], cells, axis=2)
    return Content(tube=tube, filled_m3=filled_m3, phi=phi, pellet_m3=np.zeros_like(amounts_m3))


def mix(content: Content) -> Content:
    """Stir everything, pellet included, until it is even again."""
    return fill(content.tube, filled_m3=content.filled_m3, amounts_m3=content.amounts_m3, cells=content.phi.shape[2])


@dataclass(frozen=True, kw_only=True)
class Field:
    """The field a tube stands in while it spins, one value a draw.

    Parameters
    ----------
    bottom_radius_m
        From the rotor's axis to the inside of the tube's bottom.
    speed_rad_s
        Angular speed.
    lean
        Sine of the angle between the tube's axis and the rotor's: 1 in a swing-out rotor.
    pace
        How fast an interface moves along the tube's axis, against a tube that lies along the field: 1 in a swing-out
        rotor; see :func:`inclined_pace`.
    """

    bottom_radius_m: Array
    speed_rad_s: Array
    lean: Array
    pace: Array


def inclined_pace(*, lean: Array, depth_m: Array, bore_m: Array, efficiency: Array) -> Array:
    """Return the pace of an interface along the axis of a tube that leans against the field.

    Notes
    -----
    Ponder (1925), Nakamura and Kuroda (1937): cells that fall on the wall slide down it, so that clear fluid is made
    along the whole length, pace = cos a + (depth / bore) sin a, where a is the angle between axis and field.
    ``efficiency`` is the share of the second term that a real, crowded tube shows. An approximation, not validated.
    """
    across = np.sqrt(np.maximum(1 - lean**2, 0.0))
    return np.asarray(lean + efficiency * depth_m / bore_m * across)


def column_of(content: Content, field: Field) -> Column:
    """Return the solver's grid of a tube in ``field``."""
    faces_m = content.face_height_m
    radius_m = field.bottom_radius_m[:, None] - faces_m * field.lean[:, None]
    return Column(
        face_area_m2=area_m2(_by_draw(content.tube), faces_m),
        face_acceleration_m_s2=(field.speed_rad_s**2 * field.pace)[:, None] * radius_m,
        cell_volume_m3=content.cell_m3,
        cell_height_m=faces_m[:, 0] / content.phi.shape[2],
    )


def settle_dilute(content: Content, field: Field, *, drift_s2: Array) -> Content:
    """Spin a dilute suspension by its exact solution: r = r0 exp(s omega^2 t).

    Parameters
    ----------
    drift_s2
        s t of each kind, sedimentation coefficient times equivalent time in s2, shape (draws, kinds, sizes): the
        sizes share the kind's amount evenly.

    Notes
    -----
    Along the axis no cell overtakes another of its size, so that all cells now above a height stood above the height
    from which it is reached: the amount above is read off the start. Cells that pass the bottom join the pellet.
    """
    faces_m = content.face_height_m
    axial = field.lean[:, None]
    growth = drift_s2 * (field.speed_rad_s**2 * field.pace * field.lean)[:, None, None]
    cell_m3 = content.cell_m3
    above_m3 = np.concatenate(
        [np.zeros((*content.phi.shape[:2], 1)), np.cumsum(content.phi * cell_m3[:, None, :], axis=2)], axis=2
    )
    whole_m3 = content.filled_m3[:, None]
    passed_m3 = whole_m3 - volume_m3(_by_draw(content.tube), faces_m)
    passed_m3[:, 0] = 0.0
    below_m3 = np.zeros_like(above_m3)
    read = np.empty_like(faces_m)
    bottom_m = field.bottom_radius_m[:, None]
    for size in range(growth.shape[2]):
        for kind in range(growth.shape[1]):
            start_r = (bottom_m - faces_m * axial) * np.exp(-growth[:, kind, size])[:, None]
            start_m = np.clip((bottom_m - start_r) / axial, 0.0, faces_m[:, :1])
            # by volume, not by height: within a grid cell of a cone only the volume runs straight
            over_m3 = whole_m3 - volume_m3(_by_draw(content.tube), start_m)
            read_off(over_m3, passed_m3, np.ascontiguousarray(above_m3[:, kind]), read)
            below_m3[:, kind] += read
    # nothing leaves through the meniscus: what floats gathers under it
    below_m3[:, :, 0] = 0.0
    # what stands above a face is never less than above a higher one, whatever rounding says
    moved_m3 = np.maximum.accumulate(below_m3, axis=2) / growth.shape[2]
    phi = np.diff(moved_m3, axis=2) / cell_m3[:, None, :]
    arrived_m3 = np.maximum(above_m3[:, :, -1] - moved_m3[:, :, -1], 0.0)
    return replace(content, phi=phi, pellet_m3=content.pellet_m3 + arrived_m3)


def gather_pellet(content: Content, *, fullest_frac: Array) -> Content:
    """Count what lies packed at the bottom after a crowded spin of plasma as pellet.

    Parameters
    ----------
    fullest_frac
        The share of cells in the fullest place before the spin, shape (draws,): what was that full already and is no
        fuller now has not settled.
    """
    bound = np.maximum(PELLETED_FRAC_MIN, fullest_frac + PELLETED_MORE_FRAC)[:, None, None]
    packed = content.phi.sum(axis=1, keepdims=True) >= bound
    from_below = np.logical_and.accumulate(packed[:, :, ::-1], axis=2)[:, :, ::-1]
    gathered_m3 = np.einsum("dkc,dc->dk", np.where(from_below, content.phi, 0.0), content.cell_m3)
    return replace(content, phi=np.where(from_below, 0.0, content.phi), pellet_m3=content.pellet_m3 + gathered_m3)


def interface_m(content: Content) -> Array:
    """Return the height of the red-cell interface, shape (draws,): the highest place at half the mean haematocrit.

    Where even the top is fuller than that there is no plasma yet, and the interface is the meniscus; where the red
    cells lie in the pellet it is the bottom.
    """
    red = content.phi[:, RED, :]
    faces_m = content.face_height_m
    half = 0.5 * content.amounts_m3[:, RED] / content.filled_m3
    centres_m = 0.5 * (faces_m[:, :-1] + faces_m[:, 1:])
    reached = (red >= half[:, None]) & (red > 0)
    first = np.argmax(reached, axis=1)
    draws = np.arange(len(red))
    above = np.maximum(first - 1, 0)
    rise = red[draws, first] - red[draws, above]
    part = np.where(rise > 0, (half - red[draws, above]) / np.where(rise > 0, rise, 1.0), 0.0)
    height = centres_m[draws, above] + part * (centres_m[draws, first] - centres_m[draws, above])
    return np.asarray(np.where(~reached.any(axis=1), 0.0, np.where(first == 0, faces_m[:, 0], height)))


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What was drawn off the top of one tube, and what stayed."""

    volume_m3: Array
    amounts_m3: Array
    rest: Content


def take_above(content: Content, *, stop_m: Array, width_m: float) -> Taken:
    """Draw everything above ``stop_m`` through a zone ``width_m`` high, of which the share rises linearly.

    A tip draws from a zone, not from a plane; a cut exactly at an interface would also be ill-conditioned.
    """
    faces_m = content.face_height_m
    stop = np.clip(stop_m, 0.0, faces_m[:, 0])[:, None]
    # near the bottom or the meniscus the zone narrows, so that a cut at either end takes all or nothing
    reach = np.minimum(0.5 * width_m, np.minimum(stop, faces_m[:, :1] - stop))
    into = np.clip(faces_m - (stop - reach), 0.0, 2 * reach)
    taken_m = np.where(reach > 0, into**2 / np.where(reach > 0, 4 * reach, 1.0), 0.0) + np.maximum(
        faces_m - (stop + reach), 0.0
    )
    share = np.clip(np.diff(taken_m, axis=1) / np.diff(faces_m, axis=1), 0.0, 1.0)
    taken_m3 = share * content.cell_m3
    amounts_m3 = np.einsum("dkc,dc->dk", content.phi, taken_m3)
    return Taken(
        volume_m3=taken_m3.sum(axis=1), amounts_m3=amounts_m3, rest=_closed_up(content, content.cell_m3 - taken_m3)
    )


def stop_for_volume_m(content: Content, *, taken_m3: Array) -> Array:
    """Return the height at which ``taken_m3`` has been drawn off the top, shape (draws,)."""
    return height_m(content.tube, np.maximum(content.filled_m3 - taken_m3, 0.0))


def _closed_up(content: Content, kept_m3: Array) -> Content:
    """Return what stays when ``kept_m3`` of each grid cell is kept and closes up, on a new grid of equal heights."""
    draws, kinds, cells = content.phi.shape
    filled_m3 = kept_m3.sum(axis=1)
    zero = np.zeros((draws, 1))
    reach_m3 = np.concatenate([zero, np.cumsum(kept_m3[:, ::-1], axis=1)], axis=1)
    held_m3 = np.cumsum((content.phi * kept_m3[:, None, :])[:, :, ::-1], axis=2)
    held_m3 = np.concatenate([np.zeros((draws, kinds, 1)), held_m3], axis=2)
    rest = Content(
        tube=content.tube,
        filled_m3=filled_m3,
        phi=np.zeros_like(content.phi),
        pellet_m3=content.pellet_m3,
    )
    reached_m3 = volume_m3(_by_draw(content.tube), rest.face_height_m)
    reached_m3[:, 0] = filled_m3
    moved_m3 = np.empty((draws, kinds, cells + 1))
    read = np.empty((draws, cells + 1))
    for kind in range(kinds):
        read_off(reached_m3[:, ::-1].copy(), reach_m3, np.ascontiguousarray(held_m3[:, kind]), read)
        moved_m3[:, kind] = np.maximum.accumulate(read, axis=1)[:, ::-1]
    volumes_m3 = rest.cell_m3[:, None, :]
    phi = np.divide(-np.diff(moved_m3, axis=2), volumes_m3, out=np.zeros_like(moved_m3[:, :, 1:]), where=volumes_m3 > 0)
    return replace(rest, phi=phi)
