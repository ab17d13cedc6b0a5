"""The steps of a run in their order, and which may follow which."""

from collections.abc import Mapping
from enum import StrEnum


class Step(StrEnum):
    """Where a run stands; the last three are ends."""

    IDENTIFY = "identify"
    DRAW = "draw"
    LABEL = "label"
    CLOTS = "clots"
    STAND = "stand"
    STOPPERS = "stoppers"
    LOAD = "load"
    SOFT_SPIN = "soft_spin"
    LOOK = "look"
    WITHDRAW = "withdraw"
    POOL = "pool"
    REBALANCE = "rebalance"
    HARD_SPIN = "hard_spin"
    TAKE_OFF = "take_off"
    REST = "rest"
    RESUSPEND = "resuspend"
    SWIRL = "swirl"
    SAMPLE = "sample"
    FILL = "fill"
    ACTIVATION = "activation"
    CHECK = "check"
    RELEASE = "release"
    RELEASED = "released"
    DISCARDED = "discarded"
    STOPPED = "stopped"


ENDS = frozenset({Step.RELEASED, Step.DISCARDED, Step.STOPPED})
ORDER = tuple(step for step in Step if step not in ENDS)
SPINS = frozenset({Step.SOFT_SPIN, Step.HARD_SPIN})
TIMED = SPINS | {Step.STAND, Step.REST}
"""Steps whose primary button is pressed when they begin and again when they end, or that end by a clock."""

TITLES: Mapping[Step, str] = {
    Step.IDENTIFY: "Identify",
    Step.DRAW: "Draw",
    Step.LABEL: "Label",
    Step.CLOTS: "Check for clots",
    Step.STAND: "Let stand",
    Step.STOPPERS: "Clean the stoppers",
    Step.LOAD: "Load and balance",
    Step.SOFT_SPIN: "Soft spin",
    Step.LOOK: "Look",
    Step.WITHDRAW: "Withdraw the plasma",
    Step.POOL: "Pool",
    Step.REBALANCE: "Balance anew",
    Step.HARD_SPIN: "Hard spin",
    Step.TAKE_OFF: "Take off the platelet-poor plasma",
    Step.REST: "Rest the pellet",
    Step.RESUSPEND: "Resuspend",
    Step.SWIRL: "Look for swirl and clumps",
    Step.SAMPLE: "Sample for counting",
    Step.FILL: "Fill the syringes",
    Step.ACTIVATION: "Activation",
    Step.CHECK: "Check",
    Step.RELEASE: "Release or discard",
    Step.RELEASED: "Released",
    Step.DISCARDED: "Discarded",
    Step.STOPPED: "Stopped",
}

BACK: Mapping[Step, frozenset[Step]] = {
    Step.SOFT_SPIN: frozenset({Step.LOAD}),
    Step.LOOK: frozenset({Step.LOAD, Step.SOFT_SPIN}),
    Step.WITHDRAW: frozenset({Step.LOAD, Step.SOFT_SPIN}),
    Step.HARD_SPIN: frozenset({Step.REBALANCE}),
    Step.TAKE_OFF: frozenset({Step.REBALANCE, Step.HARD_SPIN}),
    Step.REST: frozenset({Step.HARD_SPIN}),
    Step.RESUSPEND: frozenset({Step.HARD_SPIN, Step.REST}),
    Step.SWIRL: frozenset({Step.HARD_SPIN, Step.REST, Step.RESUSPEND}),
    Step.SAMPLE: frozenset({Step.RESUSPEND, Step.SWIRL}),
    Step.FILL: frozenset({Step.RESUSPEND, Step.SWIRL}),
    Step.ACTIVATION: frozenset({Step.FILL}),
    Step.CHECK: frozenset({Step.FILL, Step.RESUSPEND}),
    Step.RELEASE: frozenset({Step.FILL, Step.CHECK}),
    Step.LABEL: frozenset({Step.DRAW}),
    Step.CLOTS: frozenset({Step.DRAW}),
    Step.STAND: frozenset({Step.DRAW}),
    Step.STOPPERS: frozenset({Step.DRAW}),
    Step.LOAD: frozenset({Step.DRAW}),
}
"""Where a mishap may send a run back to; a step not named here goes only forward.

Nothing is drawn again once the rotor has turned: fresh blood and spun blood cannot be spun as one.
"""


def following(step: Step) -> Step:
    """Return the step after ``step`` when nothing differs; an end stays where it is."""
    if step in ENDS:
        return step
    if step is Step.RELEASE:
        return Step.RELEASED
    return ORDER[ORDER.index(step) + 1]


def _may_follow(step: Step) -> frozenset[Step]:
    if step is Step.STOPPED:
        return frozenset({Step.DISCARDED})  # what was stopped still has to be disposed of, and that is signed
    if step in ENDS:
        return frozenset()
    away = {Step.STOPPED} if step is not Step.RELEASE else {Step.STOPPED, Step.DISCARDED}
    if ORDER.index(step) >= ORDER.index(Step.DRAW):
        away = away | {Step.DISCARDED}
    return frozenset({following(step), *away, *BACK.get(step, ())})


MAY_FOLLOW: Mapping[Step, frozenset[Step]] = {step: _may_follow(step) for step in Step}
"""For each step the steps that may come next."""
