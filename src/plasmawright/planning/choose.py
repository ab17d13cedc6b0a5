"""Choose a plan and the alternatives that trade blood for chance for time."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet, central
from plasmawright.planning.build import Choice, build_plan
from plasmawright.planning.goal import Goal, base_preparation, goal_of, left_over_sum_ml, stretched
from plasmawright.planning.hard import Hard, choose_hard
from plasmawright.planning.look import look_choice
from plasmawright.planning.options import CHANCE_AIM, Options, fewest_tubes, options_of
from plasmawright.planning.plan import Answer, Plan
from plasmawright.planning.soft import MINUTES, SEARCH_DRAWS, Soft, choose_soft, marched_at
from plasmawright.planning.visit import Visit
from plasmawright.planning.words import assumed_of, binding_of, cautions_of, warnings_of, words_for

Array = NDArray[np.float64]

# A quicker plan must save at least this much, and a costlier one gain at least this chance, to be worth a line.
SAVED_MIN = 2.0
GAINED_CHANCE = 0.02


def choose_plan(visit: Visit, parameters: ParameterSet) -> Answer:
    """Choose draw, spins, stop and volumes for a visit.

    Parameters
    ----------
    parameters
        At least a few draws; the answer is the same for the same draws.

    Raises
    ------
    Refusal
        If nothing at hand can hold or give what the sites take.
    """
    goal = goal_of(visit)
    base = base_preparation(visit)
    many = stretched(visit, parameters)
    few = replace(many, draws=many.draws[:SEARCH_DRAWS], weights=many.weights[:SEARCH_DRAWS])
    soft = choose_soft(visit, base, few=few, many=many, margin_mm=goal.margin_mm)
    middle = marched_at(base, central(), soft.rpm, margin_mm=goal.margin_mm)
    leaves = {
        tubes: sum(ml for _, ml in left_over_sum_ml(visit, second_tubes=tubes))
        for tubes in range(1, visit.bench.second_tubes_at_hand + 1)
    }
    if visit.bench.tubes_max < 1:
        raise Refusal(
            "bench.tubes_at_hand", visit.bench.tubes_max, "at least one tube must be drawn", "Allow more blood or tubes."
        )
    options = options_of(goal, soft, tubes_max=visit.bench.tubes_max, leave_ml=leaves[min(2, len(leaves))])
    planner = _Planner(visit, goal, soft, middle, options, leaves)
    chosen = planner.plan(fewest_tubes(options))
    others = planner.alternatives(chosen)
    sample = soft.setting.sample
    return Answer(
        chosen=chosen,
        alternatives=tuple(others),
        fold_max=chosen.blood_ml / chosen.leave_ml,
        platelets_1e9_max=chosen.blood_ml * float(np.median(sample.platelets_1e9_per_l)) / 1e3,
        cautions=cautions_of(visit, chosen),
        assumed=assumed_of(visit, base, many),
        warnings=warnings_of(visit, goal, chosen),
        search={"forces": soft.forces, "minutes": MINUTES, "recovery_frac": soft.recovery_by_force},
    )


class _Planner:
    """Builds plans of one visit that share one soft force."""

    def __init__(
        self, visit: Visit, goal: Goal, soft: Soft, middle: Soft, options: Options, leaves: dict[int, float]
    ) -> None:
        self.visit = visit
        self.goal = goal
        self.soft = soft
        self.middle = middle
        self.options = options
        self.leaves = leaves

    def hard_for(self, tubes: int, minutes: float) -> Hard:
        """Return the hard spin for the plasma of so many tubes."""
        bench = replace(self.middle.at(minutes).bench, tubes=tubes)
        hard = choose_hard(
            self.visit, bench, self.middle.setting, margin_mm=self.goal.margin_mm, leave_ml=self.leaves
        )
        if hard is None:
            kind = self.visit.tubes[self.visit.bench.second_tube]
            raise Refusal(
                "bench.second_tubes_at_hand",
                self.visit.bench.second_tubes_at_hand,
                f"the plasma of {tubes} tubes does not fit in so many of {kind.capacity_ml:g} mL",
                "Lay out more second tubes or larger ones.",
            )
        return hard

    def plan(self, tubes: int, minutes: float | None = None, *, kind: str = "chosen", wish_share: float = 1.0) -> Plan:
        """Return the plan with so many tubes; its best time where none is given."""
        at = float(MINUTES[self.options.best_minutes(tubes)]) if minutes is None else minutes
        choice = Choice(
            tubes=tubes,
            minutes=at,
            seen=self.soft.at(at),
            hard=self.hard_for(tubes, at),
            wish_share=wish_share,
        )
        return self._built(choice, kind)

    def _built(self, choice: Choice, kind: str) -> Plan:
        plan = build_plan(self.visit, self.goal, self.soft, choice, words="", binding="")
        return replace(
            plan,
            words=words_for(kind, plan, wish_share=choice.wish_share),
            binding=binding_of(self.visit, self.goal, plan),
        )

    def alternatives(self, chosen: Plan) -> list[Plan]:
        """Return the plans that give up something to gain something else, none beaten by another in everything."""
        best = self.options.objective.max(axis=1)
        found: list[Plan] = []
        if chosen.tubes > 1:
            found.append(self.plan(chosen.tubes - 1, kind="less blood"))
        more = [
            tubes
            for tubes in range(chosen.tubes + 1, len(best) + 1)
            if best[tubes - 1] >= best[chosen.tubes - 1] + GAINED_CHANCE
        ]
        if more:
            found.append(self.plan(more[0], kind="more blood"))
        found += self._quicker(chosen)
        choice = look_choice(self.goal, self.soft, chosen, self.hard_for(chosen.tubes, chosen.soft_minutes))
        found.append(self._built(choice, "look"))
        kept = [plan for plan in found if plan.look is not None or not _beaten(plan, [chosen, *found])]
        if chosen.chance_all_met < 0.5 and self.goal.needed_1e9_per_l is not None:
            kept.insert(0, self._nearest(chosen))
        return kept

    def _quicker(self, chosen: Plan) -> list[Plan]:
        """Return one plan that saves minutes at some chance: half-way down to the shortest time worth having."""
        row = self.options.objective[chosen.tubes - 1]
        allowed = [
            float(minutes)
            for minutes, chance in zip(MINUTES, row, strict=True)
            if minutes <= chosen.soft_minutes - SAVED_MIN and chance >= 0.5 * row.max()
        ]
        return [self.plan(chosen.tubes, min(allowed), kind="quicker")] if allowed else []

    def _nearest(self, chosen: Plan) -> Plan:
        """Return the plan that meets as large a share of every wish as is likely."""
        tubes = self.visit.bench.tubes_max
        whole = self.plan(tubes, kind="nearest")
        needed = self.goal.needed_1e9_per_l or 1.0
        share = float(np.quantile(whole.rich_1e9_per_l, 1 - CHANCE_AIM)) / needed
        return self.plan(tubes, whole.soft_minutes, kind="nearest", wish_share=min(share, 1.0))


def _beaten(plan: Plan, others: list[Plan]) -> bool:
    """Return whether another plan is at least as good in blood, chance and time, and better in one."""
    mine = (plan.blood_ml, -plan.objective, plan.minutes_total)
    for other in others:
        theirs = (other.blood_ml, -other.objective, other.minutes_total)
        if theirs != mine and all(a <= b + 1e-9 for a, b in zip(theirs, mine, strict=True)):
            return True
    return False
