"""The acts of a preparation, one after the other, on every draw at once; nothing is lost unnamed.

:class:`Bench` is everything that stands on it: the tubes in hand, what was set aside, and what was lost. Each act
takes a bench and returns the next, so that a preparation may go on from any state.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.preparation.protocol import (
    Place,
    Preparation,
    RemoveSupernatant,
    Resuspend,
    Rotor,
    Spin,
    Step,
    Stop,
    TubeKind,
    Withdraw,
)
from plasmawright.preparation.sample import (
    PLATELETS,
    WHITES,
    Sample,
    dilute_drift_s,
    filled_m3,
    given_or_population,
    suspension_of,
    tube_of,
)
from plasmawright.science import cells
from plasmawright.science.rotor import relative_force, speed_from_rpm_rad_s, speed_rad_s
from plasmawright.science.settling import Suspension, march
from plasmawright.science.settling_kernel import RED
from plasmawright.science.tube import Tube, height_m

Array = NDArray[np.float64]

# Above this share of cells anywhere (in the middle draw), a spin is marched with the full solver; below, cells do not
# crowd: at the bound itself they settle 6 % slower than alone.
DILUTE_FRAC_MAX = 0.02
# Of what is left with a pellet no more than this share may be cells: packed closer they are the whole of it.
PELLET_ROOM_FRAC = 0.7
# Aim of the grid's spacing and the bounds of how many cells a column is cut into: fine for one answer, coarser for
# many draws, whose spread is far wider than the grid's error (tests/science/test_grid.py measures it); not so coarse
# where a hand stops so near to the cells that the buffy coat must be parted from what is taken.
FINE_GRID = (0.4, 60, 240)
NEAR_GRID = (0.6, 60, 160)
DRAWS_GRID = (1.0, 60, 110)
NEAR_MM = 2.0


@dataclass(frozen=True, kw_only=True)
class Heap:
    """Fluid set aside: its volume and the volume of each kind of cell in it, over all tubes."""

    volume_m3: Array
    amounts_m3: Array

    def __add__(self, other: "Heap") -> "Heap":
        return Heap(volume_m3=self.volume_m3 + other.volume_m3, amounts_m3=self.amounts_m3 + other.amounts_m3)


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What stands on the bench between two acts.

    Parameters
    ----------
    content
        Of one of the ``tubes`` equal tubes in hand, of the kind called ``tube``.
    whole_blood
        Whether the tubes in hand are still those the blood was drawn into.
    with_cells, poor
        Left behind with the cells; taken off as platelet-poor plasma (``None`` until then).
    lost_m3
        Cells lost in handling, shape (draws, kinds).
    """

    content: cells.Content
    tubes: int
    tube: str
    whole_blood: bool
    with_cells: Heap
    lost_m3: Array
    poor: Heap | None = None


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What stays the same through a preparation: the bench's hardware, the sample, the draws."""

    rotor: Rotor
    kinds: dict[str, TubeKind]
    sample: Sample
    suspension: Suspension
    parameters: ParameterSet
    threads: int
    nearest_mm: float


def nearest_mm(preparation: Preparation) -> float:
    """Return how near to the cells a hand means to stop; infinite where it stops by volume."""
    stops = [step for step in preparation.steps if isinstance(step, Withdraw) and step.stop is not Stop.VOLUME_ML]
    away_mm = [step.value if step.stop is Stop.ABOVE_CELLS_MM else -step.value for step in stops]
    return min(away_mm, default=math.inf)


def setting_of(
    preparation: Preparation, sample: Sample, parameters: ParameterSet, *, threads: int, nearest_mm: float
) -> Setting:
    """Return the setting of a preparation in which no hand stops nearer to the cells than ``nearest_mm``."""
    return Setting(
        nearest_mm=nearest_mm,
        rotor=preparation.rotor,
        kinds=dict(preparation.tubes),
        sample=sample,
        suspension=suspension_of(sample, parameters),
        parameters=parameters,
        threads=threads,
    )


def drawn_blood(preparation: Preparation, setting: Setting) -> Bench:
    """Return the bench with the blood drawn, mixed and standing."""
    collection = preparation.collection
    sample = setting.sample
    whole_m3 = filled_m3(sample, collection)
    tube = tube_of(setting.kinds[collection.tube], setting.parameters)
    content = cells.fill(
        tube, filled_m3=whole_m3, amounts_m3=sample.per_tube_m3, cells=_grid_cells(tube, whole_m3, setting)
    )
    nothing = np.zeros_like(sample.per_tube_m3)
    return Bench(
        content=content,
        tubes=collection.tubes,
        tube=collection.tube,
        whole_blood=True,
        with_cells=Heap(volume_m3=np.zeros(sample.draws), amounts_m3=nothing),
        lost_m3=nothing,
    )


