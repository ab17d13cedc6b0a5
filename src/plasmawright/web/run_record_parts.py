"""What a record sums up: the result, its clocks, and how predictions moved with what was seen."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from plasmawright.bench.clocks import hold_clock
from plasmawright.bench.entries import Kind, Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import Step
from plasmawright.documents.record import RecordFact, RecordForesight
from plasmawright.documents.wording import Interval, counts
from plasmawright.records.models import Foresight, Run, RunEntry
from plasmawright.records.selectors.runs import foresight
from plasmawright.web.run_entry_words import entry_words
from plasmawright.web.run_times import day_and_minute, lasted

DOSE_UNKNOWN = "dose unknown"
FORESEEN = (
    ("prp_platelets_1e9", "platelets in the PRP", "billion"),
    ("prp_platelets_1e9_per_l", "PRP", "×10⁹ platelets/L"),
    ("prp_ml", "volume of the PRP", "mL"),
    ("ppp_platelets_1e9_per_l", "PPP", "×10⁹ platelets/L"),
)
FORESEEN_BRIEFLY = 3
"""How many of them stand beside the result."""


def summary_facts(run: Run, facts: RunFacts) -> tuple[RecordFact, ...]:
    """Return the volume in hand, what is predicted of it, activation, and what nobody counted."""
    volume_ml = facts.signed.get("prp_ml", facts.measured.get(Measure.PRP_ML.value))
    found = [RecordFact(name="final volume", words="not entered" if volume_ml is None else f"{volume_ml:.1f} mL PRP")]
    last = foresight(run)
    if facts.dose_unknown:
        found.append(RecordFact(name="platelets in it", words=f"{DOSE_UNKNOWN}: clumps, or a pellet that was lost"))
    elif last is not None:
        after = last.document["after"]
        for key, what, unit in FORESEEN[:FORESEEN_BRIEFLY]:
            found.append(RecordFact(name=what, words=f"predicted {_foreseen(after.get(key), unit)}", predicted=True))
    else:
        found += _planned_doses(run.plan.answer["chosen"])
    activated = facts.measured.get(Measure.ACTIVATED.value)
    answered = activated or (
        "no" if facts.step is Step.RELEASED else "not entered"
    )  # its one press says: not activated
    found.append(RecordFact(name="activated", words=str(answered)))
    used = [tube for tube in facts.tubes if tube.usable]
    found.append(RecordFact(name="tubes used", words=f"{len(used)} of {len(facts.tubes)} drawn for"))
    return tuple(found)


def _planned_doses(plan: Mapping[str, Any]) -> list[RecordFact]:
    return [
        RecordFact(
            name=str(site["name"]),
            words=f"predicted {counts(Interval.of(site['platelets_1e9']), 'billion platelets')}, by the plan",
            predicted=True,
        )
        for site in plan["sites"]
    ]


def clock_facts(facts: RunFacts, *, closed_at: datetime | None, at: datetime) -> tuple[RecordFact, ...]:
    """Return the hold time and the open time that were used, against their limits.

    Parameters
    ----------
    closed_at
        When the last syringe was filled.
    at
        When the record is printed: a clock that still runs is told up to here.
    """
    until = facts.ended_at or at
    hold = RecordFact(name="hold, from the first tube", words=_hold_words(facts, until))
    opened = RecordFact(name="open, from the first cap off", words=_open_words(facts, closed_at or until))
    return hold, opened


def _hold_words(facts: RunFacts, until: datetime) -> str:
    hold = hold_clock(facts)
    if hold is None:
        return "nothing was drawn"
    used = lasted((until - hold.from_at).total_seconds())
    words = f"{used} of {facts.opening.policy.hold_h:g} h, from {day_and_minute(hold.from_at)}"
    words += ", over the limit" if until > hold.due_at else ""
    if "hold" in facts.overridden:
        words += f"; passed by a clinician: {facts.overridden['hold']}"
    return f"{words}. The limit's source counts from the start of preparation."


def _open_words(facts: RunFacts, closed_at: datetime) -> str:
    if facts.cap_off_at is None:
        return "no tube was opened"
    open_s = (closed_at - facts.cap_off_at).total_seconds()
    caution_min = facts.opening.policy.open_caution_min
    over = ", past the caution" if open_s > caution_min * 60 else ""
    return f"{lasted(open_s)}{over}; caution at {caution_min:g} min, common practice without a source"


def foresights_of(run: Run, kept: Sequence[RunEntry]) -> tuple[RecordForesight, ...]:
    """Return what each sight did to each prediction, the plan's own beside it."""
    places = {one.position: one for one in kept}
    found: list[RecordForesight] = []
    for told in Foresight.objects.of(run.clinic).filter(run=run).order_by("upto_position"):
        entry = places.get(told.upto_position)
        seen = "before anything was seen"
        if entry is not None:
            seen = entry_words(Kind(entry.kind), Step(entry.step), entry.body)
        found += _rows(seen, told.document)
    return tuple(found)


def _rows(seen: str, document: Mapping[str, Any]) -> list[RecordForesight]:
    before, after = document["before"], document["after"]
    return [
        RecordForesight(
            seen=seen,
            what=what,
            before=_foreseen(before.get(key), unit),
            after=_foreseen(after.get(key), unit),
            words=str(document.get("regime_words", "")) if key == FORESEEN[0][0] else "",
        )
        for key, what, unit in FORESEEN
        if before.get(key) != after.get(key) or key == FORESEEN[0][0]
    ]


def _foreseen(told: object, unit: str) -> str:
    if told is None:
        return DOSE_UNKNOWN
    interval = Interval.of(told)
    if unit != "mL":
        return counts(interval, unit)
    if interval.p05 == interval.p95:
        return f"{interval.p50:.1f} mL"
    return f"{interval.p50:.1f} mL ({interval.p05:.1f} to {interval.p95:.1f})"
