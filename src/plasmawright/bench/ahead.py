"""What the primary key does next within a step, for a page that nobody answers."""

from dataclasses import dataclass
from datetime import datetime

from plasmawright.bench.clocks import Clock, clocks_of
from plasmawright.bench.entries import Kind, Written
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.press import Press, press_of
from plasmawright.bench.telling import told

PRESSES_MAX = 100


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """One press, and the clock that rings while it is waited for."""

    press: Press
    clock: Clock | None


def presses_ahead(facts: RunFacts, at: datetime) -> tuple[Ahead, ...]:
    """Return the presses that end the step of ``facts``, were nothing to differ, each told ``at``.

    They go no further than the step: whether the next may begin is not for a page to say.
    """
    step, found = facts.step, list[Ahead]()
    while facts.step is step and len(found) < PRESSES_MAX:
        press = press_of(facts)
        if press is None:
            break
        clock = next((clock for clock in clocks_of(facts) if clock.rings), None)
        found.append(Ahead(press=press, clock=clock))
        if press.kind is Kind.DONE:
            break
        entry = Written(position=facts.position + 1, kind=press.kind, step=step, body=press.body, at=at, by="")
        facts = told(facts, entry)
    return tuple(found)
