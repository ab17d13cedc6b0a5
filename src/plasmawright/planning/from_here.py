"""From here: what stands in the tubes now, what can still be done, at most three ways with predictions."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet, central
from plasmawright.parameters.table import value
from plasmawright.planning.build import build_plan
from plasmawright.planning.goal import Goal, base_preparation, goal_of, left_over_sum_ml, stretched
from plasmawright.planning.hard import Hard, choose_hard
from plasmawright.planning.plan import Plan
from plasmawright.planning.soft import RECOVERY_PER_MIN_FRAC, THREADS, Seen, Soft, looked_at
from plasmawright.planning.syringe import Choice
from plasmawright.planning.visit import Visit
from plasmawright.planning.words import binding_of, words_for
from plasmawright.preparation.protocol import Spin
from plasmawright.preparation.run import (
    Bench,
    Setting,
    dialled_speed_rad_s,
    drawn_blood,
    equivalent_s,
    field_of,
    platelets_1e9,
    setting_of,
    spin,
    spin_seen,
)
from plasmawright.preparation.sample import sample_of
from plasmawright.science.cells import mix, stop_for_volume_m
from plasmawright.science.rotor import rpm

Array = NDArray[np.float64]

ADDED_MINUTES = np.arange(1.0, 13.0)
WAYS_MAX = 3


@dataclass(frozen=True, kw_only=True)
class Here:
    """What stands in the tubes now.

    Parameters
    ----------
    tubes
        Tubes of blood that may still be used; a broken or doubtful one is not among them.
    spun
        The spins they have had since they were drawn or last mixed, as they really were.
    pooled_ml
        Plasma already drawn off, over all second tubes; ``None`` while the plasma still stands over the cells.
    blood_ml
        What the tubes really hold of blood where they were filled short; ``None`` as the visit says.
    """

    tubes: int
    spun: tuple[Spin, ...] = ()
    pooled_ml: float | None = None
    blood_ml: float | None = None


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way on, in words, with the plan it makes of what is there."""

    words: str
    plan: Plan


def ways_from_here(visit: Visit, here: Here, parameters: ParameterSet) -> tuple[Way, ...]:
    """Return at most three ways on, the best first.

    Raises
    ------
    Refusal
        If nothing is left to go on with, or more plasma was pooled than the tubes can have held.
    """
    if here.tubes < 1:
        raise Refusal("here.tubes", here.tubes, "at least one tube must be left", "Draw again, or stop here.")
    if here.blood_ml is not None:
        visit = replace(visit, bench=replace(visit.bench, blood_ml=here.blood_ml))
    goal = goal_of(visit)
    many, middle = _stand(visit, here, stretched(visit, parameters)), _stand(visit, here, central())
    if here.pooled_ml is not None:
        return _from_plasma(visit, goal, here, many=many, middle=middle)
    shown = looked_at(middle.bench, 0.0, middle.setting, goal.margin_mm)
    ways = []
    if float(shown.plasma_ml[0]) * here.tubes > sum(ml for _, ml in left_over_sum_ml(visit, second_tubes=1)):
        ways.append(_way(visit, goal, here, many=many, middle=middle, minutes=0.0))
    again_rpm = _speed_rpm(visit, here, many)
    added = _best_added_min(many, goal, again_rpm)
    if added > 0:
        longer = tuple(_spun_on(stand, again_rpm, added) for stand in (many, middle))
        ways.append(_way(visit, goal, here, many=longer[0], middle=longer[1], minutes=added))
    if here.spun:
        fresh = tuple(_mixed(stand) for stand in (many, middle))
        anew_rpm = min(again_rpm, _gentle_rpm(visit, many))
        whole = _best_added_min(fresh[0], goal, anew_rpm)
        spun = tuple(_spun_on(stand, anew_rpm, whole) for stand in fresh)
        ways.append(_way(visit, goal, here, many=spun[0], middle=spun[1], minutes=whole, mixed=True))
    return tuple(sorted(ways, key=lambda way: -way.plan.share_reached - way.plan.chance_sized))[:WAYS_MAX]


@dataclass(frozen=True, kw_only=True)
class _Stand:
    setting: Setting
    bench: Bench
    rpm: float


def _stand(visit: Visit, here: Here, parameters: ParameterSet) -> _Stand:
    """Return the bench as it stands after the spins there were."""
    base = base_preparation(visit)
    setting = setting_of(
        base, sample_of(base, parameters), parameters, threads=THREADS, nearest_mm=goal_of(visit).margin_mm
    )
    bench = replace(drawn_blood(base, setting), tubes=here.tubes)
    speed_rpm = 0.0
    for one in here.spun:
        speed_rpm = float(rpm(dialled_speed_rad_s(bench, one, setting)))
        bench = spin(bench, one, setting)
    return _Stand(setting=setting, bench=bench, rpm=speed_rpm)


def _speed_rpm(visit: Visit, here: Here, stand: _Stand) -> float:
    """Return the speed to go on with: that of the last spin, or a gentle one where there was none."""
    return stand.rpm if here.spun else _gentle_rpm(visit, stand)


def _gentle_rpm(visit: Visit, stand: _Stand) -> float:
    gentle = Spin(rcf=min(value("gentle_rcf"), visit.rotor.max_rcf), minutes=1.0)
    return float(rpm(dialled_speed_rad_s(stand.bench, gentle, stand.setting)))


def _mixed(stand: _Stand) -> _Stand:
    return replace(stand, bench=replace(stand.bench, content=mix(stand.bench.content)))


