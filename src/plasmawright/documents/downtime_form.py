"""The blank record of a run: what is written by hand while the machine is down, step by step."""

from collections.abc import Mapping
from dataclasses import dataclass

from plasmawright.bench.steps import ORDER, TITLES, Step

SPACES: Mapping[Step, tuple[str, ...]] = {
    Step.IDENTIFY: ("first identifier said", "second identifier said", "at"),
    Step.DRAW: ("first tube full at", "last tube full at", "tubes filled", "count tube, mL"),
    Step.LABEL: ("tubes labelled", "labelled at"),
    Step.CLOTS: ("clots: no, or which tube", "at"),
    Step.STAND: ("from", "to"),
    Step.STOPPERS: ("cleaned at",),
    Step.LOAD: ("places", "blanks", "loaded at"),
    Step.SOFT_SPIN: ("started at", "stood still at", "speed, rpm", "minutes"),
    Step.LOOK: ("red seen at, mm", "edge: sharp or hazy", "plasma: clear, pink or milky", "at"),
    Step.WITHDRAW: ("first cap off at", "plasma, mL", "red seen in tube", "all off at"),
    Step.POOL: ("pooled, mL", "left out", "at"),
    Step.REBALANCE: ("places", "blanks", "loaded at"),
    Step.HARD_SPIN: ("started at", "stood still at", "speed, rpm", "minutes"),
    Step.TAKE_OFF: ("PPP, mL", "left on the pellet, mL", "at"),
    Step.REST: ("from", "to"),
    Step.RESUSPEND: ("suspended at", "volume, mL"),
    Step.SWIRL: ("swirl: yes or no", "clumps: yes or no", "at"),
    Step.SAMPLE: ("sample, mL", "sent at"),
    Step.FILL: ("syringes", "volumes, mL", "filled at"),
    Step.ACTIVATION: ("no, or with what", "at"),
    Step.CHECK: ("label, volume and clock read back at",),
    Step.RELEASE: ("released at", "or discarded at, how"),
}
"""What each step asks for; a time is a clock's time, written when it happens."""

SIGNATURES = (
    "prepared by",
    "second person: identity, label, volume and clock read back",
    "released or discarded by",
)
MISHAP_LINES = 4
LOT_LINES = 8


@dataclass(frozen=True, kw_only=True)
class FormStep:
    """One step and what is to be written."""

    title: str
    spaces: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class BlankForm:
    """The form; lots already known are printed, the rest is left open."""

    steps: tuple[FormStep, ...]
    lots: tuple[str, ...]
    signatures: tuple[str, ...]
    lot_lines: int
    mishap_lines: int


def blank_form(lots: tuple[str, ...] = ()) -> BlankForm:
    """Return the form for one run; ``lots`` are those to open first, each as it is read off its box."""
    return BlankForm(
        steps=tuple(FormStep(title=TITLES[step], spaces=SPACES[step]) for step in ORDER),
        lots=lots,
        signatures=SIGNATURES,
        lot_lines=max(LOT_LINES, len(lots) + 2),
        mishap_lines=MISHAP_LINES,
    )
