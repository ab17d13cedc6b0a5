"""What goes wrong at a bench, and at most three ways on from each."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from plasmawright.bench.steps import MAY_FOLLOW, ORDER, Step


class Effect(StrEnum):
    """What a choice does to the run."""

    GO_ON = "go_on"
    GO_ON_WITHOUT = "go_on_without"
    DRAW_AGAIN = "draw_again"
    SPIN_MORE = "spin_more"
    MIX_AND_SPIN = "mix_and_spin"
    HARD_AGAIN = "hard_again"
    SUSPEND_AGAIN = "suspend_again"
    REST_AGAIN = "rest_again"
    FILL_AGAIN = "fill_again"
    LEAVE_RED_OUT = "leave_red_out"
    POOL_RED = "pool_red"
    RESPIN_RED = "respin_red"
    STOP = "stop"
    DISCARD = "discard"


BACK_TO: Mapping[Effect, Step] = {
    Effect.DRAW_AGAIN: Step.DRAW,
    Effect.SPIN_MORE: Step.SOFT_SPIN,
    Effect.MIX_AND_SPIN: Step.SOFT_SPIN,
    Effect.HARD_AGAIN: Step.HARD_SPIN,
    Effect.SUSPEND_AGAIN: Step.RESUSPEND,
    Effect.REST_AGAIN: Step.REST,
    Effect.FILL_AGAIN: Step.FILL,
    Effect.STOP: Step.STOPPED,
    Effect.DISCARD: Step.DISCARDED,
}
"""The step each effect leads to; those not named stay at the step."""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One way on, in the words of its button."""

    key: str
    words: str
    effect: Effect


@dataclass(frozen=True, kw_only=True)
class Mishap:
    """One thing that goes wrong.

    Parameters
    ----------
    steps
        Where it is offered first; it can be told anywhere.
    asks
        What must be told with it: ``tubes``, ``ml``, ``spin``.
    loses_tubes
        The tubes named are out of the run at once.
    voids
        Identity is in doubt: the tubes named are void, and nothing brings them back.
    withdraws_dose
        The predicted dose no longer stands.
    look
        What to look at before choosing.
    """

    name: str
    title: str
    steps: frozenset[Step]
    look: str
    choices: tuple[Choice, ...]
    asks: tuple[str, ...] = ()
    loses_tubes: bool = False
    voids: bool = False
    withdraws_dose: bool = False
    breaks_spin: bool = False


def _between(first: Step, last: Step) -> frozenset[Step]:
    return frozenset(ORDER[ORDER.index(first) : ORDER.index(last) + 1])


GO_ON = Choice(key="go_on", words="Go on", effect=Effect.GO_ON)
GO_ON_WITHOUT = Choice(key="go_on_without", words="Go on without these tubes", effect=Effect.GO_ON_WITHOUT)
DRAW_AGAIN = Choice(key="draw_again", words="Draw again", effect=Effect.DRAW_AGAIN)
SPIN_MORE = Choice(key="spin_more", words="Spin on", effect=Effect.SPIN_MORE)
MIX_AND_SPIN = Choice(key="mix_and_spin", words="Mix gently and spin anew", effect=Effect.MIX_AND_SPIN)
HARD_AGAIN = Choice(key="hard_again", words="Hard spin again", effect=Effect.HARD_AGAIN)
STOP = Choice(key="stop", words="Stop this run and discard", effect=Effect.STOP)

DRAWING = _between(Step.DRAW, Step.LABEL)
TUBES_STAND = _between(Step.DRAW, Step.WITHDRAW)
AFTER_SOFT = _between(Step.LOOK, Step.WITHDRAW)
PLASMA = _between(Step.POOL, Step.REST)
SUSPENDED = _between(Step.RESUSPEND, Step.RELEASE)
ALL = _between(Step.IDENTIFY, Step.RELEASE)

