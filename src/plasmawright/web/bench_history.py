"""Everything told of a run, in its order: what was amended stands struck beside what it became."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from plasmawright.bench.entries import FATES, LOOKS, SIGNED_KINDS, TUBE_EVENTS, Kind, Measure, Written
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import TITLES
from plasmawright.bench.telling import amended_bodies
from plasmawright.records.models import Run, RunEntry
from plasmawright.records.selectors.runs import entries, written
from plasmawright.web.bench_buttons import Button, button
from plasmawright.web.run_entry_words import entry_words

STANDS = SIGNED_KINDS | {Kind.AMENDED, Kind.SCANNED, Kind.REVIEWED, Kind.BEGAN, Kind.SILENCED}
"""What is never amended: it says of itself all there is, or a service wrote it."""
FIELDS: Mapping[Kind, tuple[str, ...]] = {
    Kind.TUBE: ("tube", "what", "ml"),
    Kind.MEASURED: ("value", "tube"),
    Kind.RED_SEEN: ("tube",),
    Kind.RED_FATE: ("tube", "fate"),
    Kind.MISHAP: ("tubes", "ml", "minutes", "rpm", "words"),
    Kind.CHOSEN: ("minutes", "rpm"),
    Kind.DONE: ("prp_ml", "words"),
    Kind.DIFFERS: ("words",),
    Kind.NOTE: ("words",),
}
"""What of each kind can be put right afterwards."""
LABELS = {
    "tube": "Tube",
    "tubes": "Tubes, with spaces between",
    "what": "What happened",
    "value": "Reading",
    "ml": "Volume, mL",
    "minutes": "Minutes",
    "rpm": "Speed, rpm",
    "prp_ml": "In hand, mL",
    "fate": "What becomes of it",
    "words": "In words",
}


@dataclass(frozen=True, kw_only=True)
class Line:
    """One entry.

    ``before`` holds what it said before it was amended, struck on the page; ``why`` the amendment's own words.
    ``review`` is the button of an entry that came late and that nobody has looked at.
    """

    position: int
    step: str
    words: str
    before: str
    why: str
    by: str
    carried_by: str
    at: datetime
    entered_at: datetime | None
    late: bool
    can_amend: bool
    review: Button | None


@dataclass(frozen=True, kw_only=True)
class FieldShown:
    """One field of an entry that can be put right; ``choices`` where only some answers are possible."""

    name: str
    label: str
    value: str
    choices: tuple[str, ...]


def history_lines(run: Run, facts: RunFacts) -> tuple[Line, ...]:
    """Return every entry, the newest first."""
    kept = entries(run)
    told = [written(one) for one in kept]
    bodies = amended_bodies(told)
    why = {one.body["position"]: str(one.body.get("words", "")) for one in told if one.kind is Kind.AMENDED}
    lines = [_line(row, one, bodies[one.position], why, facts) for row, one in zip(kept, told, strict=True)]
    return tuple(reversed(lines))


def _line(row: RunEntry, one: Written, body: Mapping[str, Any], why: Mapping[int, str], facts: RunFacts) -> Line:
    amended = one.position in why
    waits = one.position in facts.to_review
    return Line(
        position=one.position,
        step=TITLES[one.step],
        words=entry_words(one.kind, one.step, body),
        before=entry_words(one.kind, one.step, one.body) if amended else "",
        why=why.get(one.position, ""),
        by=row.written_by.display_name,
        carried_by="" if row.carried_by_id == row.written_by_id else row.carried_by.display_name,
        at=one.at,
        entered_at=row.at if row.later else None,
        late=row.review,
        can_amend=one.kind not in STANDS and one.kind in FIELDS,
        review=button(facts, Kind.REVIEWED, "Looked at", {"position": one.position}) if waits else None,
    )


def entry_at(run: Run, position: int) -> Written | None:
    """Return one entry as it now reads, or nothing where it cannot be amended."""
    told = [written(one) for one in entries(run)]
    found = next((one for one in told if one.position == position), None)
    return found if found is not None and found.kind not in STANDS and found.kind in FIELDS else None


def body_now(run: Run, position: int) -> Mapping[str, Any]:
    """Return what an entry holds with its amendments. Any: fields differ in type."""
    return amended_bodies([written(one) for one in entries(run)])[position]


def fields_of(one: Written, body: Mapping[str, Any], typed: Mapping[str, str]) -> tuple[FieldShown, ...]:
    """Return the fields of an entry, filled as it reads now or as they were typed."""
    return tuple(
        FieldShown(
            name=name,
            label=LABELS[name],
            value=typed.get(name, text_of(body.get(name))),
            choices=_choices(one, name),
        )
        for name in FIELDS[one.kind]
    )


def _choices(one: Written, name: str) -> tuple[str, ...]:
    if name == "what":
        return TUBE_EVENTS
    if name == "fate":
        return FATES
    if name == "value" and Measure(one.body["what"]) in LOOKS:
        return LOOKS[Measure(one.body["what"])]
    return ()


def text_of(value: object) -> str:
    """Return what stands in a field as text."""
    if value is None:
        return ""
    if isinstance(value, Sequence) and not isinstance(value, str):
        return " ".join(str(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
