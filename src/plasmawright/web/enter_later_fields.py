"""What the form asks of each step that was written on paper: its times, and what was counted, measured or seen."""

from collections.abc import Mapping
from dataclasses import dataclass

from plasmawright.bench.entries import LOOKS, Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import ENDS, ORDER, TITLES, Step
from plasmawright.errors import Refusal

DAY = "day"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One thing asked of a step; ``kind`` is time, number, tubes, look, tick or words."""

    key: str
    label: str
    kind: str
    unit: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One entry of the form, with what was typed and why it was refused."""

    name: str
    asked: Asked
    value: str
    why: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class StepShown:
    """One step with its entries."""

    step: Step
    title: str
    entries: tuple[Shown, ...]


AT, FROM, TO = "at", "from", "to"
TIME = Asked(key=AT, label="At", kind="time")
WORDS = Asked(key="words", label="What else is written", kind="words")


def _times(first: str, last: str) -> tuple[Asked, ...]:
    return (Asked(key=FROM, label=first, kind="time"), Asked(key=TO, label=last, kind="time"))


def _number(what: Measure, label: str, unit: str) -> Asked:
    return Asked(key=what.value, label=label, kind="number", unit=unit)


def _look(what: Measure, label: str) -> Asked:
    return Asked(key=what.value, label=label, kind="look", choices=LOOKS[what])


ASKED: Mapping[Step, tuple[Asked, ...]] = {
    Step.DRAW: (
        *_times("First tube full at", "Last tube full at"),
        Asked(key="tubes", label="Tubes filled", kind="number"),
    ),
    Step.CLOTS: (TIME, Asked(key="tubes", label="Clot in tubes", kind="tubes")),
    Step.SOFT_SPIN: _times("Started at", "Stood still at"),
    Step.LOOK: (
        Asked(key=AT, label="Looked at, first cap off at", kind="time"),
        _number(Measure.INTERFACE_MM, "Red seen at", "mm"),
        _look(Measure.INTERFACE_LOOK, "Edge"),
        _look(Measure.PLASMA_LOOK, "Plasma"),
    ),
    Step.WITHDRAW: (
        Asked(key=AT, label="Last plasma off at", kind="time"),
        Asked(key="tubes", label="Red seen in tubes", kind="tubes"),
    ),
    Step.POOL: (TIME, _number(Measure.POOLED_ML, "Pooled", "mL")),
    Step.HARD_SPIN: _times("Started at", "Stood still at"),
    Step.TAKE_OFF: (TIME, _number(Measure.PPP_ML, "Platelet-poor plasma", "mL"), _look(Measure.PPP_LOOK, "Plasma")),
    Step.RESUSPEND: (TIME, _number(Measure.PRP_ML, "In hand", "mL")),
    Step.SWIRL: (TIME, _look(Measure.SWIRL_LOOK, "Against the light")),
    Step.FILL: (TIME, _number(Measure.PRP_ML, "In the PRP syringes", "mL")),
    Step.ACTIVATION: (TIME, _look(Measure.ACTIVATED, "Activated")),
    Step.CHECK: (
        TIME,
        Asked(key="read", label="Label, volume and clock read back, and signed for on paper", kind="tick"),
    ),
}
"""What a step asks that asks for more than one time."""


def asked_of(step: Step) -> tuple[Asked, ...]:
    """Return everything the form asks of a step."""
    return (*ASKED.get(step, (TIME,)), WORDS)


def name_of(step: Step, asked: Asked | str) -> str:
    """Return the name of an entry in the form."""
    return f"{step.value}.{asked if isinstance(asked, str) else asked.key}"


def steps_left(facts: RunFacts) -> tuple[Step, ...]:
    """Return the steps that can be entered from where a run stands; its release is signed on its own page."""
    if facts.step in ENDS:
        return ()
    return ORDER[ORDER.index(facts.step) : ORDER.index(Step.RELEASE)]


def steps_shown(facts: RunFacts, typed: Mapping[str, str], refusals: tuple[Refusal, ...]) -> tuple[StepShown, ...]:
    """Return the form, each entry as it was typed and beside the sentences that refuse it."""
    why: dict[str, tuple[str, ...]] = {}
    for one in refusals:
        why[one.field] = (*why.get(one.field, ()), str(one))
    return tuple(
        StepShown(
            step=step,
            title=TITLES[step],
            entries=tuple(
                Shown(
                    name=name_of(step, asked),
                    asked=asked,
                    value=typed.get(name_of(step, asked), ""),
                    why=why.get(name_of(step, asked), ()),
                )
                for asked in asked_of(step)
                if not _begun(facts, step, asked)
            ),
        )
        for step in steps_left(facts)
    )


def _begun(facts: RunFacts, step: Step, asked: Asked) -> bool:
    """Return whether the run knows already when the step in hand began."""
    if step is not facts.step or asked.key != FROM:
        return False
    return facts.began_at is not None or any(tube.filled_at is not None for tube in facts.tubes)
