"""The hard spin: how many second tubes, how hard, how long; balance and column height decide."""

from dataclasses import dataclass, replace

import numpy as np

from plasmawright.planning.soft import rounded_rpm
from plasmawright.planning.visit import Visit
from plasmawright.preparation.protocol import RemoveSupernatant, Spin, Stop, Withdraw
from plasmawright.preparation.run import (
    Bench,
    Setting,
    bottom_radius_mm,
    platelets_1e9,
    remove_supernatant,
    spin,
    withdraw,
)
from plasmawright.science.rotor import relative_force, speed_from_rpm_rad_s

FORCES = (800.0, 1000.0, 1250.0, 1500.0, 2000.0, 2500.0)
MINUTES = (5.0, 8.0, 10.0, 12.0, 15.0, 20.0)
LEFT_FRAC_AIM = 0.05
# What one more second tube, an odd number of them, and a hundred g more cost, in minutes.
TUBE_MIN, ODD_MIN, HUNDRED_G_MIN = 3.0, 1.5, 0.25


@dataclass(frozen=True, kw_only=True)
class Hard:
    """The chosen hard spin and the share of the pooled platelets it leaves in the platelet-poor plasma."""

    tubes: int
    rpm: float
    minutes: float
    left_frac: float


def choose_hard(
    visit: Visit, bench: Bench, setting: Setting, *, margin_mm: float, leave_ml: dict[int, float]
) -> Hard | None:
    """Choose the cheapest hard spin that leaves few platelets above, at the centre; the best there is when none does.

    Parameters
    ----------
    bench
        The drawn tubes after the soft spin, one draw.
    leave_ml
        What is left over the pellets, by the number of second tubes.

    Returns
    -------
    Hard or None
        ``None`` when no number of second tubes at hand holds the plasma.
    """
    kind = visit.tubes[visit.bench.second_tube]
    radius_m = bottom_radius_mm(kind, visit.rotor) * 1e-3
    limit = min(visit.rotor.max_rcf, kind.max_rcf or np.inf)
    dials = _dials(limit, radius_m)
    found: list[tuple[float, Hard]] = []
    for tubes in range(1, min(visit.bench.second_tubes_at_hand, visit.bench.places) + 1):
        step = Withdraw(stop=Stop.ABOVE_CELLS_MM, value=margin_mm, pool_into=visit.bench.second_tube, pool_tubes=tubes)
        if _holds(bench, tubes, kind.capacity_ml, setting, step):
            pooled = withdraw(bench, step, setting)
            price = TUBE_MIN * tubes + ODD_MIN * (tubes % 2)
            hard, cost = _cheapest(pooled, dials, leave_ml=leave_ml[tubes], setting=setting)
            found.append((price + cost, hard))
    return min(found, key=lambda one: one[0])[1] if found else None


@dataclass(frozen=True, kw_only=True)
class _Dial:
    """One force and time a hand may dial, what it costs in minutes, and the work it does (speed squared times time)."""

    rpm: float
    minutes: float
    cost_min: float
    work: float


def _dials(limit_rcf: float, radius_m: float) -> list[_Dial]:
    """Return every force and time within the limit, the cheapest first."""
    found = []
    for force in [force for force in FORCES if force <= limit_rcf] or [limit_rcf]:
        speed_rpm = rounded_rpm(force, radius_m)
        rcf = float(relative_force(radius_m=radius_m, speed_rad_s=speed_from_rpm_rad_s(speed_rpm)))
        for minutes in MINUTES:
            cost = minutes + HUNDRED_G_MIN * rcf / 100
            found.append(_Dial(rpm=speed_rpm, minutes=minutes, cost_min=cost, work=speed_rpm**2 * minutes))
    return sorted(found, key=lambda dial: dial.cost_min)


def _cheapest(pooled: Bench, dials: list[_Dial], *, leave_ml: float, setting: Setting) -> tuple[Hard, float]:
    """Return the cheapest spin that leaves few platelets above and its cost; the strongest there is when none does.

    What is left only falls with the work done, so that a dial that does less work than one that failed is not tried.
    """
    failed = 0.0
    for dial in dials:
        if dial.work > failed:
            left = left_frac(pooled, Spin(rpm=dial.rpm, minutes=dial.minutes), leave_ml, setting)
            if left <= LEFT_FRAC_AIM:
                return _hard(pooled, dial, left), dial.cost_min
            failed = dial.work
    strongest = max(dials, key=lambda dial: dial.work)
    left = left_frac(pooled, Spin(rpm=strongest.rpm, minutes=strongest.minutes), leave_ml, setting)
    return _hard(pooled, strongest, left), strongest.cost_min + 1000 * (left - LEFT_FRAC_AIM)


def _hard(pooled: Bench, dial: _Dial, left: float) -> Hard:
    return Hard(tubes=pooled.tubes, rpm=dial.rpm, minutes=dial.minutes, left_frac=left)


def _holds(bench: Bench, tubes: int, capacity_ml: float, setting: Setting, step: Withdraw) -> bool:
    trial = withdraw(bench, replace(step, pool_tubes=None), setting)
    whole_ml = float(np.median(trial.content.filled_m3)) * trial.tubes * 1e6
    return whole_ml <= tubes * capacity_ml


def left_frac(pooled: Bench, step: Spin, leave_ml: float, setting: Setting) -> float:
    """Return the middle share of the pooled platelets that stays in the platelet-poor plasma."""
    sample = setting.sample
    whole = platelets_1e9(pooled.content.amounts_m3, sample) * pooled.tubes
    after = remove_supernatant(spin(pooled, step, setting), RemoveSupernatant(leave_ml=leave_ml), setting)
    poor = after.poor
    if poor is None:
        return 0.0
    return float(np.median(platelets_1e9(poor.amounts_m3, sample) / whole))
