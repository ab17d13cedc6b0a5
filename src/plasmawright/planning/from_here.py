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
from plasmawright.preparation.prediction import six_digits, told
from plasmawright.preparation.protocol import Spin
from plasmawright.preparation.run import (
    Bench,
    Setting,
    bottom_radius_mm,
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
from plasmawright.science.rotor import relative_force, rpm, speed_from_rpm_rad_s
from plasmawright.science.uncertainty import quantiles

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
    """One way on, in words, with the plan it makes of what is there.

    ``spin_minutes`` is what is still to be spun softly, at ``plan.soft_rpm``; 0 for going on at once. ``mix`` says that
    the tubes are mixed first.
    """

    words: str
    plan: Plan
    spin_minutes: float = 0.0
    mix: bool = False

    @property
    def platelets_1e9(self) -> NDArray[np.float64]:
        """The platelets of the product, one value a draw."""
        return self.plan.rich_1e9_per_l * self.plan.leave_ml / 1e3

    def as_document(self) -> dict[str, object]:
        """Return the way as a JSON object for a page; ``plan`` is the contract's PLAN, its words those of the way."""
        spin = {"rpm": six_digits(self.plan.soft_rpm), "minutes": six_digits(self.spin_minutes)}
        return {
            "words": self.words,
            "mix": self.mix,
            "spin": spin if self.spin_minutes > 0 else None,
            "platelets_1e9": told(self.platelets_1e9, self.plan.weights),
            "plan": {**self.plan.as_document(), "words": self.words},
        }


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
    ways, refused = [], []
    for stands in _stands_ahead(visit, goal, here, many=many, middle=middle):
        try:
            ways.append(_way(visit, goal, here, stands))
        except Refusal as refusal:
            refused.append(refusal)
    if not ways:
        raise (
            refused[0]
            if refused
            else Refusal(
                "here.spun",
                "no way on",
                "no spin and no mixing wins plasma from these tubes",
                "Draw again, or stop here.",
            )
        )
    return tuple(sorted(ways, key=lambda way: -way.plan.share_reached - way.plan.chance_sized))[:WAYS_MAX]


@dataclass(frozen=True, kw_only=True)
class _Stand:
    setting: Setting
    bench: Bench
    rpm: float


@dataclass(frozen=True, kw_only=True)
class _Ahead:
    """The tubes as they would stand when the plasma is drawn, with many draws and at the centre."""

    many: _Stand
    middle: _Stand
    minutes: float
    mix: bool = False


def _stands_ahead(visit: Visit, goal: Goal, here: Here, *, many: _Stand, middle: _Stand) -> list[_Ahead]:
    """Return how the tubes may be brought to stand: as they are, spun on, or mixed and spun anew."""
    found = []
    shown = looked_at(middle.bench, 0.0, middle.setting, goal.margin_mm)
    if float(shown.plasma_ml[0]) * here.tubes > sum(ml for _, ml in left_over_sum_ml(visit, second_tubes=1)):
        found.append(_Ahead(many=many, middle=middle, minutes=0.0))
    again_rpm = _speed_rpm(visit, here, many)
    added = _best_added_min(many, goal, again_rpm)
    if added > 0:
        longer = [_spun_on(stand, again_rpm, added) for stand in (many, middle)]
        found.append(_Ahead(many=longer[0], middle=longer[1], minutes=added))
    if here.spun:
        fresh = [_mixed(stand) for stand in (many, middle)]
        anew_rpm = min(again_rpm, _gentle_rpm(visit, many))
        whole = _best_added_min(fresh[0], goal, anew_rpm)
        if whole > 0:
            spun = [_spun_on(stand, anew_rpm, whole) for stand in fresh]
            found.append(_Ahead(many=spun[0], middle=spun[1], minutes=whole, mix=True))
    return found


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
    spun = spin(stand.bench, Spin(rpm=speed_rpm, minutes=minutes), stand.setting)
    return replace(stand, bench=spun, rpm=speed_rpm)


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


def _way(visit: Visit, goal: Goal, here: Here, ahead: _Ahead) -> Way:
    hard = _hard_for(visit, goal, here, ahead.middle)
    plan = _plan(visit, goal, here, stand=ahead.many, minutes=ahead.minutes, hard=hard)
    dial = f"{ahead.many.rpm:.0f} rpm for {ahead.minutes:g} min"
    if ahead.mix:
        words = f"Mix the tubes again and spin at {dial}"
    elif ahead.minutes > 0:
        words = f"Spin on at {dial} more" if here.spun else f"Spin at {dial}"
    else:
        words = "Go on as it stands"
    return Way(words=f"{words}: {_outlook(plan)}.", plan=plan, spin_minutes=ahead.minutes, mix=ahead.mix)


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
        rcf=_rcf(visit, stand.rpm),
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


def _rcf(visit: Visit, speed_rpm: float) -> float:
    radius_m = bottom_radius_mm(visit.tubes[visit.bench.tube], visit.rotor) * 1e-3
    return float(relative_force(radius_m=radius_m, speed_rad_s=float(speed_from_rpm_rad_s(speed_rpm))))


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
    ways, refused = [], []
    for hard, words in ((cheap, "Spin hard as planned"), (longer, "Spin hard half as long again")):
        try:
            plan = _plan(visit, there, here, stand=many, minutes=0.0, hard=hard)
        except Refusal as refusal:
            refused.append(refusal)
            continue
        ways.append(Way(words=f"{words}, {hard.rpm:.0f} rpm for {hard.minutes:g} min: {_outlook(plan)}.", plan=plan))
    if not ways:
        raise refused[0]
    return tuple(ways)


def _outlook(plan: Plan) -> str:
    low, middle, high = quantiles(plan.rich_1e9_per_l * plan.leave_ml / 1e3, plan.weights, (0.05, 0.5, 0.95))
    return f"about {middle:.1f} billion platelets (predicted, {low:.1f} to {high:.1f} nine times in ten)"
