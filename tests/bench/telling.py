"""A run told by hand: a plan of three tubes, and entries a minute apart."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from plasmawright.bench.entries import Kind, Written
from plasmawright.bench.facts import Opening, RunFacts
from plasmawright.bench.policy import Policy
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import Step
from plasmawright.bench.telling import facts_of, told

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
POLICY = Policy(
    hold_h=4.0,
    open_caution_min=60.0,
    stand_min=0.0,
    rest_min=10.0,
    solo_pause_s=60.0,
    solo=False,
    count_tube_ml=0.0,
    label_identifiers=("name", "birth_on"),
    activation=False,
)
BETWEEN = {"p05": 4.7, "p50": 5.1, "p95": 5.4}
PLAN: Mapping[str, Any] = {
    "tubes": 3,
    "blood_ml": 25.5,
    "soft": {"rcf": 293.0, "rpm": 1280.0, "minutes": 6.0, "load": [1, 3, 5], "counterweights": []},
    "stop": {
        "above_cells_mm": 4.0,
        "expected_plasma_ml": BETWEEN,
        "expected_interface_mm": {"p05": 33.0, "p50": 34.8, "p95": 38.6},
        "mark_ml": None,
    },
    "hard": {"tubes": 2, "rcf": 1996.0, "rpm": 3340.0, "minutes": 8.0, "load": [1, 5], "counterweights": []},
    "leave_ml": 3.47,
    "leave_ml_sum": [{"what": "sample for counting", "ml": 0.2}],
    "sites": [{"id": "s1", "name": "heel", "side": "left", "product": "prp", "volume_ml": 3.0}],
}


def make_opening(**changes: Any) -> Opening:
    """Return an opening with everything defaulted."""
    given: dict[str, Any] = {
        "plan": PLAN,
        "blood_ml": 8.5,
        "policy": POLICY,
        "solo": False,
        "practice": False,
        "preparer": "pim",
        "opened_at": AT,
    }
    return Opening(**(given | changes))


def entry(kind: Kind, step: Step, position: int, *, at: datetime | None = None, **more: Any) -> Written:
    """Return one entry, a minute after the one before it."""
    late = {name: more.pop(name) for name in ("later", "review") if name in more}
    body = more.pop("body", {})
    return Written(
        position=position, kind=kind, step=step, body=body, at=at or AT + timedelta(minutes=position), by="pim", **late
    )


def pressed_until(step: Step, opening: Opening | None = None, *, entries: Sequence[Written] = ()) -> list[Written]:
    """Return the entries of a run in which nothing but the primary key is pressed until ``step``."""
    opening = opening or make_opening()
    kept = list(entries)
    facts = facts_of(opening, kept)
    while facts.step is not step:
        press = press_of(facts)
        assert press is not None, f"no key leads on from {facts.step}"
        one = entry(press.kind, facts.step, len(kept) + 1, body=press.body)
        kept.append(one)
        facts = told(facts, one)
    return kept


def at_step(step: Step, **changes: Any) -> tuple[RunFacts, list[Written]]:
    """Return a run that was brought to ``step`` by the primary key, and its entries."""
    opening = make_opening(**changes)
    kept = pressed_until(step, opening)
    return facts_of(opening, kept), kept


def tell(facts: RunFacts, kind: Kind, **body: Any) -> RunFacts:
    """Return the facts after one more entry at the step where they stand."""
    return told(facts, entry(kind, facts.step, facts.position + 1, body=body))
