"""Everything the bench shows of one run: the step in hand first, then what is seldom needed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plasmawright.bench.entries import Kind, Written
from plasmawright.bench.facts import RunFacts, Tube
from plasmawright.bench.guide import card_of
from plasmawright.bench.mishaps import MISHAPS, Mishap
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import ORDER, Step
from plasmawright.bench.telling import facts_of
from plasmawright.records.models import Run
from plasmawright.records.selectors.patients import alerts_of
from plasmawright.records.selectors.runs import as_told, opening
from plasmawright.web.bench_buttons import (
    Button,
    button,
    entry_text,
    fresh_key,
    of_this_tube,
    primary_of,
    readings_of,
    red_seen_of,
    sights_of,
)
from plasmawright.web.bench_clocks import clocks_shown, ticking
from plasmawright.web.bench_foreseen import foreseen_shown, red_words
from plasmawright.web.bench_mishaps import choices_shown
from plasmawright.web.bench_picture import picture_for
from plasmawright.web.bench_release import ending_of
from plasmawright.web.bench_steps import step_lines
from plasmawright.web.moment import moment_now
from plasmawright.web.run_labels import PRACTICE_PATIENT, identifiers_of

FATE_WORDS = {"left_out": "Leave it out", "respun": "Spin it again", "pooled": "Pool it with the rest"}

Shown = dict[str, object]
"""What the templates under web/bench are given."""


@dataclass(frozen=True, kw_only=True)
class RedTube:
    """A tube into whose plasma red was drawn: its fate, and for each fate a button and the red it brings."""

    number: int
    fate: str
    fates: tuple[tuple[Button, str], ...]


@dataclass(frozen=True, kw_only=True)
class Unsaid:
    """A difference that was told by one tap and has no words yet."""

    position: int
    entry: str
    key: str


def bench_shown(run: Run) -> Shown:
    """Return everything that the page and the fragment of a run's step need."""
    told = as_told(run)
    facts, now = facts_of(opening(run), told), ticking(run, moment_now())
    press = press_of(facts)
    return {
        **identity_shown(run, facts),
        **choices_shown(run, facts),
        "run": run,
        "facts": facts,
        "now": now,
        "card": card_of(facts),
        "clocks": clocks_shown(facts, now.at),
        "primary": None if press is None else primary_of(facts, press, now),
        "red_seen": red_seen_of(facts),
        "red_tubes": red_tubes_of(run, facts),
        "tube_buttons": of_this_tube(facts),
        "differs": button(facts, Kind.DIFFERS, "Something differs"),
        "unsaid": _unsaid(facts, told),
        "sights": sights_of(facts),
        "readings": readings_of(facts),
        "scanned": scanned_words(facts),
        "scan": {"entry": entry_text(facts, Kind.SCANNED), "key": fresh_key()},
        "mishaps": mishaps_in_order(facts.step),
        "waiting": None if facts.open_mishap is None else MISHAPS[facts.open_mishap.mishap],
        "picture": picture_for(run, facts),
        "steps": step_lines(facts.opening, told),
        "step_number": ORDER.index(facts.step) + 1 if facts.step in ORDER else len(ORDER),
        "step_count": len(ORDER),
        "foreseen": foreseen_shown(run, facts, told),
        "ending": ending_of(run, facts, now),
        "to_review": len(facts.to_review),
    }


def identity_shown(run: Run, facts: RunFacts) -> Shown:
    """Return who the run is for, as the clinic's labels say it."""
    patient = run.patient
    if patient is None:
        return {"identifiers": PRACTICE_PATIENT, "alerts": ()}
    chosen = facts.opening.policy.label_identifiers
    return {"identifiers": identifiers_of(patient, chosen), "alerts": alerts_of(patient)}


def scanned_words(facts: RunFacts) -> str:
    """Return which vessels of this run have been scanned, in words."""
    vessels = sorted(facts.opening.codes[code] for code in facts.scanned if code in facts.opening.codes)
    return ", ".join(f"{kind.replace('_', ' ')} {number}" for kind, number in vessels)


def mishaps_in_order(step: Step) -> tuple[tuple[Mishap, bool], ...]:
    """Return every mishap, those of this step first and marked."""
    ordered = sorted(MISHAPS.values(), key=lambda mishap: step not in mishap.steps)
    return tuple((mishap, step in mishap.steps) for mishap in ordered)


def red_tubes_of(run: Run, facts: RunFacts) -> tuple[RedTube, ...]:
    """Return the tubes kept apart, as long as their fate is open."""
    if facts.step not in {Step.WITHDRAW, Step.POOL}:
        return ()
    words = red_words(run)
    return tuple(_red_tube(facts, tube, words) for tube in facts.usable if tube.red)


def _red_tube(facts: RunFacts, tube: Tube, words: Mapping[str, str]) -> RedTube:
    fates = tuple(
        (
            button(facts, Kind.RED_FATE, said, {"tube": tube.number, "fate": fate}, pressed=tube.red_fate == fate),
            words.get(fate, ""),
        )
        for fate, said in FATE_WORDS.items()
    )
    return RedTube(number=tube.number, fate=tube.red_fate or "", fates=fates)


def _unsaid(facts: RunFacts, told: Sequence[Written]) -> Unsaid | None:
    """Return the last difference told at this step without words; said afterwards, they amend it."""
    said = {entry.body["position"] for entry in told if entry.kind is Kind.AMENDED}
    silent = [
        entry
        for entry in told
        if entry.kind is Kind.DIFFERS
        and entry.step is facts.step
        and not entry.body.get("words")
        and entry.position not in said
    ]
    if not silent:
        return None
    position = silent[-1].position
    body: dict[str, Any] = {"position": position, "body": {}, "words": "said afterwards"}
    return Unsaid(position=position, entry=entry_text(facts, Kind.AMENDED, body), key=fresh_key())
