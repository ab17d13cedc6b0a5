"""Saved plans as the Plan page knows them: kept, listed, and what the last one tells of the clinic's bench."""

from dataclasses import dataclass
from datetime import datetime

from django.http import Http404

from plasmawright import __version__
from plasmawright.exchange.toml.encode import encode
from plasmawright.records.models import Clinic, Person, Plan
from plasmawright.records.selectors.drill import hand
from plasmawright.records.selectors.plans import plan, plans_of
from plasmawright.records.services.plans import save_plan, save_visit
from plasmawright.web.reckoning import DRAWS, SEED, Reckoned
from plasmawright.web.run_times import day_and_minute
from plasmawright.web.visit_form import blank_values, values_of

LISTED_MAX = 12
BENCH_PREFIXES = ("bench.", "rotor.", "tubes.")
STOP_SPREAD = "bench.stop_spread_mm"
SPREAD_MM_MIN = 0.1
"""A plan believes no hand that stops closer than a tenth of a millimetre."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One saved plan in the list."""

    id: int
    title: str
    words: str
    saved: str


def keep_plan(reckoned: Reckoned, *, clinic: Clinic, by: Person, at: datetime) -> Plan:
    """Keep a visit and its answer."""
    asked = reckoned.asked
    visit = save_visit(clinic=clinic, document=asked.document, text=encode(asked.document), by=by, at=at)
    # spins settled before are not what a fresh choice would find; in the record only a stated stop says so
    own = asked.settled is None and asked.margin_mm is None
    return save_plan(
        visit=visit,
        answer=reckoned.answer,
        settled_margin_mm=None if own else reckoned.answer["chosen"]["stop"]["above_cells_mm"],
        parameter_set=None,
        draws=DRAWS,
        seed=SEED,
        model_version=__version__,
        by=by,
        at=at,
    )


def plan_or_404(clinic: Clinic, plan_id: int) -> Plan:
    """Return one plan of the clinic.

    Raises
    ------
    Http404
        If the clinic has none of that number.
    """
    found = plan(clinic, plan_id)
    if found is None:
        raise Http404
    return found


def saved_lines(clinic: Clinic) -> tuple[Line, ...]:
    """Return the plans saved last, newest first."""
    return tuple(
        Line(
            id=kept.pk,
            title=kept.visit.reference or f"Plan {kept.pk}",
            words=kept.answer["chosen"]["words"],
            saved=f"{kept.saved_by.display_name}, {day_and_minute(kept.saved_at)}",
        )
        for kept in plans_of(clinic)[:LISTED_MAX]
    )


def bench_of(clinic: Clinic, person: Person) -> dict[str, str]:
    """Return an empty form, its bench as the clinic's last plan had it: benches change less often than patients.

    How closely a stop is met is a person's own: their drill's number, or the last plan's where they have pulled none.
    """
    values = blank_values()
    for kept in plans_of(clinic)[:1]:
        last = values_of(kept.visit.document)
        values |= {name: value for name, value in last.items() if name.startswith(BENCH_PREFIXES)}
    own = drilled_spread(clinic, person)
    return {**values, STOP_SPREAD: own} if own else values


def drilled_spread(clinic: Clinic, person: Person) -> str:
    """Return how far a person stops from their aim by their drill, mm to a tenth; empty before a whole series."""
    found = hand(clinic=clinic, person=person)
    return "" if found is None else f"{max(SPREAD_MM_MIN, found.about_aim_mm):.1f}"
