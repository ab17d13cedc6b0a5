"""Volumes of a run: what was measured, else what the plan expects."""

from plasmawright.bench.entries import Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import ORDER, Step


def measured_all(facts: RunFacts, what: Measure) -> tuple[float, ...]:
    """Return every reading of one quantity, of single tubes and of the whole run."""
    own = f"{what.value}."
    return tuple(float(value) for key, value in facts.measured.items() if key == what.value or key.startswith(own))


def measured_mean(facts: RunFacts, what: Measure) -> float | None:
    """Return the mean of the readings of one quantity, or nothing."""
    found = measured_all(facts, what)
    return sum(found) / len(found) if found else None


def expected_pooled_ml(facts: RunFacts) -> float:
    """Return the pooled plasma: as measured, else each tube's own, else what the plan expects of each."""
    pooled = facts.measured.get(Measure.POOLED_ML.value)
    if pooled is not None:
        return float(pooled)
    each_ml = float(facts.opening.plan["stop"]["expected_plasma_ml"]["p50"])
    pooled_tubes = [tube for tube in facts.usable if not tube.red or tube.red_fate in {"pooled", "respun"}]
    return sum(each_ml if tube.withdrawn_ml is None else tube.withdrawn_ml for tube in pooled_tubes)


def expected_in_hand_ml(facts: RunFacts) -> float:
    """Return the product in hand: as read, else what is left over the pellet, from filling on what sites get."""
    read = facts.measured.get(Measure.PRP_ML.value)
    if read is not None:
        return float(read)
    if facts.step in ORDER and ORDER.index(facts.step) < ORDER.index(Step.FILL):
        return float(facts.opening.plan["leave_ml"])
    return float(sum(site["volume_ml"] for site in facts.opening.plan["sites"] if site["product"] == "prp"))
