"""The steps of a run for its record: what was planned, and every entry with its amendments."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from plasmawright.bench.entries import Kind
from plasmawright.bench.facts import RunFacts, start_of
from plasmawright.bench.guide import card_of
from plasmawright.bench.steps import ORDER, TITLES, Step
from plasmawright.documents.record import RecordEvent, RecordStep
from plasmawright.documents.worksheet_steps import SheetLine
from plasmawright.records.models import Run, RunEntry
from plasmawright.records.selectors.runs import opening
from plasmawright.web.run_entry_words import entry_words
from plasmawright.web.run_times import second

SAID_IN_LINES = frozenset({Step.LOAD, Step.SOFT_SPIN, Step.REBALANCE, Step.HARD_SPIN, Step.FILL})
"""Steps whose plan is more than one number."""
LATER, UNDER_REVIEW, REVIEWED = "entered later", "under review", "came late, looked at"


def record_steps(run: Run, kept: Sequence[RunEntry]) -> tuple[RecordStep, ...]:
    """Return every step in its order with what was entered at it; after the end only where something was."""
    start = start_of(opening(run))
    told = [one for one in kept if one.kind != Kind.AMENDED.value]
    steps = []
    for step in Step:
        happened = tuple(event_of(run, one, kept) for one in told if one.step == step.value)
        if step in ORDER or happened:
            planned = _planned(start, step) if step in ORDER else ()
            steps.append(RecordStep(title=TITLES[step], planned=planned, happened=happened))
    return tuple(steps)


def _planned(start: RunFacts, step: Step) -> tuple[SheetLine, ...]:
    """Return what the bench shows at a step when all goes as planned."""
    card = card_of(replace(start, step=step, counted=step is Step.DRAW))
    number = f"{card.number} {card.unit}".strip()
    lines = [SheetLine(words=card.do, predicted=False)]
    lines += [SheetLine(words=number, predicted=False)] if number else []
    told = card.lines if step in SAID_IN_LINES else ()
    lines += [SheetLine(words=line, predicted=False) for line in told]
    lines += [SheetLine(words=card.expect, predicted=True)] if card.expect else []
    return tuple(lines)


def event_of(run: Run, entry: RunEntry, kept: Sequence[RunEntry]) -> RecordEvent:
    """Return an entry as it now reads, with each earlier wording and who changed it."""
    wordings, why = _wordings(entry, kept)
    by = str(entry.written_by)
    if entry.carried_by_id != entry.written_by_id:
        by += f" (sent in by {entry.carried_by})"
    at = second(entry.true_at or entry.at, opened_at=run.opened_at)
    return RecordEvent(at=at, by=by, words=wordings[-1] + why, marks=_marks(run, entry, kept), was=tuple(wordings[:-1]))


def _wordings(entry: RunEntry, kept: Sequence[RunEntry]) -> tuple[list[str], str]:
    """Return each wording of an entry, the first one first, and why it was last changed."""
    kind, step = Kind(entry.kind), Step(entry.step)
    body: Mapping[str, Any] = entry.body
    wordings, why = [entry_words(kind, step, body)], ""
    for later in kept:
        if later.kind == Kind.AMENDED.value and later.body["position"] == entry.position:
            body = {**body, **later.body["body"]}
            wordings.append(entry_words(kind, step, body))
            why = f" ({later.body['words']}; {later.written_by})"
    return wordings, why


def _marks(run: Run, entry: RunEntry, kept: Sequence[RunEntry]) -> tuple[str, ...]:
    found = []
    if entry.later:
        found.append(f"{LATER}, at {second(entry.at, opened_at=run.opened_at)}")
    if entry.review:
        looked_at = any(one.kind == Kind.REVIEWED.value and one.body["position"] == entry.position for one in kept)
        found.append(REVIEWED if looked_at else UNDER_REVIEW)
    return tuple(found)
