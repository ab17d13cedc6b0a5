"""Visits and plans of a clinic, reopened with what was stored or computed once more."""

from plasmawright.parameters import sets
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.records.models import Clinic, Plan, Visit


def visits_of(clinic: Clinic) -> list[Visit]:
    """Return the clinic's visits, newest first."""
    return list(Visit.objects.of(clinic).order_by("-saved_at", "-pk"))


def visit(clinic: Clinic, visit_id: int) -> Visit | None:
    """Return one visit of the clinic, or nothing."""
    return Visit.objects.of(clinic).filter(pk=visit_id).first()


def plans_of(clinic: Clinic) -> list[Plan]:
    """Return the clinic's plans, newest first, each with its visit."""
    return list(Plan.objects.of(clinic).select_related("visit", "saved_by").order_by("-saved_at", "-pk"))


def plan(clinic: Clinic, plan_id: int) -> Plan | None:
    """Return one plan of the clinic with the numbers stored, or nothing."""
    found = Plan.objects.of(clinic).filter(pk=plan_id)
    return found.select_related("visit", "parameter_set", "saved_by").first()


def parameters_of(plan: Plan) -> sets.ParameterSet:
    """Return the draws a plan was computed from."""
    if plan.parameter_set is not None:
        return sets.from_document(plan.parameter_set.document, count=plan.draws, seed=plan.seed)
    return sets.central() if plan.draws == 1 else sets.drawn(count=plan.draws, seed=plan.seed)


def recomputed(plan: Plan) -> dict[str, object]:
    """Return the chosen plan computed once more from the same visit, draws and seed; it takes seconds.

    Where a person settled on another stop, it is the stored spins that are answered for that stop.
    """
    asked, parameters = visit_from(plan.visit.document), parameters_of(plan)
    if plan.margin_mm is None:
        return choose_plan(asked, parameters).chosen.as_document()
    settled = Settled.from_document(plan.answer["chosen"])
    return revised_plan(asked, settled, parameters, margin_mm=plan.margin_mm).as_document()
