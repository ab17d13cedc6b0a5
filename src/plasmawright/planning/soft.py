"""The soft spin: a force found on a coarse grid with few draws, then every time and stop read off one full march."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.sets import ParameterSet
from plasmawright.planning.visit import Visit
from plasmawright.preparation.protocol import Preparation, Spin
from plasmawright.preparation.run import (
    Bench,
    Setting,
    bottom_radius_mm,
    drawn_blood,
    equivalent_s,
    field_of,
    platelets_1e9,
    setting_of,
    spin_seen,
    taken_at,
)
from plasmawright.preparation.sample import sample_of
from plasmawright.science.cells import interface_m
from plasmawright.science.rotor import relative_force, rpm, speed_from_rpm_rad_s, speed_rad_s
from plasmawright.science.settling_kernel import RED

Array = NDArray[np.float64]

THREADS = 2
SEARCH_DRAWS = 16
FORCES = 9
FORCE_MIN, FORCE_MAX = 60.0, 500.0
MINUTES = np.arange(3.0, 21.0)
# A whole spin shorter than this would be ramps for a large part, which no clinic knows well; a first part may be.
WHOLE_MINUTES_MIN = 5.0
# How far past the best time the full march looks.
BEYOND_BEST = 4
RPM_STEP = 10.0
# What a minute and a hundred g are worth in recovery: a spin is made longer or harder only while it gains more. Gentle
# and slow is what ramps, timers and platelets bear best.
RECOVERY_PER_MIN_FRAC = 0.003
RECOVERY_PER_100_G_FRAC = 0.01


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One tube after one time at the chosen force, one value a draw."""

    minutes: float
    bench: Bench
    interface_m: Array
    plasma_ml: Array
    platelets_1e9: Array
    red_frac_of_plasma: Array


@dataclass(frozen=True, kw_only=True)
class Soft:
    """The chosen force, and one tube after each of ``minutes``.

    ``recovery_by_force`` is the search's table, shape (forces, :data:`MINUTES`): the mean share of the platelets drawn.
    """

    rpm: float
    rcf: float
    setting: Setting
    start: Bench
    seen: tuple[Seen, ...]
    minutes: Array
    forces: Array
    recovery_by_force: Array

    def at(self, minutes: float) -> Seen:
        """Return the tube after ``minutes``, which must be one of those looked at."""
        return self.seen[int(np.flatnonzero(self.minutes == minutes)[0])]


def forces_for(visit: Visit) -> Array:
    """Return the forces the search tries: even factors, within the rotor's and the tube's limits."""
    kind = visit.tubes[visit.bench.tube]
    limit = min(visit.rotor.max_rcf, kind.max_rcf or np.inf, FORCE_MAX)
    return np.geomspace(min(FORCE_MIN, limit / 2), limit, FORCES)


def rounded_rpm(rcf: float, radius_m: float) -> float:
    """Return the speed a hand can dial for ``rcf``, never above it."""
    exact = float(rpm(speed_rad_s(relative_force=rcf, radius_m=radius_m)))
    return max(float(np.floor(exact / RPM_STEP + 1e-6) * RPM_STEP), RPM_STEP)