def _grid_cells(tube: Tube, volume_m3: Array, setting: Setting) -> int:
    near = NEAR_GRID if setting.nearest_mm < NEAR_MM else DRAWS_GRID
    spacing_mm, fewest, most = FINE_GRID if setting.parameters.count == 1 else near
    height_mm = float(np.median(height_m(tube, volume_m3))) * 1e3
    return int(np.clip(math.ceil(height_mm / spacing_mm), fewest, most))


def act(bench: Bench, step: Step, setting: Setting) -> Bench:
    """Do one step of a preparation."""
    match step:
        case Spin():
            return spin(bench, step, setting)
        case Withdraw():
            return withdraw(bench, step, setting)
        case RemoveSupernatant():
            return remove_supernatant(bench, step, setting)
        case Resuspend():
            return resuspend(bench, step, setting)


def field_of(bench: Bench, dialled_rad_s: float | Array, setting: Setting) -> cells.Field:
    """Return the field of a spin: the speed and radius the tube gets for the speed that is dialled."""
    kind, parameters = setting.kinds[bench.tube], setting.parameters
    radius_m = bottom_radius_mm(kind, setting.rotor) * 1e-3
    lean = np.full(parameters.count, math.sin(math.radians(setting.rotor.angle_deg)))
    depth_m = height_m(bench.content.tube, bench.content.filled_m3)
    return cells.Field(
        bottom_radius_m=radius_m + parameters.column("bottom_radius_error_mm") * 1e-3,
        speed_rad_s=dialled_rad_s * (1 + parameters.column("rotor_speed_error_frac")),
        lean=lean,
        pace=cells.inclined_pace(
            lean=lean,
            depth_m=depth_m,
            bore_m=np.asarray(bench.content.tube.inner_diameter_m),
            efficiency=parameters.column("inclined_efficiency"),
        ),
    )


def bottom_radius_mm(kind: TubeKind, rotor: Rotor) -> float:
    """Return the radius at which this kind of tube's bottom spins."""
    return rotor.bottom_radius_mm if kind.bottom_radius_mm is None else kind.bottom_radius_mm


def dialled_speed_rad_s(bench: Bench, step: Spin, setting: Setting) -> float:
    """Return the speed a hand dials for ``step``: from rpm, or from the force at the place it is quoted for.

    Raises
    ------
    Refusal
        If the force at the tube's bottom passes the rotor's or the tube's limit.
    """
    kind = setting.kinds[bench.tube]
    bottom_m = bottom_radius_mm(kind, setting.rotor) * 1e-3
    depth_m = float(np.median(height_m(bench.content.tube, bench.content.filled_m3)))
    lean = math.sin(math.radians(setting.rotor.angle_deg))
    if bottom_m - depth_m * lean <= 0:
        raise Refusal(
            "rotor.bottom_radius_mm",
            bottom_m * 1e3,
            f"it must be longer than the column of {depth_m * 1e3:.0f} mm",
            "Measure from the rotor's centre to the inside of the tube's bottom while it spins.",
        )
    up_share = {Place.BOTTOM: 0.0, Place.MIDDLE: 0.5, Place.TOP: 1.0}[step.rcf_at]
    if step.rpm is not None:
        speed = speed_from_rpm_rad_s(step.rpm)
    else:
        force = step.rcf if step.rcf is not None else 0.0
        speed = speed_rad_s(relative_force=force, radius_m=bottom_m - up_share * depth_m * lean)
    reached = relative_force(radius_m=bottom_m, speed_rad_s=speed)
    limit = min(setting.rotor.max_rcf, kind.max_rcf if kind.max_rcf is not None else math.inf)
    if reached > limit * (1 + 1e-9):
        raise Refusal(
            "steps.rcf",
            round(reached, 1),
            f"at the tube's bottom it must not pass {limit:g} g, the lower of the rotor's and the tube's limit",
            "Lower the force, or quote it at the bottom.",
        )
    return speed


