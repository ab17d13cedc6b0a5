"""The steps of a run beside each other: which are done and when, which is next."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from plasmawright.bench.entries import Written
from plasmawright.bench.facts import Opening, start_of
from plasmawright.bench.steps import ENDS, ORDER, TITLES, Step
from plasmawright.bench.telling import amended_bodies, told


@dataclass(frozen=True, kw_only=True)
class StepLine:
    """One step in the list: ``state`` is done, now or later."""

    title: str
    state: str
    done_at: datetime | None


def step_lines(opening: Opening, entries: Sequence[Written]) -> tuple[StepLine, ...]:
    """Return every step; one that the run was sent back before is not done any more."""
    facts, bodies = start_of(opening), amended_bodies(entries)
    done: dict[Step, datetime] = {}
    for entry in entries:
        before = facts.step
        facts = told(facts, replace(entry, body=bodies[entry.position]))
        if facts.step is before:
            continue
        if facts.step not in ENDS and ORDER.index(facts.step) < ORDER.index(before):
            done = {step: at for step, at in done.items() if ORDER.index(step) < ORDER.index(facts.step)}
        elif before not in ENDS:
            done[before] = entry.at
    return tuple(
        StepLine(
            title=TITLES[step],
            state="now" if step is facts.step else "done" if step in done else "later",
            done_at=done.get(step),
        )
        for step in ORDER
    )
