"""What a page asks of a plan: the visit as entered, the spins that are settled, and where a hand wants the stop."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from plasmawright.errors import Refusal
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled
from plasmawright.planning.visit import Visit
from plasmawright.web.visit_form import document_of

STEP_MM = 0.5
LOOK = "look"
"""What a page settles when it looks half-way: the alternative is found anew, since its times depend on what is seen."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question to the plan.

    Parameters
    ----------
    settled
        The spins that stand; nothing where they are still to be chosen.
    looks
        Whether the plan that stands spins a part, looks, and then finishes.
    margin_mm
        Where a hand wants the stop, above the cells; nothing leaves it to the plan.
    """

    document: Mapping[str, object]
    visit: Visit
    settled: Settled | None
    looks: bool
    margin_mm: float | None


def asked_in(values: Mapping[str, str], posted: Mapping[str, str]) -> Asked:
    """Read a question.

    Parameters
    ----------
    values
        The entries of the form.
    posted
        Beside them ``settled`` (JSON, or empty) and ``margin_mm`` (a number, or empty).

    Raises
    ------
    Refusals, Refusal
        If the visit cannot be used, or what is settled is not a plan.
    """
    document = document_of(values)
    visit = visit_from(document)
    plan = _plan_in(posted.get("settled", ""))
    return Asked(
        document=document,
        visit=visit,
        settled=None if plan is None else Settled.from_document(plan),
        looks=plan is not None and bool(plan.get(LOOK)),
        margin_mm=_margin_mm_in(posted.get("margin_mm", "")),
    )


def _plan_in(text: str) -> Mapping[str, Any] | None:
    if not text:
        return None
    try:
        plan = json.loads(text)
    except ValueError:
        plan = "unreadable"
    if not isinstance(plan, dict):
        raise Refusal("plan", text, "it must be what this page settled", "Press Plan again.")
    return plan


def _margin_mm_in(text: str) -> float | None:
    if not text:
        return None
    try:
        margin_mm = float(text)
    except ValueError:
        margin_mm = float("nan")
    if not 0 <= margin_mm < 1e3:
        raise Refusal("stop.above_cells_mm", text, "it must be a number of millimetres", "Write it such as 3.5.")
    return round(margin_mm / STEP_MM) * STEP_MM


def settled_text(plan: Mapping[str, Any]) -> str:
    """Return what a page keeps of a printed PLAN to ask about it again."""
    kept = {
        "tubes": plan["tubes"],
        "soft": {key: plan["soft"][key] for key in ("rpm", "minutes")},
        "hard": {key: plan["hard"][key] for key in ("tubes", "rpm", "minutes")},
    }
    return json.dumps({**kept, LOOK: True} if plan.get(LOOK) else kept)
