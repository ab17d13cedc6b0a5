"""What can be tapped at the bench: each button holds the whole entry it makes."""

import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from plasmawright.bench.blockers import Blocker, blockers
from plasmawright.bench.entries import LOOKS, Kind, Measure, Written
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.press import Press, next_tube
from plasmawright.bench.steps import Step
from plasmawright.bench.telling import told
from plasmawright.web.bench_clocks import Ticking

KEY_BYTES = 16
Body = Mapping[str, Any]
"""What an entry holds. Any: numbers, words and yes or no."""


@dataclass(frozen=True, kw_only=True)
class Button:
    """One button: ``entry`` is the entry as JSON; ``key`` lets it be kept once however often it arrives.

    ``pressed`` says that this is what stands already, where a button is one of several answers.
    """

    words: str
    entry: str
    key: str
    pressed: bool = False
    quiet: str = ""


@dataclass(frozen=True, kw_only=True)
class Primary:
    """The one button of a step, and what stands in its way."""

    button: Button
    blocked: tuple[Blocker, ...]


@dataclass(frozen=True, kw_only=True)
class Sights:
    """What is seen rather than measured: one button for each answer, the usual one first."""

    title: str
    buttons: tuple[Button, ...]
    hint: str = ""
    mishap: str = ""


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One number that can be entered; ``tubes`` are those it may be of, empty where it is of the whole run."""

    name: str
    what: str
    title: str
    unit: str
    step: str
    entry: str
    key: str
    value: str
    field: str = "value"
    tubes: tuple[int, ...] = ()
    tube: int | None = None


def button(facts: RunFacts, kind: Kind, words: str, body: Body | None = None, *, pressed: bool = False) -> Button:
    """Return a button that makes an entry at the step where the run stands."""
    return Button(words=words, entry=entry_text(facts, kind, body), key=fresh_key(), pressed=pressed)


def entry_text(facts: RunFacts, kind: Kind, body: Body | None = None) -> str:
    """Return an entry as a button holds it."""
    return json.dumps({"kind": kind.value, "step": facts.step.value, "body": dict(body or {})})


def fresh_key() -> str:
    """Return a key no other entry has."""
    return secrets.token_hex(KEY_BYTES)


def primary_of(facts: RunFacts, press: Press, now: Ticking) -> Primary:
    """Return the primary button with everything that stands between the run and where the press leads."""
    entry = Written(position=facts.position + 1, kind=press.kind, step=facts.step, body=press.body, at=now.at, by="")
    target = told(facts, entry).step
    blocked = blockers(facts, target, now.at) if target is not facts.step else ()
    return Primary(button=button(facts, press.kind, press.words, press.body), blocked=blocked)


SIGHTS: Mapping[Step, tuple[Measure, ...]] = {
    Step.LOOK: (Measure.INTERFACE_LOOK, Measure.PLASMA_LOOK),
    Step.TAKE_OFF: (Measure.PPP_LOOK,),
    Step.SWIRL: (Measure.SWIRL_LOOK,),
    Step.ACTIVATION: (Measure.ACTIVATED,),
}
SIGHT_TITLES: Mapping[Measure, str] = {
    Measure.INTERFACE_LOOK: "The edge",
    Measure.PLASMA_LOOK: "The plasma",
    Measure.PPP_LOOK: "The plasma taken off",
    Measure.SWIRL_LOOK: "Against the light",
    Measure.ACTIVATED: "Activated",
}
MISHAP_OF: Mapping[tuple[Measure, str], str] = {
    (Measure.INTERFACE_LOOK, "hazy"): "hazy_interface",
    (Measure.PLASMA_LOOK, "pink"): "haemolysis",
    (Measure.PLASMA_LOOK, "milky"): "milky_plasma",
    (Measure.SWIRL_LOOK, "clumps"): "clumps",
}
"""Where a sight that is not the usual one has a page of its own."""


def sights_of(facts: RunFacts) -> tuple[Sights, ...]:
    """Return what the step asks an eye for."""
    return tuple(_sights(facts, what) for what in SIGHTS.get(facts.step, ()))


def _sights(facts: RunFacts, what: Measure) -> Sights:
    stands = facts.measured.get(what.value)
    mishap = MISHAP_OF.get((what, str(stands)), "")
    return Sights(
        title=SIGHT_TITLES[what],
        buttons=tuple(
            button(facts, Kind.MEASURED, word, {"what": what.value, "value": word}, pressed=word == stands)
            for word in LOOKS[what]
        ),
        hint=f"{str(stands).capitalize()}: what to do" if mishap else "",
        mishap=mishap,
    )


READINGS: Mapping[Step, tuple[tuple[Measure, str, str], ...]] = {
    Step.SOFT_SPIN: (
        (Measure.LOOK_MINUTES, "Stopped to look after", "min"),
        (Measure.LOOK_INTERFACE_MM, "Red seen then at", "mm"),
    ),
    Step.LOOK: ((Measure.PLASMA_MM, "Clear plasma above the red", "mm"), (Measure.INTERFACE_MM, "Red stands at", "mm")),
    Step.WITHDRAW: (
        (Measure.WITHDRAWN_ML, "Out of this tube", "mL"),
        (Measure.PLASMA_MM, "Clear plasma above the red", "mm"),
    ),
    Step.POOL: (
        (Measure.POOLED_ML, "Pooled in all", "mL"),
        (Measure.WITHDRAWN_ML, "Out of one tube", "mL"),
        (Measure.WITHDRAWN_G, "Out of one tube, weighed", "g"),
    ),
    Step.TAKE_OFF: ((Measure.PPP_ML, "Taken off and kept", "mL"),),
    Step.RESUSPEND: ((Measure.PRP_ML, "In hand", "mL"),),
    Step.SWIRL: ((Measure.PRP_ML, "In hand", "mL"),),
    Step.FILL: ((Measure.PRP_ML, "In the PRP syringes", "mL"),),
    Step.CHECK: ((Measure.PRP_ML, "Read from the syringe", "mL"),),
}
"""The numbers a step offers to take; none of them is ever needed to go on."""
OF_A_TUBE = frozenset({Measure.PLASMA_MM, Measure.INTERFACE_MM, Measure.WITHDRAWN_ML, Measure.WITHDRAWN_G})
FINEST = {"mm": "0.5", "mL": "0.1", "min": "0.5", "g": "0.01"}


def readings_of(facts: RunFacts) -> tuple[Reading, ...]:
    """Return the numbers the step offers to take, each as it stands already."""
    found = _short_fill(facts)
    for what, title, unit in READINGS.get(facts.step, ()):
        tubes = tuple(tube.number for tube in facts.usable) if what in OF_A_TUBE else ()
        tube = _in_hand(facts, what, tubes)
        stands = facts.measured.get(what.value if tube is None else f"{what.value}.{tube}")
        found.append(
            Reading(
                name=f"{what.value}-reading",
                what=what.value,
                title=title,
                unit=unit,
                step=FINEST[unit],
                entry=entry_text(facts, Kind.MEASURED, {"what": what.value}),
                key=fresh_key(),
                value="" if stands is None else f"{stands:g}",
                tubes=tubes,
                tube=tube,
            )
        )
    return tuple(found)


def _in_hand(facts: RunFacts, what: Measure, tubes: tuple[int, ...]) -> int | None:
    """Return the tube a reading is of unless another is chosen: the one in hand, or the last one withdrawn from."""
    if not tubes:
        return None
    return next_tube(facts) or tubes[-1 if what is Measure.WITHDRAWN_ML else 0]


def _short_fill(facts: RunFacts) -> list[Reading]:
    """Return the entry of a tube that stays short while drawing."""
    number = next_tube(facts) if facts.step is Step.DRAW else None
    if number is None:
        return []
    return [
        Reading(
            name="short-reading",
            what=Measure.TUBE_ML.value,
            title=f"Tube {number} filled short, blood in it",
            unit="mL",
            step=FINEST["mL"],
            entry=entry_text(facts, Kind.TUBE, {"tube": number, "what": "short"}),
            key=fresh_key(),
            value="",
            field="ml",
        )
    ]


def of_this_tube(facts: RunFacts) -> tuple[Button, ...]:
    """Return what else may be told of the tube in hand while drawing."""
    number = next_tube(facts) if facts.step is Step.DRAW else None
    if number is None:
        return ()
    return (
        button(facts, Kind.TUBE, f"Tube {number} filled, slow flow", {"tube": number, "what": "slow"}),
        button(facts, Kind.TUBE, f"Tube {number}: stick failed", {"tube": number, "what": "failed"}),
    )


def red_seen_of(facts: RunFacts) -> Button | None:
    """Return the button that keeps the tube in hand apart; nothing where no tube is withdrawn from."""
    number = next_tube(facts) if facts.step is Step.WITHDRAW else None
    if number is None:
        return None
    return button(facts, Kind.RED_SEEN, f"Red seen in tube {number}", {"tube": number})
