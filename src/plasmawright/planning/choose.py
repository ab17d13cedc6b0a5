"""Choose a plan and the alternatives that trade blood for chance for time."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet, central
from plasmawright.planning.build import build_plan
from plasmawright.planning.goal import Goal, base_preparation, goal_of, left_over_sum_ml, stretched
from plasmawright.planning.hard import Hard, choose_hard
from plasmawright.planning.look import look_choice
from plasmawright.planning.options import CHANCE_AIM, CHANCE_EVEN, Options, fewest_tubes, options_of
from plasmawright.planning.person import cautions_of, ceiling_words, classes_of
from plasmawright.planning.plan import Answer, Plan
from plasmawright.planning.soft import MINUTES, SEARCH_DRAWS, Soft, choose_soft, marched_at
from plasmawright.planning.syringe import Choice
from plasmawright.planning.visit import Visit
from plasmawright.planning.words import assumed_of, binding_of, warnings_of, words_for

Array = NDArray[np.float64]

ALTERNATIVES_MIN = 3
# Trades carried through to the syringe before no more are looked for.
TRIED_MAX = 8
# Room for the leave volume's own spread, and a little for the rounding of a wish.
LEFT_OVER_SPREAD = 0.1
WISH_SAFETY = 0.98


def choose_plan(visit: Visit, parameters: ParameterSet, *, margin_mm: float | None = None) -> Answer:
    """Choose draw, spins, stop and volumes for a visit.

    Parameters
    ----------
    parameters
        At least a few draws; the answer is the same for the same draws.
    margin_mm
        Where a person wants the stop, above the cells; ``None`` leaves it to the plan.

    Raises
    ------
    Refusal
        If nothing at hand can hold or give what the sites take.
    """
    if visit.bench.tubes_max < 1:
        raise Refusal("bench.tubes_at_hand", 0, "at least one tube must be drawn", "Allow more blood or tubes.")
    goal = goal_of(visit) if margin_mm is None else goal_of(visit).at_margin(margin_mm)
    base = base_preparation(visit)
    many = stretched(visit, parameters)
    few = replace(many, draws=many.draws[:SEARCH_DRAWS], weights=many.weights[:SEARCH_DRAWS])
    soft = choose_soft(visit, base, few=few, many=many, margin_mm=goal.margin_mm)
    planner = Planner(visit, goal, soft)
    chosen = planner.plan(fewest_tubes(planner.options))
    sample = soft.setting.sample
    return Answer(
        chosen=chosen,
        alternatives=tuple(planner.alternatives(chosen)),
        fold_max=chosen.blood_ml / chosen.leave_ml,
        platelets_1e9_max=chosen.blood_ml * float(np.median(sample.platelets_1e9_per_l)) / 1e3,
        ceiling_words=ceiling_words(chosen),
        cautions=cautions_of(visit, chosen),
        classes=classes_of(visit, chosen, sample),
        assumed=assumed_of(visit, base, many),
        warnings=warnings_of(visit, goal, chosen),
        search={"forces": soft.forces, "minutes": MINUTES, "recovery_frac": soft.recovery_by_force},
    )


class Planner:
    """Builds plans of one visit that share one soft force."""

    def __init__(self, visit: Visit, goal: Goal, soft: Soft, *, volume_share: float = 1.0) -> None:
        self.visit = visit
        self.volume_share = volume_share
        self.hards: dict[tuple[int, float], Hard] = {}
        self.goal = goal
        self.soft = soft
        self.middle = marched_at(
            base_preparation(visit), central(), soft.rpm, margin_mm=goal.margin_mm, minutes=soft.minutes
        )
        self.leaves = {
            tubes: sum(ml for _, ml in left_over_sum_ml(visit, second_tubes=tubes))
            for tubes in range(1, visit.bench.second_tubes_at_hand + 1)
        }
        self.options: Options = options_of(
            goal, soft, tubes_max=visit.bench.tubes_max, leave_ml=self.leaves[min(2, len(self.leaves))]
        )

    def hard_for(self, tubes: int, minutes: float) -> Hard:
        """Return the hard spin for the plasma of so many tubes; the soft spin's time moves it a little."""
        if (tubes, minutes) in self.hards:
            return self.hards[tubes, minutes]
        bench = replace(self.middle.at(minutes).bench, tubes=tubes)
        hard = choose_hard(self.visit, bench, self.middle.setting, margin_mm=self.goal.margin_mm, leave_ml=self.leaves)
        if hard is None:
            kind = self.visit.tubes[self.visit.bench.second_tube]
            raise Refusal(
                "bench.second_tubes_at_hand",
                self.visit.bench.second_tubes_at_hand,
                f"the plasma of {tubes} tubes does not fit in so many of {kind.capacity_ml:g} mL",
                "Lay out more second tubes or larger ones.",
            )
        self.hards[tubes, minutes] = hard
        return hard

    def plan(self, tubes: int, minutes: float | None = None, *, kind: str = "chosen", wish_share: float = 1.0) -> Plan:
        """Return the plan with so many tubes; its best time where none is given."""
        at = self.options.best_minutes(tubes) if minutes is None else minutes
        choice = Choice(
            tubes=tubes, minutes=at, seen=self.soft.at(at), hard=self.hard_for(tubes, at), wish_share=wish_share
        )
        return self._built(choice, kind)

    def _built(self, choice: Choice, kind: str) -> Plan:
        plan = build_plan(self.visit, self.goal, self.soft, choice, words="", binding="")
        return plan.said(
            words=words_for(kind, plan, wish_share=choice.wish_share, volume_share=self.volume_share),
            binding=binding_of(self.visit, self.goal, plan),
        )

    def alternatives(self, chosen: Plan) -> list[Plan]:
        """Return the plans that give up something to gain something else, none as good as another in everything.

        The nearest plan that can comes first where a wish is out of reach; looking half-way is always among them: it
        buys its minutes with what is then seen of this blood, which no chance reckoned beforehand can show in full.
        """
        kept: list[Plan] = []
        for kind, tubes, minutes in self._trades(chosen)[:TRIED_MAX]:
            plan = self.plan(tubes, minutes, kind=kind)
            standing = [chosen, *kept]
            if not any(self._beats(one, plan) or self._beats(plan, one) for one in standing):
                kept.append(plan)
            if len(kept) == ALTERNATIVES_MIN:
                break
        look = look_choice(self.goal, self.soft, self.options, chosen, self.hard_for(chosen.tubes, chosen.soft_minutes))
        kept.append(self._built(look, "look"))
        if chosen.chance_all_met < CHANCE_EVEN:
            kept.insert(0, self._nearest())
        return kept

    def _trades(self, chosen: Plan) -> list[tuple[str, int, float]]:
        """Return options that trade, best first: fewer tubes, more tubes, less time, then whatever else is unbeaten."""
        whole = self.options.whole
        score, minutes = np.round(self.options.score[:, whole], 3), self.options.minutes[whole]
        front: list[tuple[str, int, float, float]] = []
        for tubes in range(1, len(score) + 1):
            for at, time in enumerate(minutes):
                mine = score[tubes - 1, at]
                beaten = (score[:tubes, : at + 1] >= mine).sum() > 1
                if not beaten and mine > 0 and (tubes, time) != (chosen.tubes, chosen.soft_minutes):
                    front.append((_kind(tubes, time, chosen), tubes, float(time), float(mine)))
        front.sort(key=lambda one: (abs(one[1] - chosen.tubes), -one[3]))
        first_of_kind = [
            next((one for one in front if one[0] == kind), None) for kind in ("less blood", "more blood", "quicker")
        ]
        picked = [one for one in first_of_kind if one is not None]
        picked += [one for one in front if one not in picked]
        return [(kind, tubes, time) for kind, tubes, time, _ in picked]

    def _nearest(self) -> Plan:
        """Return the plan that fills as much of the volumes, and of every wish, as is likely."""
        tubes = self.visit.bench.tubes_max
        minutes = self.options.best_minutes(tubes)
        pooled_ml = float(np.quantile(tubes * self.soft.at(minutes).plasma_ml, 1 - CHANCE_AIM))
        rich_ml = max(self.leaves.values())
        share = min(pooled_ml / (rich_ml * (1 + LEFT_OVER_SPREAD) + self.goal.poor_ml), 1.0)
        scaled = replace(
            self.visit,
            sites=tuple(replace(site, volume_ml=site.volume_ml * share) for site in self.visit.sites),
        )
        goal = replace(goal_of(scaled), margin_mm=self.goal.margin_mm, needed_1e9_per_l=self.goal.needed_1e9_per_l)
        planner = Planner(scaled, goal, self.soft, volume_share=share)
        whole = planner.plan(tubes, minutes, kind="nearest")
        needed = self.goal.needed_1e9_per_l
        if needed is None:
            return whole
        reached = float(np.quantile(whole.rich_1e9_per_l, 1 - CHANCE_AIM)) / needed * share
        return planner.plan(tubes, minutes, kind="nearest", wish_share=min(reached * WISH_SAFETY, 1.0))

    def _beats(self, plan: Plan, other: Plan) -> bool:
        """Return whether ``plan`` is at least as good as ``other`` in blood, score and time."""
        mine, theirs = self._merits(plan), self._merits(other)
        return all(a <= b + 1e-9 for a, b in zip(mine, theirs, strict=True))

    def _merits(self, plan: Plan) -> tuple[float, float, float]:
        score = plan.share_reached if self.options.by_share else plan.chance_sized
        return plan.blood_ml, -score, plan.minutes_total


def _kind(tubes: int, minutes: float, chosen: Plan) -> str:
    if tubes != chosen.tubes:
        return "less blood" if tubes < chosen.tubes else "more blood"
    return "quicker" if minutes < chosen.soft_minutes else "slower"
