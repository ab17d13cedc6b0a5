"""What the one primary key does now."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from statistics import fmean
from typing import Any

from plasmawright.bench.entries import Kind, Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import Step


@dataclass(frozen=True, kw_only=True)
class Press:
    """One press of the primary key: the entry it makes, and the words on its button."""

    kind: Kind
    words: str
    body: Mapping[str, Any] = field(default_factory=dict)


def press_of(facts: RunFacts) -> Press | None:
    """Return what the primary key does; nothing where a signature is asked for or the run has ended."""
    if facts.ended or facts.step is Step.RELEASE:
        return None
    if facts.open_mishap is not None:
        return None
    special = PRESSES.get(facts.step)
    return special(facts) if special else Press(kind=Kind.DONE, words=WORDS[facts.step])


def next_tube(facts: RunFacts) -> int | None:
    """Return the number of the tube in hand: to be filled, or to be withdrawn from."""
    if facts.step is Step.DRAW:
        waiting = (t.number for t in facts.tubes if t.filled_at is None and not t.failed and not t.lost)
        return next(waiting, None)
    if facts.step is Step.WITHDRAW:
        current = facts.tube(facts.current) if facts.current is not None else None
        if current is not None and current.usable and current.withdrawn_at is None:
            return current.number
        return next((t.number for t in facts.usable if t.withdrawn_at is None), None)
    return None


def _draw(facts: RunFacts) -> Press:
    if facts.opening.policy.count_tube_ml > 0 and not facts.counted:
        return Press(kind=Kind.TUBE, words="Count tube filled", body={"tube": 1, "what": "counted"})
    number = next_tube(facts)
    if number is None:
        return Press(kind=Kind.DONE, words="Drawn")
    return Press(kind=Kind.TUBE, words=f"Tube {number} filled and inverted", body={"tube": number, "what": "filled"})


def _withdraw(facts: RunFacts) -> Press:
    number = next_tube(facts)
    if number is None:
        return Press(kind=Kind.DONE, words="All plasma is off")
    left = [tube for tube in facts.usable if tube.withdrawn_at is None]
    if len(left) == 1:
        return Press(kind=Kind.DONE, words=f"Tube {number} is off: all done")
    return Press(kind=Kind.TUBE, words=f"Tube {number} is off", body={"tube": number, "what": "withdrawn"})


def _spin(facts: RunFacts) -> Press:
    if facts.began_at is None:
        return Press(kind=Kind.BEGAN, words="Spin started")
    return Press(kind=Kind.DONE, words="Stands still")


def minutes_to_add(facts: RunFacts) -> float:
    """Return the minutes that a plan of looking half-way asks for at the height that was read; 0 where it asks none."""
    look = facts.opening.plan.get("look")
    read_mm = [value for key, value in facts.measured.items() if key.partition(".")[0] == Measure.INTERFACE_MM]
    if look is None or not read_mm or len(facts.spun) != 1:
        return 0.0
    seen_mm = fmean(read_mm)
    sights = look["then"]
    fits = (one for one in sights if one["interface_up_to_mm"] is None or seen_mm <= one["interface_up_to_mm"])
    return float(next(fits)["add_minutes"])


def _look(facts: RunFacts) -> Press:
    minutes = minutes_to_add(facts)
    if minutes > 0:
        return Press(kind=Kind.DONE, words=f"Spin {minutes:g} min more", body={"more_minutes": minutes})
    seen = (facts.measured.get(Measure.INTERFACE_LOOK.value), facts.measured.get(Measure.PLASMA_LOOK.value))
    usual = seen[0] in {None, "sharp"} and seen[1] in {None, "clear"}
    return _seen(Step.LOOK) if usual else Press(kind=Kind.DONE, words="Looked at: go on")


def _seen(step: Step) -> Press:
    """Return the press that says the usual was seen; the words go with it, since nothing else tells them."""
    return Press(kind=Kind.DONE, words=WORDS[step], body={"words": WORDS[step]})


def _swirl(facts: RunFacts) -> Press:
    seen = facts.measured.get(Measure.SWIRL_LOOK.value)
    return _seen(Step.SWIRL) if seen in {None, "swirl"} else Press(kind=Kind.DONE, words="Looked at: go on")


def _activation(facts: RunFacts) -> Press:
    activated = facts.measured.get(Measure.ACTIVATED.value) == "yes"
    return Press(kind=Kind.DONE, words="Activated: go on") if activated else _seen(Step.ACTIVATION)


def _check(facts: RunFacts) -> Press:
    read = {"label_read": True, "clock_read": True}
    in_hand = facts.measured.get(Measure.PRP_ML.value)
    body = read if in_hand is None else {**read, "prp_ml": in_hand}
    return Press(kind=Kind.DONE, words=WORDS[Step.CHECK], body=body)


PRESSES: Mapping[Step, Callable[[RunFacts], Press]] = {
    Step.DRAW: _draw,
    Step.WITHDRAW: _withdraw,
    Step.SOFT_SPIN: _spin,
    Step.HARD_SPIN: _spin,
    Step.LOOK: _look,
    Step.SWIRL: _swirl,
    Step.ACTIVATION: _activation,
    Step.CHECK: _check,
}
WORDS: Mapping[Step, str] = {
    Step.IDENTIFY: "Both identifiers agree",
    Step.LABEL: "All labelled at the chair",
    Step.CLOTS: "No clots",
    Step.STAND: "Stood",
    Step.STOPPERS: "Cleaned and dry",
    Step.LOAD: "Loaded and balanced",
    Step.LOOK: "Sharp and clear",
    Step.POOL: "Pooled",
    Step.REBALANCE: "Balanced",
    Step.TAKE_OFF: "Plasma is off and kept",
    Step.REST: "Rested",
    Step.RESUSPEND: "Suspended",
    Step.SWIRL: "Swirl, no clumps",
    Step.SAMPLE: "Sample taken",
    Step.FILL: "Filled and labelled",
    Step.ACTIVATION: "Not activated",
    Step.CHECK: "Label, volume and clock read back",
}
"""The words on the primary button of each step that ends by one press."""