def equivalent_s(step: Spin, parameters: ParameterSet) -> Array:
    """Return the time at full speed that a spin with its linear ramps is worth, shape (draws,)."""
    up_s = given_or_population(step.up_s, "ramp_up_s", parameters)
    down_s = given_or_population(step.down_s, "ramp_down_s", parameters)
    return np.asarray(step.minutes * 60 + (up_s + down_s) / 3)


def spin(bench: Bench, step: Spin, setting: Setting) -> Bench:
    """Spin the tubes in hand."""
    field = field_of(bench, dialled_speed_rad_s(bench, step, setting), setting)
    return spin_seen(bench, field, setting, time_s=equivalent_s(step, setting.parameters), moments=np.ones(1))[0]


def spin_seen(bench: Bench, field: cells.Field, setting: Setting, *, time_s: Array, moments: Array) -> list[Bench]:
    """Spin the tubes in hand, and return the bench as it stands at each share of the spin's time.

    Parameters
    ----------
    time_s
        Equivalent time at full speed, shape (draws,).
    moments
        Ascending, in units of ``time_s``; 1 is its end.
    """
    content = bench.content
    fullest = content.phi.sum(axis=1).max(axis=1)
    if not bench.whole_blood and float(np.median(fullest)) < DILUTE_FRAC_MAX:
        drift = dilute_drift_s(setting.sample, setting.parameters)
        return [
            replace(
                bench,
                content=cells.settle_dilute(content, field, drift_s2=drift * (share * time_s)[:, None, None]),
            )
            for share in moments
        ]
    # Draws differ in how long their ramps are; all are marched over one clock and each draw's field carries the rest.
    clock_s = float(np.median(time_s))
    paced = replace(field, pace=field.pace * time_s / clock_s)
    still_m = float(setting.parameters.column("still_plasma_mm")[0]) * 1e-3
    suspension = setting.suspension
    if not bench.whole_blood:
        # in a cone a one-dimensional stirring would lift what slides down the wall
        suspension = replace(suspension, stirring_m2_s=np.zeros(setting.sample.draws))
    seen = march(
        content.phi,
        moments * clock_s,
        suspension=suspension,
        column=cells.column_of(content, paced),
        sublayer_m=still_m,
        threads=setting.threads,
    )
    after = [replace(content, phi=np.ascontiguousarray(seen[:, i])) for i in range(len(moments))]
    if not bench.whole_blood:
        after = [cells.gather_pellet(spun, fullest_frac=fullest) for spun in after]
    return [replace(bench, content=spun) for spun in after]


def stop_m(content: cells.Content, step: Withdraw, parameters: ParameterSet) -> Array:
    """Return the height at which the hand stops, shape (draws,): where it means to, and its error."""
    if step.stop is Stop.VOLUME_ML:
        wanted_m3 = step.value * 1e-6 * (1 + parameters.column("volume_stop_error_frac"))
        return cells.stop_for_volume_m(content, taken_m3=wanted_m3)
    away_mm = step.value if step.stop is Stop.ABOVE_CELLS_MM else -step.value
    return np.asarray(cells.interface_m(content) + (away_mm + parameters.column("stop_error_mm")) * 1e-3)


def taken_at(bench: Bench, stop: Array, setting: Setting) -> cells.Taken:
    """Return what one tube gives when everything above ``stop`` (m, one a draw) is drawn off."""
    width_m = float(setting.parameters.column("capture_width_mm")[0]) * 1e-3
    return cells.take_above(bench.content, stop_m=stop, width_m=width_m)


def withdraw(bench: Bench, step: Withdraw, setting: Setting) -> Bench:
    """Draw plasma from every tube, leave the rest with the cells, and split what was drawn over the next tubes."""
    taken = taken_at(bench, stop_m(bench.content, step, setting.parameters), setting)
    if bench.whole_blood:
        taken = _carried(taken, bench, setting)
    pooled = Heap(volume_m3=taken.volume_m3 * bench.tubes, amounts_m3=taken.amounts_m3 * bench.tubes)
    left = Heap(
        volume_m3=taken.rest.filled_m3 * bench.tubes,
        amounts_m3=taken.rest.amounts_m3 * bench.tubes,
    )
    next_kind = setting.kinds[step.pool_into]
    capacity_m3 = next_kind.capacity_ml * 1e-6
    whole_m3 = float(np.median(pooled.volume_m3))
    fewest = max(math.ceil(whole_m3 / capacity_m3 - 1e-9), 1)
    count = fewest if step.pool_tubes is None else step.pool_tubes
    if count < fewest:
        raise Refusal(
            "steps.pool_tubes",
            count,
            f"{whole_m3 * 1e6:.1f} mL of plasma need at least {fewest} tubes of {next_kind.capacity_ml:g} mL",
            f"Pool into {fewest}.",
        )
    tube = tube_of(next_kind, setting.parameters)
    each_m3 = pooled.volume_m3 / count
    if float(np.median(each_m3)) <= 0:
        raise Refusal("steps.value", step.value, "it must leave some plasma to draw", "Stop nearer to the cells.")
    each_m3 = np.maximum(each_m3, 1e-12)
    content = cells.fill(
        tube, filled_m3=each_m3, amounts_m3=pooled.amounts_m3 / count, cells=_grid_cells(tube, each_m3, setting)
    )
    return replace(
        bench,
        content=content,
        tubes=count,
        tube=step.pool_into,
        whole_blood=False,
        with_cells=bench.with_cells + left,
    )