def _spun_on(stand: _Stand, speed_rpm: float, minutes: float) -> _Stand:
    return replace(stand, bench=spin(stand.bench, Spin(rpm=speed_rpm, minutes=minutes), stand.setting))


def _best_added_min(stand: _Stand, goal: Goal, speed_rpm: float) -> float:
    """Return the minutes whose addition recovers most; 0 when going on at once is better."""
    parameters = stand.setting.parameters
    step = Spin(rpm=speed_rpm, minutes=float(ADDED_MINUTES[-1]))
    longest_s = equivalent_s(step, parameters)
    shares = np.array(
        [
            float(np.median(equivalent_s(replace(step, minutes=float(minutes)), parameters)) / np.median(longest_s))
            for minutes in ADDED_MINUTES
        ]
    )
    field = field_of(stand.bench, dialled_speed_rad_s(stand.bench, step, stand.setting), stand.setting)
    benches = spin_seen(stand.bench, field, stand.setting, time_s=longest_s, moments=shares)
    entered = platelets_1e9(stand.setting.sample.per_tube_m3, stand.setting.sample)

    def worth(bench: Bench, minutes: float) -> float:
        seen = looked_at(bench, minutes, stand.setting, goal.margin_mm)
        return float(np.mean(seen.platelets_1e9 / entered)) - RECOVERY_PER_MIN_FRAC * minutes

    now = worth(stand.bench, 0.0)
    after = [worth(bench, float(minutes)) for bench, minutes in zip(benches, ADDED_MINUTES, strict=True)]
    best = int(np.argmax(after))
    return float(ADDED_MINUTES[best]) if after[best] > now else 0.0


def _way(
    visit: Visit, goal: Goal, here: Here, *, many: _Stand, middle: _Stand, minutes: float, mixed: bool = False
) -> Way:
    hard = _hard_for(visit, goal, here, middle)
    plan = _plan(visit, goal, here, stand=many, minutes=minutes, hard=hard)
    if mixed:
        words = f"Mix the tubes again and spin {minutes:g} min"
    elif minutes > 0:
        words = f"Spin {minutes:g} min more" if here.spun else f"Spin {minutes:g} min"
    else:
        words = "Go on as it stands"
    return Way(words=f"{words}: {_outlook(plan)}.", plan=plan)


def _hard_for(visit: Visit, goal: Goal, here: Here, middle: _Stand) -> Hard:
    leaves = {
        tubes: sum(ml for _, ml in left_over_sum_ml(visit, second_tubes=tubes))
        for tubes in range(1, visit.bench.second_tubes_at_hand + 1)
    }
    hard = choose_hard(visit, middle.bench, middle.setting, margin_mm=goal.margin_mm, leave_ml=leaves)
    if hard is None:
        raise Refusal(
            "bench.second_tubes_at_hand",
            visit.bench.second_tubes_at_hand,
            f"the plasma of {here.tubes} tubes does not fit in them",
            "Lay out more second tubes or larger ones.",
        )
    return hard


def _plan(visit: Visit, goal: Goal, here: Here, *, stand: _Stand, minutes: float, hard: Hard) -> Plan:
    seen: Seen = looked_at(stand.bench, minutes, stand.setting, goal.margin_mm)
    soft = Soft(
        rpm=stand.rpm,
        rcf=0.0,
        setting=stand.setting,
        start=stand.bench,
        seen=(seen,),
        minutes=np.array([minutes]),
        forces=np.empty(0),
        recovery_by_force=np.empty((0, 1)),
    )
    choice = Choice(tubes=here.tubes, minutes=minutes, seen=seen, hard=hard)
    plan = build_plan(visit, goal, soft, choice, words="", binding="")
    return plan.said(
        words=words_for("chosen", plan, wish_share=1.0, volume_share=1.0), binding=binding_of(visit, goal, plan)
    )


def _from_plasma(visit: Visit, goal: Goal, here: Here, *, many: _Stand, middle: _Stand) -> tuple[Way, ...]:
    """Return the ways on once plasma is pooled: the hard spin that is cheapest, and one that leaves less above."""
    each_m3 = np.full(1, (here.pooled_ml or 0.0) / here.tubes * 1e-6)
    if not 0 < each_m3[0] < float(middle.bench.content.filled_m3[0]):
        raise Refusal(
            "here.pooled_ml",
            here.pooled_ml,
            f"{here.tubes} tubes cannot have given that",
            "Measure the pooled plasma again.",
        )
    stop = stop_for_volume_m(middle.bench.content, taken_m3=each_m3)
    shown = looked_at(middle.bench, 0.0, middle.setting, goal.margin_mm)
    there = goal.at_margin(float((stop[0] - shown.interface_m[0]) * 1e3))
    cheap = _hard_for(visit, there, here, middle)
    longer = replace(cheap, minutes=cheap.minutes * 1.5)
    ways = []
    for hard, words in ((cheap, "Spin hard as planned"), (longer, "Spin hard half as long again")):
        plan = _plan(visit, there, here, stand=many, minutes=0.0, hard=hard)
        ways.append(Way(words=f"{words}, {hard.rpm:.0f} rpm for {hard.minutes:g} min: {_outlook(plan)}.", plan=plan))
    return tuple(ways)


def _outlook(plan: Plan) -> str:
    low, middle, high = np.quantile(plan.rich_1e9_per_l * plan.leave_ml / 1e3, (0.05, 0.5, 0.95))
    return f"about {middle:.1f} billion platelets (predicted, {low:.1f} to {high:.1f} nine times in ten)"
