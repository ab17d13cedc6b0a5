"""One run marched as it was planned or as it was done: what each draw would show on the way, and what it would give."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.parameters.table import value
from plasmawright.planning.build import ramps_min
from plasmawright.planning.goal import base_preparation, left_over_sum_ml, stretched
from plasmawright.planning.revise import MARGIN_MM_MAX, Settled
from plasmawright.planning.seen_readings import Fate, Seen, Spun
from plasmawright.planning.soft import Seen as Shown
from plasmawright.planning.soft import marched_at
from plasmawright.planning.visit import Product, Visit
from plasmawright.preparation.protocol import RemoveSupernatant, Resuspend, Spin, Stop, TubeKind, Withdraw
from plasmawright.preparation.run import (
    Bench,
    Setting,
    bottom_radius_mm,
    dialled_speed_rad_s,
    equivalent_s,
    field_of,
    platelets_1e9,
    remove_supernatant,
    resuspend,
    spin,
    taken_at,
    withdraw,
)
from plasmawright.preparation.sample import WHITES, dilute_drift_s
from plasmawright.science.cells import fill, settle_dilute
from plasmawright.science.rotor import relative_force, speed_from_rpm_rad_s
from plasmawright.science.settling_kernel import RED
from plasmawright.science.tube import height_m

Array = NDArray[np.float64]

# Shares of the soft spin at which the interface is kept for a look into it; between them it is read off a line.
LOOKS = np.linspace(0.1, 1.0, 10)
# And a little beyond its end, to see whether more time would still gain.
BEYOND_FRAC = 1.2
# Pooled plasma with this share of cells in it is marched as a crowd.
CROWDED_FRAC = 0.04


@dataclass(frozen=True, kw_only=True)
class Acts:
    """What was done, or is meant to be: everything that moves cells."""

    blood_ml: float
    soft: Spun
    hard: Spun
    hard_tubes: int
    tubes: int
    red_tubes: int = 0
    red_fate: Fate | None = None


@dataclass(frozen=True, kw_only=True)
class SoftRun:
    """One tube through the soft spin, one value a draw.

    ``interface_by_minute_mm`` has shape (moments, draws); ``gains`` says in which draws more time would still gain.
    """

    blood_ml: float
    spun: Spun
    margin_mm: float
    setting: Setting
    shown: Shown
    minutes: Array
    interface_by_minute_mm: Array
    gains: NDArray[np.bool_]

    @property
    def interface_mm(self) -> Array:
        """The red-cell interface above the inside of the bottom."""
        return np.asarray(self.shown.interface_m * 1e3)

    @property
    def column_mm(self) -> Array:
        """The meniscus above the inside of the bottom."""
        content = self.shown.bench.content
        return np.asarray(height_m(content.tube, content.filled_m3) * 1e3)

    def drawn_ml(self, *, clean: int, red: int) -> Array:
        """Return what is drawn off ``clean`` tubes and ``red`` ones, into whose plasma the hand went too deep."""
        if not red:
            return np.asarray(self.shown.plasma_ml * clean)
        deep_mm = self.setting.parameters.column("stop_error_mm") - value("red_seen_depth_mm")
        taken = taken_at(self.shown.bench, self.shown.interface_m + deep_mm * 1e-3, self.setting)
        return np.asarray(self.shown.plasma_ml * clean + taken.volume_m3 * 1e6 * red)

    def interface_after_mm(self, minutes: float) -> Array:
        """Return the interface after some minutes of the spin, shape (draws,)."""
        at = np.interp(minutes, self.minutes, np.arange(len(self.minutes)))
        low = min(int(at), len(self.minutes) - 2)
        part = at - low
        return np.asarray((1 - part) * self.interface_by_minute_mm[low] + part * self.interface_by_minute_mm[low + 1])


@dataclass(frozen=True, kw_only=True)
class Given:
    """What a run gives, one value a draw: the product, the platelet-poor plasma, and the plasma before both."""

    plasma_ml: Array
    plasma_1e9: Array
    rich_ml: Array
    rich_1e9: Array
    red_1e12_per_l: Array
    poor_1e9_per_l: Array

    @property
    def rich_1e9_per_l(self) -> Array:
        """The product's count."""
        return np.asarray(self.rich_1e9 / self.rich_ml * 1e3)


