"""Invented blood for practice: one draw of the model that the practising person does not know."""

from dataclasses import dataclass, replace

from plasmawright.parameters.sets import ParameterSet, drawn
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.planning.visit import Visit

DRAWS = 256
"""Of how many draws the invented blood is one; practice run number ``seed`` always meets the same."""


@dataclass(frozen=True, kw_only=True)
class Invented:
    """What a practice run would show and give, had it been blood."""

    interface_mm: float
    plasma_ml: float
    prp_platelets_1e9_per_l: float
    ppp_platelets_1e9_per_l: float
    red_cells_1e12_per_l: float


def invented(visit: Visit, settled: Settled, *, seed: int, margin_mm: float | None = None) -> Invented:
    """Return what the settled spins show with the blood and bench of one hidden draw."""
    plan = revised_plan(visit, settled, _one(seed), margin_mm=margin_mm)
    return Invented(
        interface_mm=float(plan.interface_mm[0]),
        plasma_ml=float(plan.plasma_ml[0]),
        prp_platelets_1e9_per_l=float(plan.rich_1e9_per_l[0]),
        ppp_platelets_1e9_per_l=float(plan.poor_1e9_per_l[0]),
        red_cells_1e12_per_l=float(plan.rich_red_1e12_per_l[0]),
    )


def _one(seed: int) -> ParameterSet:
    many = drawn(count=DRAWS, seed=1)
    chosen = seed % DRAWS
    return replace(many, draws=many.draws[chosen : chosen + 1], weights=many.weights[chosen : chosen + 1])
