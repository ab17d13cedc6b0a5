"""Everything that stands between a run and a step; empty means go."""

from dataclasses import dataclass
from datetime import datetime

from plasmawright.bench.clocks import clocks_of, hold_clock
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import MAY_FOLLOW, ORDER, TITLES, Step


@dataclass(frozen=True, kw_only=True)
class Blocker:
    """One thing that stands in the way, and what lifts it."""

    reason: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.reason} {self.remedy}"


def blockers(facts: RunFacts, target: Step, at: datetime) -> tuple[Blocker, ...]:
    """Return everything that stands between ``facts`` and ``target`` at the time ``at``."""
    if target not in MAY_FOLLOW[facts.step]:
        reason = f"A run at {TITLES[facts.step].lower()} cannot go to {TITLES[target].lower()}."
        return (Blocker(reason=reason, remedy="Take the steps in order."),)
    if target in {Step.DISCARDED, Step.STOPPED}:
        return ()
    found = [*_of_identity(facts)]
    if ORDER.index(facts.step) >= ORDER.index(Step.DRAW) and facts.step is not Step.DRAW and not facts.usable:
        found.append(Blocker(reason="No tube is left that may be used.", remedy="Draw again, or stop this run."))
    if target is Step.RELEASED:
        found += _of_release(facts, at)
    return tuple(found)


def _of_identity(facts: RunFacts) -> list[Blocker]:
    found = []
    if facts.all_void:
        found.append(
            Blocker(
                reason="Whose blood this is was in doubt after it was pooled: all of it is void.",
                remedy="Stop this run and discard. Nobody can lift this.",
            )
        )
    if facts.foreign_code is not None:
        found.append(
            Blocker(
                reason="A label of another run was scanned.",
                remedy="Put that vessel away and scan one of this run.",
            )
        )
    if facts.scanned_out is not None:
        found.append(
            Blocker(
                reason=f"Tube {facts.scanned_out} is out of this run, and its label was scanned.",
                remedy="Put that tube away and scan one that is in use.",
            )
        )
    if any(waiting.mishap == "tubes_mixed" for waiting in facts.mishaps_open):
        found.append(
            Blocker(reason="Tubes may have been mixed up.", remedy="Choose how to go on with the rest, or stop.")
        )
    return found


def _of_release(facts: RunFacts, at: datetime) -> list[Blocker]:
    found = []
    if facts.checked_at is None:
        found.append(Blocker(reason="Nobody has checked this run.", remedy="Read back label, volume and clock."))
    elif False in (facts.checked.get("label_read"), facts.checked.get("clock_read")):
        reason = "At the check label and clock were not both read back."
        found.append(Blocker(reason=reason, remedy="Read them back, and amend the check."))
    if facts.to_review:
        number = len(facts.to_review)
        what = "entry that came late waits" if number == 1 else "entries that came late wait"
        found.append(Blocker(reason=f"{number} {what} for review.", remedy="Look at each and note it."))
    if facts.open_mishap is not None:
        found.append(Blocker(reason="A mishap waits for its choice.", remedy="Choose how to go on."))
    hold = hold_clock(facts)
    if hold is None:
        found.append(Blocker(reason="No draw is on record.", remedy="Enter when the first tube was filled."))
    elif hold.is_over(at) and "hold" not in facts.overridden:
        hours = facts.opening.policy.hold_h
        found.append(
            Blocker(
                reason=f"The hold limit of {hours:g} h since the draw has passed.",
                remedy="Discard, or let a clinician go past it with a reason.",
            )
        )
    pause = next((clock for clock in clocks_of(facts) if clock.name == "pause"), None)
    if pause is not None and not pause.is_over(at):
        found.append(
            Blocker(
                reason=f"The pause before the second read-back lasts {facts.opening.policy.solo_pause_s:g} s.",
                remedy=f"Wait {pause.left_s(at):.0f} s more.",
            )
        )
    return found