@dataclass(frozen=True, kw_only=True)
class Marched:
    """A run marched once with every draw; readings are then weighed against it in no time.

    ``fates`` holds what the run gives for each fate of the tubes with red in them, or why a fate cannot be; it is empty
    where no red was seen, and ``given`` is then all there is.
    """

    visit: Visit
    settled: Settled
    parameters: ParameterSet
    acts: Acts
    soft: SoftRun
    given: Given
    fates: Mapping[Fate, Given | Refusal]

    @property
    def weights(self) -> Array:
        """The draws' own weights, summing to 1."""
        return np.asarray(self.parameters.weights / self.parameters.weights.sum())

    def site_platelets_1e9(self, given: Given) -> list[tuple[str, Array]]:
        """Return the platelets each site would get, by its id."""
        counts = {Product.PRP: given.rich_1e9_per_l, Product.PPP: given.poor_1e9_per_l}
        return [(site.id, counts[site.product] * site.volume_ml / 1e3) for site in self.visit.sites]

    def as_done(self, seen: Seen) -> "Marched":
        """Return the run marched as it was done: this one where nothing moved a cell otherwise than here.

        Raises
        ------
        Refusal
            If what was done cannot be, such as more tubes lost than there were.
        """
        acts = acts_done(self.visit, self.settled, seen)
        if acts == self.acts:
            return self
        soft = self.soft
        if (acts.soft, acts.blood_ml) != (self.acts.soft, self.acts.blood_ml):
            soft = soft_run(self.visit, self.parameters, acts, margin_mm=soft.margin_mm)
        return _marched(self.visit, self.settled, self.parameters, acts, soft)


def marched(visit: Visit, settled: Settled, parameters: ParameterSet, *, margin_mm: float) -> Marched:
    """March the run as it is planned; about a second with 512 draws.

    Raises
    ------
    Refusal
        If there is but one draw, the stop is out of range or a spin passes a limit.
    """
    if parameters.count < 2:
        raise Refusal("parameters", parameters.count, "an interval takes many draws", "Hand in a set of draws.")
    if not 0 <= margin_mm <= MARGIN_MM_MAX:
        limit = f"it must lie between 0 and {MARGIN_MM_MAX:g}"
        raise Refusal("stop.above_cells_mm", margin_mm, limit, "Stop above the cells.")
    acts = acts_done(visit, settled, Seen())
    believed = stretched(visit, parameters)
    return _marched(visit, settled, believed, acts, soft_run(visit, believed, acts, margin_mm=margin_mm))


def acts_done(visit: Visit, settled: Settled, seen: Seen) -> Acts:
    """Return what was done, from the plan and what differed."""
    tubes = settled.tubes - seen.tubes_lost
    if tubes < 1:
        raise Refusal(
            "seen.tubes_lost", seen.tubes_lost, f"of {settled.tubes} tubes one must be left", "Draw again, or stop."
        )
    for number in seen.red_tubes:
        if number > settled.tubes:
            limit = f"there are {settled.tubes} tubes"
            raise Refusal("seen.red_tubes", number, limit, "Read the number on the label.")
    soft = seen.soft_spin or Spun(rpm=settled.soft_rpm, minutes=settled.soft_minutes)
    if seen.mid_spin is not None:
        if seen.mid_spin.minutes > soft.minutes:
            limit = f"the soft spin took {soft.minutes:g} min"
            raise Refusal("seen.mid_spin.minutes", seen.mid_spin.minutes, limit, "Read the timer again.")
        # a spin that was stopped to look has its ramps twice
        soft = replace(soft, minutes=soft.minutes + ramps_min() / 3)
    hard = seen.hard_spin or Spun(rpm=settled.hard_rpm, minutes=settled.hard_minutes)
    bench = visit.bench
    _refuse_force("seen.soft_spin.rpm", soft.rpm, visit.tubes[bench.tube], visit)
    _refuse_force("seen.hard_spin.rpm", hard.rpm, visit.tubes[bench.second_tube], visit)
    blood_ml = bench.blood_ml if seen.blood_ml is None else seen.blood_ml
    capacity_ml = visit.tubes[bench.tube].capacity_ml
    if blood_ml + bench.anticoagulant_ml > capacity_ml:
        limit = f"with the anticoagulant the tube holds {capacity_ml:g} mL"
        raise Refusal("seen.blood_ml", blood_ml, limit, "Read the fill line again.")
    return Acts(
        blood_ml=blood_ml,
        soft=soft,
        hard=hard,
        hard_tubes=settled.hard_tubes,
        tubes=tubes,
        red_tubes=min(len(seen.red_tubes), tubes) if seen.red_seen else 0,
        red_fate=seen.red_fate if seen.red_seen else None,
    )