MISHAPS: Mapping[str, Mishap] = {
    one.name: one
    for one in (
        Mishap(
            name="clot",
            title="Clot in a tube",
            steps=TUBES_STAND,
            look="Tilt each tube: a clot clings or slides as one. A clotted tube is out; look at the rest twice.",
            asks=("tubes",),
            loses_tubes=True,
            choices=(GO_ON_WITHOUT, DRAW_AGAIN, STOP),
        ),
        Mishap(
            name="broken_tube",
            title="Broken tube",
            steps=_between(Step.DRAW, Step.TAKE_OFF),
            look="Stop the rotor first. Treat the spill by your clinic's rule; look at the tubes beside it for cracks.",
            asks=("tubes",),
            loses_tubes=True,
            breaks_spin=True,
            choices=(GO_ON_WITHOUT, DRAW_AGAIN, STOP),
        ),
        Mishap(
            name="imbalance",
            title="Imbalance trip",
            steps=frozenset({Step.SOFT_SPIN, Step.HARD_SPIN}),
            look="Let it stand still. Weigh opposite places, look that every bucket hangs, and load again.",
            asks=("minutes",),
            breaks_spin=True,
            choices=(
                Choice(key="spin_more", words="Balance and spin the rest", effect=Effect.SPIN_MORE),
                MIX_AND_SPIN,
                STOP,
            ),
        ),
        Mishap(
            name="power_cut",
            title="Power cut",
            steps=frozenset({Step.SOFT_SPIN, Step.HARD_SPIN}),
            look="Leave the lid closed until the rotor stands. Note how long it ran.",
            asks=("minutes",),
            breaks_spin=True,
            choices=(
                Choice(key="spin_more", words="Spin the rest", effect=Effect.SPIN_MORE),
                MIX_AND_SPIN,
                STOP,
            ),
        ),
        Mishap(
            name="wrong_spin",
            title="Wrong spin or rotor",
            steps=_between(Step.SOFT_SPIN, Step.TAKE_OFF),
            look="Read what the centrifuge really did: speed, minutes, rotor. What was done is what counts from here.",
            asks=("spin",),
            choices=(GO_ON, SPIN_MORE, MIX_AND_SPIN),
        ),
        Mishap(
            name="red_drawn_up",
            title="Red drawn up",
            steps=frozenset({Step.WITHDRAW}),
            look="Stop, lift, never go back in. Keep this tube's plasma apart.",
            asks=("tubes",),
            choices=(
                Choice(key="left_out", words="Leave it out", effect=Effect.LEAVE_RED_OUT),
                Choice(key="respun", words="Spin it again", effect=Effect.RESPIN_RED),
                Choice(key="pooled", words="Pool it with the rest", effect=Effect.POOL_RED),
            ),
        ),
        Mishap(
            name="haemolysis",
            title="Haemolysis",
            steps=_between(Step.LOOK, Step.POOL),
            look="Plasma pink or red all through, with no thread of cells. Hold it beside white paper.",
            asks=("tubes",),
            choices=(
                Choice(key="go_on_without", words="Go on without these tubes", effect=Effect.GO_ON_WITHOUT),
                Choice(key="go_on", words="Go on; the clinician looks at release", effect=Effect.GO_ON),
                STOP,
            ),
        ),
        Mishap(
            name="milky_plasma",
            title="Milky plasma",
            steps=_between(Step.LOOK, Step.TAKE_OFF),
            look="Fat after a meal clouds plasma; a counter may then count it. The model does not know of it.",
            choices=(GO_ON, STOP),
        ),
        Mishap(
            name="hazy_interface",
            title="Hazy interface",
            steps=AFTER_SOFT,
            look="No clear edge between plasma and red. Rotors that braked or tubes that were jolted do this.",
            choices=(GO_ON, SPIN_MORE, MIX_AND_SPIN),
        ),
        Mishap(
            name="pellet_lost",
            title="Pellet lost or stirred up",
            steps=_between(Step.HARD_SPIN, Step.REST),
            look="Cloudy plasma over the pellet, or the pellet slid. Take nothing more off.",
            choices=(
                HARD_AGAIN,
                Choice(key="go_on", words="Go on with what is there", effect=Effect.GO_ON),
                STOP,
            ),
            withdraws_dose=True,
        ),
        Mishap(
            name="clumps",
            title="Clumps that will not go",
            steps=_between(Step.RESUSPEND, Step.FILL),
            look="Hold it against the light. A swirl is a good sign, specks are not. The dose is unknown from here.",
            choices=(
                Choice(key="rest_again", words="Rest, then suspend again", effect=Effect.REST_AGAIN),
                Choice(key="go_on", words="Go on, dose unknown; the clinician decides", effect=Effect.GO_ON),
                STOP,
            ),
            withdraws_dose=True,
        ),
        Mishap(
            name="short_draw",
            title="Short draw",
            steps=DRAWING,
            look="Fewer tubes than planned. Tap each tube that was not filled: it is out.",
            asks=("tubes",),
            loses_tubes=True,
            choices=(GO_ON_WITHOUT, DRAW_AGAIN, STOP),
        ),
        Mishap(
            name="underfilled",
            title="Underfilled tube",
            steps=DRAWING,
            look="Too little blood on the same anticoagulant: the share of anticoagulant rises.",
            asks=("tubes", "ml"),
            choices=(
                Choice(key="go_on", words="Go on with it", effect=Effect.GO_ON),
                GO_ON_WITHOUT,
                DRAW_AGAIN,
            ),
        ),
        Mishap(
            name="faint",
            title="Patient faints",
            steps=ALL,
            look="Needle out, patient flat, legs up, help called. The tubes can wait; their clock runs.",
            choices=(
                Choice(key="go_on", words="Patient well: go on", effect=Effect.GO_ON),
                STOP,
            ),
        ),
        Mishap(
            name="syringe_dropped",
            title="Syringe dropped",
            steps=_between(Step.FILL, Step.RELEASE),
            look="What touched the floor is not used. What is left in hand?",
            asks=("ml",),
            choices=(
                Choice(key="fill_again", words="Fill another from what is left", effect=Effect.FILL_AGAIN),
                STOP,
            ),
        ),
        Mishap(
            name="patient_late",
            title="Patient late",
            steps=_between(Step.DRAW, Step.RELEASE),
            look="The hold clock runs on. Will the patient be back before it ends?",
            choices=(
                Choice(key="go_on", words="Wait and go on", effect=Effect.GO_ON),
                STOP,
            ),
        ),
        Mishap(
            name="patient_gone",
            title="Patient gone",
            steps=_between(Step.DRAW, Step.RELEASE),
            look="Nothing is kept for another day or given to another person.",
            choices=(STOP,),
        ),
        Mishap(
            name="tubes_mixed",
            title="Tubes possibly mixed up",
            steps=_between(Step.DRAW, Step.RELEASE),
            look="Doubt is enough. Every tube in doubt is void; nobody can lift that.",
            asks=("tubes",),
            loses_tubes=True,
            voids=True,
            choices=(GO_ON_WITHOUT, DRAW_AGAIN, STOP),
        ),
    )
}
"""Every mishap by its name."""