def choose_soft(visit: Visit, base: Preparation, *, few: ParameterSet, many: ParameterSet, margin_mm: float) -> Soft:
    """Choose the force with few draws, then march it with many and look at every time.

    Parameters
    ----------
    few, many
        Draws for the search and for the answer; both already stretched to the visit.
    """
    radius_m = bottom_radius_mm(visit.tubes[visit.bench.tube], visit.rotor) * 1e-3
    forces = forces_for(visit)
    side_by_side = replace(few, draws=np.tile(few.draws, (len(forces), 1)), weights=np.ones(few.count * len(forces)))
    speeds = np.repeat([speed_rad_s(relative_force=float(force), radius_m=radius_m) for force in forces], few.count)
    searched = _marched(base, side_by_side, speeds, margin_mm, MINUTES)
    by_force = np.stack(
        [
            (seen.platelets_1e9 / _drawn_1e9(searched[0])).reshape(len(forces), few.count).mean(axis=1)
            for seen in searched[1]
        ],
        axis=1,
    )
    price = RECOVERY_PER_MIN_FRAC * MINUTES + RECOVERY_PER_100_G_FRAC * forces[:, None] / 100
    worth = np.where(MINUTES >= WHOLE_MINUTES_MIN, _away_from_the_edge(by_force) - price, -np.inf)
    force_at, best = np.unravel_index(int(np.argmax(worth)), worth.shape)
    speed_rpm = rounded_rpm(float(forces[force_at]), radius_m)
    return replace(
        marched_at(base, many, speed_rpm, margin_mm=margin_mm, minutes=MINUTES[: int(best) + 1 + BEYOND_BEST]),
        forces=forces,
        recovery_by_force=by_force,
    )


def _away_from_the_edge(by_force: Array) -> Array:
    """Return the table averaged over neighbouring forces, so that a rotor off its mark does not fall off a cliff."""
    padded = np.concatenate([by_force[:1], by_force, by_force[-1:]])
    return np.asarray(0.25 * padded[:-2] + 0.5 * padded[1:-1] + 0.25 * padded[2:])


def marched_at(
    base: Preparation, parameters: ParameterSet, speed_rpm: float, *, margin_mm: float, minutes: Array
) -> Soft:
    """March one force with the given draws and look at it after each of ``minutes``; nothing is searched."""
    speed = float(speed_from_rpm_rad_s(speed_rpm))
    radius_m = bottom_radius_mm(base.tubes[base.collection.tube], base.rotor) * 1e-3
    (setting, start), seen = _marched(base, parameters, speed, margin_mm, minutes)
    return Soft(
        rpm=speed_rpm,
        rcf=float(relative_force(radius_m=radius_m, speed_rad_s=speed)),
        setting=setting,
        start=start,
        seen=seen,
        minutes=minutes,
        forces=np.empty(0),
        recovery_by_force=np.empty((0, len(MINUTES))),
    )


def _drawn_1e9(begun: tuple[Setting, Bench]) -> Array:
    setting, _ = begun
    return platelets_1e9(setting.sample.per_tube_m3, setting.sample)


def _marched(
    base: Preparation, parameters: ParameterSet, speed: float | Array, margin_mm: float, minutes: Array
) -> tuple[tuple[Setting, Bench], tuple[Seen, ...]]:
    setting = setting_of(base, sample_of(base, parameters), parameters, threads=THREADS, nearest_mm=margin_mm)
    start = drawn_blood(base, setting)
    times_s = np.stack([equivalent_s(Spin(minutes=float(time), rcf=1.0), parameters) for time in minutes])
    longest_s = times_s[-1]
    shares = np.median(times_s, axis=1) / np.median(longest_s)
    benches = spin_seen(start, field_of(start, speed, setting), setting, time_s=longest_s, moments=shares)
    return (setting, start), tuple(
        looked_at(bench, float(time), setting, margin_mm) for time, bench in zip(minutes, benches, strict=True)
    )


def looked_at(bench: Bench, minutes: float, setting: Setting, margin_mm: float) -> Seen:
    """Return what one tube shows and gives when the hand stops ``margin_mm`` above the cells."""
    sample = setting.sample
    interface = interface_m(bench.content)
    stop = interface + (margin_mm + setting.parameters.column("stop_error_mm")) * 1e-3
    taken = taken_at(bench, stop, setting)
    return Seen(
        minutes=minutes,
        bench=bench,
        interface_m=interface,
        plasma_ml=taken.volume_m3 * 1e6,
        platelets_1e9=platelets_1e9(taken.amounts_m3, sample),
        red_frac_of_plasma=np.asarray(taken.amounts_m3[:, RED] / np.maximum(taken.volume_m3, 1e-12)),
    )
