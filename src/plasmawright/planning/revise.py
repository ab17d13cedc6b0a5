"""A plan whose spins are settled, answered anew for another stop or another blood: one march, no search."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.planning.build import build_plan
from plasmawright.planning.goal import base_preparation, goal_of, stretched
from plasmawright.planning.hard import Hard
from plasmawright.planning.plan import Plan
from plasmawright.planning.soft import marched_at
from plasmawright.planning.syringe import Choice
from plasmawright.planning.visit import Visit
from plasmawright.planning.words import binding_of, words_for

MARGIN_MM_MAX = 60.0


@dataclass(frozen=True, kw_only=True)
class Settled:
    """What a hand dials: tubes and spins, without the stop."""

    tubes: int
    soft_rpm: float
    soft_minutes: float
    hard_tubes: int
    hard_rpm: float
    hard_minutes: float

    @classmethod
    def of(cls, plan: Plan) -> "Settled":
        """Return what ``plan`` settles."""
        return cls(
            tubes=plan.tubes,
            soft_rpm=plan.soft_rpm,
            soft_minutes=plan.soft_minutes,
            hard_tubes=plan.hard_tubes,
            hard_rpm=plan.hard_rpm,
            hard_minutes=plan.hard_minutes,
        )

    @classmethod
    def from_document(cls, document: Mapping[str, object]) -> "Settled":
        """Return what a printed PLAN settles; the inverse of :meth:`Plan.as_document` for these fields.

        Raises
        ------
        Refusal
            If the document is not a plan.
        """
        try:
            soft, hard = document["soft"], document["hard"]
            return cls(
                tubes=int(document["tubes"]),  # type: ignore[call-overload]
                soft_rpm=float(soft["rpm"]),  # type: ignore[index]
                soft_minutes=float(soft["minutes"]),  # type: ignore[index]
                hard_tubes=int(hard["tubes"]),  # type: ignore[index]
                hard_rpm=float(hard["rpm"]),  # type: ignore[index]
                hard_minutes=float(hard["minutes"]),  # type: ignore[index]
            )
        except (KeyError, TypeError, ValueError) as fault:
            raise Refusal("plan", "incomplete", "it must name its tubes and spins", "Plan anew.") from fault


def revised_plan(visit: Visit, settled: Settled, parameters: ParameterSet, *, margin_mm: float | None = None) -> Plan:
    """Return what the settled spins give with another stop or blood.

    With a set of one draw it answers within a tenth of a second; with many it gives the intervals.

    Raises
    ------
    Refusal
        If the stop is out of range, or a spin passes a limit of this visit's rotor or tubes.
    """
    goal = goal_of(visit)
    stop_mm = goal.margin_mm if margin_mm is None else margin_mm
    if not 0 <= stop_mm <= MARGIN_MM_MAX:
        raise Refusal(
            "stop.above_cells_mm", stop_mm, f"it must lie between 0 and {MARGIN_MM_MAX:g}", "Stop above the cells."
        )
    goal = goal if margin_mm is None else goal.at_margin(margin_mm)
    believed = parameters if parameters.count == 1 else stretched(visit, parameters)
    soft = marched_at(
        base_preparation(visit),
        believed,
        settled.soft_rpm,
        margin_mm=stop_mm,
        minutes=np.array([settled.soft_minutes]),
    )
    hard = Hard(
        tubes=settled.hard_tubes,
        rpm=settled.hard_rpm,
        minutes=settled.hard_minutes,
        left_frac=0.0,
    )
    choice = Choice(tubes=settled.tubes, minutes=settled.soft_minutes, seen=soft.seen[0], hard=hard)
    plan = build_plan(visit, goal, soft, choice, words="", binding="")
    return plan.said(
        words=words_for("chosen", plan, wish_share=1.0, volume_share=1.0), binding=binding_of(visit, goal, plan)
    )
