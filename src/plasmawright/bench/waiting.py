"""What a run waits for now, as the end of "waiting for …": read on a wall, from across a room."""

from collections.abc import Callable, Mapping

from plasmawright.bench.facts import RunFacts
from plasmawright.bench.mishaps import MISHAPS
from plasmawright.bench.press import next_tube
from plasmawright.bench.steps import Step


def waiting_for(facts: RunFacts) -> str:
    """Return what the next move of a run is; empty once it has ended and nothing of it is left."""
    if facts.ended:
        blood_left = facts.step is Step.STOPPED and facts.drawn_from is not None and not facts.opening.practice
        return "its disposal to be written down" if blood_left else ""
    if facts.all_void:
        return "somebody to stop it: all of it is void"
    if facts.foreign_code is not None:
        return "another run's vessel to be put away"
    if facts.open_mishap is not None:
        return f"a choice: {MISHAPS[facts.open_mishap.mishap].title.lower()}"
    special = SPECIAL.get(facts.step)
    return special(facts) if special else WAITS[facts.step]


def _draw(facts: RunFacts) -> str:
    number = next_tube(facts)
    return "the draw to be finished" if number is None else f"tube {number} of {len(facts.tubes)} to be filled"


def _spin(facts: RunFacts) -> str:
    return "the spin to be started" if facts.began_at is None else "the rotor"


def _withdraw(facts: RunFacts) -> str:
    off = sum(tube.withdrawn_at is not None for tube in facts.usable)
    return f"plasma: {off} of {len(facts.usable)} tubes are off"


def _release(facts: RunFacts) -> str:
    return "the second read-back" if facts.opening.solo else "a second person to sign"


SPECIAL: Mapping[Step, Callable[[RunFacts], str]] = {
    Step.DRAW: _draw,
    Step.SOFT_SPIN: _spin,
    Step.HARD_SPIN: _spin,
    Step.WITHDRAW: _withdraw,
    Step.RELEASE: _release,
}
WAITS: Mapping[Step, str] = {
    Step.IDENTIFY: "two identifiers",
    Step.LABEL: "labels at the chair",
    Step.CLOTS: "a look for clots",
    Step.STAND: "the tubes to stand",
    Step.STOPPERS: "clean stoppers",
    Step.LOAD: "a balanced rotor",
    Step.LOOK: "a look at the tubes",
    Step.POOL: "the pool",
    Step.REBALANCE: "a balanced rotor",
    Step.TAKE_OFF: "the plasma to come off",
    Step.REST: "the pellet to rest",
    Step.RESUSPEND: "the pellet to be suspended",
    Step.SWIRL: "a look for swirl and clumps",
    Step.SAMPLE: "a sample for counting",
    Step.FILL: "the syringes to be filled",
    Step.ACTIVATION: "yes or no to activation",
    Step.CHECK: "label, volume and clock to be read back",
}
"""What each step waits for that has one thing to wait for."""