def _carried(taken: cells.Taken, bench: Bench, setting: Setting) -> cells.Taken:
    """Return what is drawn with the red and white cells that braking, carrying and drawing lift into the plasma.

    A share of the whole tube's cells, spread over all its plasma: measured as an order of magnitude, not computed.
    """
    sample, parameters = setting.sample, setting.parameters
    share = np.zeros_like(taken.amounts_m3)
    share[:, RED] = parameters.column("carried_red_frac")
    share[:, WHITES] = parameters.column("carried_white_frac")[:, None]
    plasma_m3 = bench.content.filled_m3 - sample.per_tube_m3[:, RED]
    drawn_frac = np.minimum(taken.volume_m3 / plasma_m3, 1.0)[:, None]
    lifted_m3 = np.minimum(share * drawn_frac * bench.content.amounts_m3, taken.rest.amounts_m3)
    stays = 1 - np.divide(
        lifted_m3, taken.rest.amounts_m3, out=np.zeros_like(lifted_m3), where=taken.rest.amounts_m3 > 0
    )
    rest = replace(taken.rest, phi=taken.rest.phi * stays[:, :, None], pellet_m3=taken.rest.pellet_m3 * stays)
    return replace(taken, amounts_m3=taken.amounts_m3 + lifted_m3, rest=rest)


def remove_supernatant(bench: Bench, step: RemoveSupernatant, setting: Setting) -> Bench:
    """Take the platelet-poor plasma off the top and leave the rest over the pellet."""
    pellet_ml = float(np.median(bench.content.pellet_m3.sum(axis=1))) * bench.tubes * 1e6
    if step.leave_ml * PELLET_ROOM_FRAC < pellet_ml:
        raise Refusal(
            "steps.leave_ml",
            step.leave_ml,
            f"the pellet alone is about {pellet_ml:.2g} mL of cells, and packed it would be more than what is left",
            f"Leave at least {pellet_ml / PELLET_ROOM_FRAC:.2g} mL.",
        )
    leave_m3 = step.leave_ml * 1e-6 / bench.tubes * (1 + setting.parameters.column("leave_error_frac"))
    stop = height_m(bench.content.tube, np.minimum(leave_m3, bench.content.filled_m3))
    taken = taken_at(bench, stop, setting)
    poor = Heap(volume_m3=taken.volume_m3 * bench.tubes, amounts_m3=taken.amounts_m3 * bench.tubes)
    return replace(bench, content=taken.rest, poor=poor if bench.poor is None else bench.poor + poor)


def resuspend(bench: Bench, step: Resuspend, setting: Setting) -> Bench:
    """Bring the pellet back into what was left; a share of it does not come back and is named as lost."""
    usual = setting.parameters.column("handling_frac")
    if step.handling_frac is None:
        back = usual
    else:
        # the clinic's own centre with the spread of the trade, never above all of it
        back = np.clip(step.handling_frac * usual / np.median(usual), 0.0, 1.0)
    kept_m3 = bench.content.pellet_m3 * back[:, None]
    lost_m3 = (bench.content.pellet_m3 - kept_m3) * bench.tubes
    content = cells.mix(replace(bench.content, pellet_m3=kept_m3))
    return replace(bench, content=content, lost_m3=bench.lost_m3 + lost_m3)


def platelets_1e9(amounts_m3: Array, sample: Sample) -> Array:
    """Return the number of platelets, in 1e9, in amounts of each kind, shape (draws,)."""
    return np.asarray((amounts_m3[:, PLATELETS] / sample.cell_volume_m3[:, PLATELETS]).sum(axis=1) / 1e9)