def is_pooled(step: Step) -> bool:
    """Return whether at ``step`` the plasma has left its tubes."""
    return step in ORDER and ORDER.index(step) > ORDER.index(Step.POOL)


def is_together(step: Step) -> bool:
    """Return whether at ``step`` plasma of one tube may already be with another's."""
    return step is Step.POOL or is_pooled(step)


def target_of(effect: Effect, step: Step) -> Step:
    """Return the step that a choice leads to from ``step``: more spinning is of the hard spin once plasma is pooled."""
    if effect in {Effect.SPIN_MORE, Effect.MIX_AND_SPIN} and is_pooled(step):
        return Step.HARD_SPIN
    return BACK_TO.get(effect, step)


def choices_at(mishap: Mishap, step: Step) -> tuple[Choice, ...]:
    """Return the ways on that are left at ``step``; when none of its own is, going on or stopping.

    Doubt of identity once plasma is together leaves only stopping: there is no rest to go on with.
    """
    if mishap.voids and is_together(step):
        return (STOP,)

    def is_left(choice: Choice) -> bool:
        target = target_of(choice.effect, step)
        mixes_plasma = choice.effect is Effect.MIX_AND_SPIN and is_pooled(step)
        unbalanced = step is Step.REBALANCE and target is Step.HARD_SPIN
        return (target is step or target in MAY_FOLLOW[step]) and not mixes_plasma and not unbalanced

    return tuple(choice for choice in mishap.choices if is_left(choice)) or (GO_ON, STOP)


def choice_of(mishap: str, key: str) -> Choice | None:
    """Return one choice of one mishap, or nothing."""
    known = MISHAPS.get(mishap)
    offered = (*known.choices, GO_ON, STOP) if known else ()
    return next((one for one in offered if one.key == key), None)