def _refuse_force(field: str, speed_rpm: float, kind: TubeKind, visit: Visit) -> None:
    """Refuse a speed that passes the rotor's or the tube's limit: such a tube is not used."""
    radius_m = bottom_radius_mm(kind, visit.rotor) * 1e-3
    force = float(relative_force(radius_m=radius_m, speed_rad_s=float(speed_from_rpm_rad_s(speed_rpm))))
    limit = min(visit.rotor.max_rcf, kind.max_rcf or np.inf)
    if force > limit * (1 + 1e-9):
        raise Refusal(
            field,
            speed_rpm,
            f"it makes {force:.0f} g at the tube's bottom, and rotor and tube bear {limit:g}",
            "Read the display again; if it is true, do not use these tubes.",
        )


def soft_run(visit: Visit, parameters: ParameterSet, acts: Acts, *, margin_mm: float) -> SoftRun:
    """March one tube through the soft spin; ``parameters`` are already stretched to the visit."""
    as_filled = replace(visit, bench=replace(visit.bench, blood_ml=acts.blood_ml))
    minutes = acts.soft.minutes * np.append(LOOKS, BEYOND_FRAC)
    soft = marched_at(base_preparation(as_filled), parameters, acts.soft.rpm, margin_mm=margin_mm, minutes=minutes)
    shown, beyond = soft.seen[-2], soft.seen[-1]
    start_mm = np.asarray(height_m(shown.bench.content.tube, shown.bench.content.filled_m3) * 1e3)
    return SoftRun(
        blood_ml=acts.blood_ml,
        spun=acts.soft,
        margin_mm=margin_mm,
        setting=soft.setting,
        shown=shown,
        minutes=np.concatenate([[0.0], minutes[:-1]]),
        interface_by_minute_mm=np.stack([start_mm, *(one.interface_m * 1e3 for one in soft.seen[:-1])]),
        gains=beyond.platelets_1e9 > shown.platelets_1e9,
    )


def _marched(visit: Visit, settled: Settled, parameters: ParameterSet, acts: Acts, soft: SoftRun) -> Marched:
    """Return the run carried to the syringe, for every fate of the tubes with red in them."""
    fates: dict[Fate, Given | Refusal] = {}
    if not acts.red_tubes:
        given = _carried_on(visit, acts, soft, clean=acts.tubes, red=None)
    else:
        for fate in Fate:
            try:
                fates[fate] = _with_red(visit, acts, soft, fate)
            except Refusal as refusal:
                fates[fate] = refusal
        given = _given_for(acts.red_fate, fates)
    return Marched(visit=visit, settled=settled, parameters=parameters, acts=acts, soft=soft, given=given, fates=fates)


def _given_for(fate: Fate | None, fates: Mapping[Fate, Given | Refusal]) -> Given:
    """Return what the chosen fate gives; while undecided the red tubes stand apart, so they are left out if they can.

    Raises
    ------
    Refusal
        If the chosen fate cannot be, or none can.
    """
    wanted = [fate] if fate is not None else [Fate.LEFT_OUT, Fate.RESPUN, Fate.POOLED]
    for one in wanted:
        found = fates[one]
        if isinstance(found, Given):
            return found
    last = fates[wanted[-1]]
    if isinstance(last, Refusal):
        raise last
    return last


def _with_red(visit: Visit, acts: Acts, soft: SoftRun, fate: Fate) -> Given:
    clean = acts.tubes - acts.red_tubes
    if fate is Fate.LEFT_OUT:
        if not clean:
            limit = "red was drawn into every tube, and nothing is left without them"
            raise Refusal("seen.red_fate", fate, limit, "Spin them again, or stop here.")
        return _carried_on(visit, acts, soft, clean=clean, red=None)
    tubes = replace(soft.shown.bench, tubes=acts.red_tubes)
    deep = Withdraw(
        stop=Stop.WITH_BUFFY_COAT,
        value=value("red_seen_depth_mm"),
        pool_into=visit.bench.second_tube,
        pool_tubes=acts.hard_tubes if fate is Fate.POOLED else None,
    )
    red = withdraw(tubes, deep, soft.setting)
    if fate is Fate.RESPUN:
        again = _lifted(_spun(red, acts.soft, soft.setting), soft.setting)
        red = withdraw(again, _drawing(visit, acts, soft), soft.setting)
    return _carried_on(visit, acts, soft, clean=clean, red=red)


