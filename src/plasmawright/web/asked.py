"""What a page asks of a plan: the visit as entered, the spins that are settled, and where a hand wants the stop."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from plasmawright.errors import Refusal
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled
from plasmawright.planning.visit import Visit
from plasmawright.web.visit_form import document_of

STEP_MM = 0.5


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question to the plan.

    Parameters
    ----------
    settled
        The spins that stand; nothing where they are still to be chosen.
    look
        Where the plan that stands spins a part, looks and then finishes: the minutes to add for each sight.
    margin_mm
        Where a hand wants the stop, above the cells; nothing leaves it to the plan.
    """

    document: Mapping[str, object]
    visit: Visit
    settled: Settled | None
    look: tuple[Mapping[str, Any], ...]
    margin_mm: float | None

    @property
    def whole_spin(self) -> Settled | None:
        """Return what is settled, with the minutes that the middle sight adds."""
        if self.settled is None or not self.look:
            return self.settled
        added = float(self.look[len(self.look) // 2]["add_minutes"])
        return replace(self.settled, soft_minutes=self.settled.soft_minutes + added)


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
        look=() if plan is None else _look_in(plan),
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


def _look_in(plan: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    try:
        return tuple(
            {"interface_up_to_mm": _height_in(row), "add_minutes": float(row["add_minutes"])}
            for row in plan.get("look", {}).get("then", [])
        )
    except (AttributeError, KeyError, TypeError, ValueError) as fault:
        raise Refusal("plan", "incomplete", "it must be what this page settled", "Press Plan again.") from fault


def _height_in(row: Mapping[str, Any]) -> float | None:
    height_mm = row["interface_up_to_mm"]
    return None if height_mm is None else float(height_mm)


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
    return json.dumps({**kept, "look": {"then": plan["look"]["then"]}} if plan.get("look") else kept)
