"""What a practice run is opened with: one of the clinic's plans or the example, a pace, one person or two."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from plasmawright.bench.moments import Moment
from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Plan, Run
from plasmawright.records.selectors.plans import plan as plan_of
from plasmawright.records.selectors.plans import plans_of
from plasmawright.records.services.runs import open_run
from plasmawright.web.asked import asked_in
from plasmawright.web.example import example_values
from plasmawright.web.planner import PLANNER
from plasmawright.web.saved_plans import keep_plan

PACES = (1, 10, 30)
"""How many times as fast as the wall the clock of a practice run may go."""
OFFERED_MAX = 12
THE_EXAMPLE = "example"


@dataclass(frozen=True, kw_only=True)
class Offer:
    """One plan to practise with."""

    value: str
    title: str
    words: str


def offers_of(clinic: Clinic) -> tuple[Offer, ...]:
    """Return the plans to practise with: the clinic's newest, the example last."""
    kept = [plan for plan in plans_of(clinic) if plan.visit.reference != _example_reference()][:OFFERED_MAX]
    own = [
        Offer(
            value=str(plan.pk),
            title=plan.visit.reference or f"Plan {plan.pk}",
            words=f"saved {plan.saved_at:%Y-%m-%d}",
        )
        for plan in kept
    ]
    return (*own, Offer(value=THE_EXAMPLE, title="The example", words="an invented visit"))


def open_practice(clinic: Clinic, posted: Mapping[str, str], *, by: Person, moment: Moment) -> Run:
    """Open a practice run as the form asks.

    Raises
    ------
    Refusal, Refusals
        If the plan or the pace is none of those offered, or the role does not allow it.
    """
    pace = posted.get("pace", "1")
    if pace not in {str(one) for one in PACES}:
        limit = f"it must be one of {', '.join(str(one) for one in PACES)}"
        raise Refusal("pace", pace, limit, "Choose how fast the clock goes.")
    return open_run(
        plan=_plan(clinic, posted.get("plan", ""), by=by, at=moment.at),
        patient=None,
        intake=None,
        lots=(),
        solo=posted.get("people") == "one",
        practice=True,
        pace=float(pace),
        by=by,
        moment=moment,
    )


def _plan(clinic: Clinic, chosen: str, *, by: Person, at: datetime) -> Plan:
    if chosen == THE_EXAMPLE:
        return _example(clinic, by=by, at=at)
    found = plan_of(clinic, int(chosen)) if chosen.isascii() and chosen.isdigit() and len(chosen) <= 18 else None
    if found is None:
        raise Refusal("plan", chosen or "none", "it must be a plan of this clinic", "Choose one of the list.")
    return found


def _example_reference() -> str:
    return example_values()["patient.reference"]


def _example(clinic: Clinic, *, by: Person, at: datetime) -> Plan:
    """Return the example's plan, worked out and kept the first time somebody asks for it."""
    kept = next((plan for plan in plans_of(clinic) if plan.visit.reference == _example_reference()), None)
    if kept is not None:
        return kept
    values = example_values()
    reckoned = PLANNER.answer_to(asked_in(values, {}), asker=f"practice:{clinic.pk}", values=values)
    return keep_plan(reckoned, clinic=clinic, by=by, at=at)