def _drawing(visit: Visit, acts: Acts, soft: SoftRun) -> Withdraw:
    return Withdraw(
        stop=Stop.ABOVE_CELLS_MM,
        value=soft.margin_mm,
        pool_into=visit.bench.second_tube,
        pool_tubes=acts.hard_tubes,
    )


def _carried_on(visit: Visit, acts: Acts, soft: SoftRun, *, clean: int, red: Bench | None) -> Given:
    """Pool the plasma of ``clean`` tubes with that of the red ones, spin hard and bring the pellet back."""
    setting, sample = soft.setting, soft.setting.sample
    pooled = red
    if clean:
        pooled = withdraw(replace(soft.shown.bench, tubes=clean), _drawing(visit, acts, soft), setting)
        pooled = pooled if red is None else _poured_together(pooled, red)
    if pooled is None:
        raise Refusal("seen.tubes_lost", acts.tubes, "one tube must be left", "Draw again, or stop here.")
    plasma_ml = pooled.content.filled_m3 * pooled.tubes * 1e6
    plasma_1e9 = platelets_1e9(pooled.content.amounts_m3, sample) * pooled.tubes
    leave_ml = sum(ml for _, ml in left_over_sum_ml(visit, second_tubes=acts.hard_tubes))
    spun = _spun(pooled, acts.hard, setting)
    done = resuspend(remove_supernatant(spun, RemoveSupernatant(leave_ml=leave_ml), setting), Resuspend(), setting)
    rich_ml = done.content.filled_m3 * done.tubes * 1e6
    amounts = done.content.amounts_m3 * done.tubes
    poor = done.poor
    poor_ml = np.zeros(sample.draws) if poor is None else poor.volume_m3 * 1e6
    poor_1e9 = np.zeros(sample.draws) if poor is None else platelets_1e9(poor.amounts_m3, sample)
    there = poor_ml > 1e-6
    return Given(
        plasma_ml=plasma_ml,
        plasma_1e9=plasma_1e9,
        rich_ml=rich_ml,
        rich_1e9=platelets_1e9(amounts, sample),
        red_1e12_per_l=amounts[:, RED] / sample.cell_volume_m3[:, RED] / (rich_ml * 1e-3) / 1e12,
        poor_1e9_per_l=np.where(there, poor_1e9 / np.where(there, poor_ml, 1.0) * 1e3, 0.0),
    )


def _spun(bench: Bench, dialled: Spun, setting: Setting) -> Bench:
    """Spin plasma in second tubes: by the exact solution of cells that do not crowd, a little red among them or not.

    At the bound the platelets would settle a tenth slower; the full march would keep a bench waiting for seconds.
    """
    step = Spin(rpm=dialled.rpm, minutes=dialled.minutes)
    if float(np.median(bench.content.phi.sum(axis=1).max(axis=1))) >= CROWDED_FRAC:
        return spin(bench, step, setting)
    field = field_of(bench, dialled_speed_rad_s(bench, step, setting), setting)
    drift = dilute_drift_s(setting.sample, setting.parameters) * equivalent_s(step, setting.parameters)[:, None, None]
    return replace(bench, content=settle_dilute(bench.content, field, drift_s2=drift))


def _lifted(bench: Bench, setting: Setting) -> Bench:
    """Return spun plasma with the share of its pellet that braking, carrying and drawing lift, spread over the rest.

    The share is that of whole blood: measured there as an order of magnitude, and not known better here.
    """
    content = bench.content
    share = np.zeros_like(content.pellet_m3)
    share[:, RED] = setting.parameters.column("carried_red_frac")
    share[:, WHITES] = setting.parameters.column("carried_white_frac")[:, None]
    lifted_m3 = share * content.pellet_m3
    phi = content.phi + (lifted_m3 / content.filled_m3[:, None])[:, :, None]
    return replace(bench, content=replace(content, phi=phi, pellet_m3=content.pellet_m3 - lifted_m3))


def _poured_together(one: Bench, other: Bench) -> Bench:
    """Return second tubes of one kind and number with the plasma of both benches in them."""
    content = fill(
        one.content.tube,
        filled_m3=one.content.filled_m3 + other.content.filled_m3,
        amounts_m3=one.content.amounts_m3 + other.content.amounts_m3,
        cells=one.content.phi.shape[2],
    )
    return replace(one, content=content, with_cells=one.with_cells + other.with_cells)
