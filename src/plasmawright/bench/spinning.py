"""What a spin was, when it ends as dialled or is broken off, and how the rest of it is begun."""

from dataclasses import replace
from datetime import datetime

from plasmawright.bench.facts import RunFacts, Spun, planned_minutes, planned_rpm
from plasmawright.bench.steps import SPINS, Step


def turns(facts: RunFacts) -> bool:
    """Return whether the rotor turns."""
    return facts.step in SPINS and facts.began_at is not None


def spin_ended(facts: RunFacts, at: datetime, *, whole: bool, minutes: float | None = None) -> RunFacts:
    """Return the facts once a spin has ended; ``minutes`` are those it really ran, where somebody read them."""
    asked = planned_minutes(facts)
    if minutes is None and not whole and facts.began_at is not None:
        ran_min = (at - facts.began_at).total_seconds() / 60 - facts.opening.up_s / 60
        minutes = min(asked, max(0.0, ran_min))
    spun = Spun(
        step=facts.step,
        rpm=planned_rpm(facts),
        minutes=asked if minutes is None else minutes,
        ended_at=at,
        whole=whole,
    )
    return replace(facts, spun=(*facts.spun, spun), began_at=None, extra_minutes=None, extra_rpm=None)


def loaded_anew(facts: RunFacts, at: datetime) -> RunFacts:
    """Send a spin that lost a tube back to loading, with the minutes it still lacks: the rotor no longer balances."""
    before = Step.LOAD if facts.step is Step.SOFT_SPIN else Step.REBALANCE
    lacking_min, rpm = planned_minutes(facts), planned_rpm(facts)
    if facts.spun and facts.spun[-1].step is facts.step and not facts.spun[-1].whole:
        lacking_min = max(0.0, lacking_min - facts.spun[-1].minutes)
    return replace(facts.at_step(before, at), extra_minutes=lacking_min, extra_rpm=rpm)
