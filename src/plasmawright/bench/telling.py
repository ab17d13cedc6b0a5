"""Where a run stands after its entries: every one told in order, none forgotten."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from plasmawright.bench.entries import STEP_BOUND, Kind, Measure, Written
from plasmawright.bench.facts import Open, Opening, RunFacts, Tube, start_of
from plasmawright.bench.mishaps import BACK_TO, MISHAPS, Effect, choice_of, is_pooled, is_together, target_of
from plasmawright.bench.press import next_tube
from plasmawright.bench.spinning import loaded_anew, spin_ended, turns
from plasmawright.bench.steps import SPINS, Step, following


def facts_of(opening: Opening, entries: Sequence[Written]) -> RunFacts:
    """Return where a run stands after ``entries``, the amended ones as they now read."""
    facts = start_of(opening)
    bodies = amended_bodies(entries)
    for entry in entries:
        body = bodies[entry.position]
        facts = told(facts, entry if body is entry.body else replace(entry, body=body))
    return facts


def amended_bodies(entries: Sequence[Written]) -> dict[int, Mapping[str, Any]]:
    """Return for each place what its entry now holds: its own fields, and over them what later amendments say.

    An amendment that says nothing (``None``) of a field takes it back.
    """
    bodies: dict[int, Mapping[str, Any]] = {entry.position: entry.body for entry in entries}
    for entry in entries:
        if entry.kind is Kind.AMENDED and entry.body["position"] in bodies:
            place = entry.body["position"]
            merged = {**bodies[place], **entry.body["body"]}
            bodies[place] = {name: value for name, value in merged.items() if value is not None}
    return bodies


def moved_on(facts: RunFacts, kind: Kind, step: Step, body: Mapping[str, Any]) -> bool:
    """Return whether an entry speaks of what the run has left behind, so that it is kept for review."""
    if kind in {Kind.AMENDED, Kind.REVIEWED, Kind.NOTE}:
        return False
    if facts.ended:
        closes = kind is Kind.SIGNED and facts.step is Step.STOPPED
        injected = kind is Kind.SCANNED and facts.step is Step.RELEASED
        return not (closes or injected)
    if kind is Kind.CHOSEN:
        return body["mishap"] not in {waiting.mishap for waiting in facts.mishaps_open}
    if kind is Kind.RED_SEEN:
        nowhere = body.get("tube") is None and next_tube(facts) is None
        return not step is facts.step is Step.WITHDRAW or nowhere
    return kind in STEP_BOUND and (step is not facts.step or _told_before(facts, kind, step, body))


def _told_before(facts: RunFacts, kind: Kind, step: Step, body: Mapping[str, Any]) -> bool:
    """Return whether the step in hand has been told this before, or has no place for it."""
    if kind is Kind.TUBE:
        return step is not (Step.WITHDRAW if body["what"] == "withdrawn" else Step.DRAW) or _tube_told(facts, body)
    begun = facts.began_at is not None
    return begun if kind is Kind.BEGAN else not begun and _spin_was_cut(facts)


def _spin_was_cut(facts: RunFacts) -> bool:
    """Return whether the spin was broken off by a mishap that still waits for its choice: it has no end to tell."""
    return facts.step in SPINS and any(MISHAPS[waiting.mishap].breaks_spin for waiting in facts.mishaps_open)


def _tube_told(facts: RunFacts, body: Mapping[str, Any]) -> bool:
    """Return whether this very thing was told of this tube before."""
    tube = facts.tube(body["tube"])
    if body["what"] == "counted":
        return facts.counted
    if tube is None:
        return True
    if body["what"] == "withdrawn":
        return tube.withdrawn_at is not None
    if body["what"] == "failed":
        return tube.failed
    return tube.filled_at is not None


def told(facts: RunFacts, entry: Written) -> RunFacts:
    """Return the facts after one more entry."""
    facts = replace(facts, position=entry.position, later=facts.later + entry.later)
    if entry.review:
        return replace(facts, to_review=(*facts.to_review, entry.position))
    return TELL[entry.kind](facts, entry)


def _began(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, began_at=entry.at, silenced=frozenset())


def _done(facts: RunFacts, entry: Written) -> RunFacts:
    step = facts.step
    if step in ENDING:
        facts = ENDING[step](facts, entry)
    if "prp_ml" in entry.body:
        facts = replace(facts, measured={**facts.measured, Measure.PRP_ML.value: entry.body["prp_ml"]})
    if step is Step.LOOK and entry.body.get("more_minutes", 0.0) > 0:
        rpm = facts.spun[-1].rpm if facts.spun else None
        spun_on = facts.at_step(Step.SOFT_SPIN, entry.at)
        return replace(spun_on, extra_minutes=entry.body["more_minutes"], extra_rpm=rpm)
    after = following(step)
    return facts if after is Step.RELEASED else facts.at_step(after, entry.at)


def _drawn(facts: RunFacts, _entry: Written) -> RunFacts:
    for tube in facts.usable:
        if tube.filled_at is None:
            facts = facts.with_tube(tube.number, lost="not filled")
    return facts


def _spin_done(facts: RunFacts, entry: Written) -> RunFacts:
    return spin_ended(facts, entry.at, whole=True)


def _withdrawn(facts: RunFacts, entry: Written) -> RunFacts:
    for tube in facts.usable:
        if tube.withdrawn_at is None:
            facts = facts.with_tube(tube.number, withdrawn_at=entry.at)
    return facts


def _pooled(facts: RunFacts, _entry: Written) -> RunFacts:
    for tube in facts.usable:
        if tube.red and tube.red_fate is None:
            facts = facts.with_tube(tube.number, red_fate="left_out")
    return facts


def _suspended(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, suspended_at=entry.at)


def _checked(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, checked_at=entry.at, checked_later=entry.later, checked=dict(entry.body))


def _tube(facts: RunFacts, entry: Written) -> RunFacts:
    number, what, ml = entry.body["tube"], entry.body["what"], entry.body.get("ml")
    drawn_from = entry.at if facts.drawn_from is None else min(facts.drawn_from, entry.at)
    if what == "counted":
        return replace(facts, counted=True, drawn_from=drawn_from)
    if what == "withdrawn":
        return facts.with_tube(number, withdrawn_at=entry.at, withdrawn_ml=ml)
    if what == "failed":
        facts = facts.with_tube(number, failed=True)
    else:
        changes: dict[str, Any] = {"filled_at": entry.at, "slow": what == "slow"}
        if ml is not None:
            changes["blood_ml"] = ml
        facts = replace(facts.with_tube(number, **changes), drawn_from=drawn_from)
    drawn = all(tube.filled_at or tube.failed or tube.lost for tube in facts.tubes)
    return facts.at_step(Step.LABEL, entry.at) if drawn and facts.step is Step.DRAW and facts.usable else facts


def _scanned(facts: RunFacts, entry: Written) -> RunFacts:
    if not entry.body.get("own", False):
        return replace(facts, foreign_code=entry.body["code"])
    facts = replace(facts, foreign_code=None, scanned_out=None, scanned=facts.scanned | {entry.body["code"]})
    number = entry.body.get("tube")
    tube = None if number is None else facts.tube(number)
    if tube is not None and not (tube.usable or facts.ended):
        return replace(facts, scanned_out=number)
    if facts.step is Step.WITHDRAW and number is not None:
        before = facts.tube(facts.current) if facts.current is not None else None
        if before is not None and before.number != number and before.withdrawn_at is None:
            facts = facts.with_tube(before.number, withdrawn_at=entry.at)
        facts = replace(facts, current=number)
    return facts


def _measured(facts: RunFacts, entry: Written) -> RunFacts:
    what, value, number = entry.body["what"], entry.body["value"], entry.body.get("tube")
    if number is not None and what == Measure.WITHDRAWN_ML:
        facts = facts.with_tube(number, withdrawn_ml=value)
    if number is not None and what == Measure.TUBE_ML:
        facts = facts.with_tube(number, blood_ml=value)
    key = what if number is None else f"{what}.{number}"
    facts = replace(facts, measured={**facts.measured, key: value})
    return replace(facts, dose_unknown=True) if (what, value) == (Measure.SWIRL_LOOK, "clumps") else facts


def _red_seen(facts: RunFacts, entry: Written) -> RunFacts:
    number = entry.body.get("tube") or next_tube(facts)
    return facts if number is None else facts.with_tube(number, red=True, withdrawn_at=entry.at)


def _red_fate(facts: RunFacts, entry: Written) -> RunFacts:
    return facts.with_tube(entry.body["tube"], red_fate=entry.body["fate"])


def _mishap(facts: RunFacts, entry: Written) -> RunFacts:
    known = MISHAPS.get(entry.body["mishap"])
    if known is None:
        return facts
    named = tuple(entry.body.get("tubes", ()))
    pooled = is_pooled(facts.step)
    facts = replace(
        facts,
        mishaps=(*facts.mishaps, known.name),
        dose_unknown=facts.dose_unknown or known.withdraws_dose,
        all_void=facts.all_void or (known.voids and is_together(facts.step)),
    )
    facts = _asked_about(facts, Open(position=entry.position, mishap=known.name, step=facts.step, tubes=named))
    if known.voids and not named:
        named = tuple(tube.number for tube in facts.tubes)
    if known.voids or (known.loses_tubes and not pooled):
        for number in named:
            facts = facts.with_tube(number, void=True) if known.voids else facts.with_tube(number, lost=known.name)
    if known.name == "underfilled" and "ml" in entry.body:
        for number in named:
            facts = facts.with_tube(number, blood_ml=entry.body["ml"])
    if known.name == "red_drawn_up":
        for number in named:
            facts = facts.with_tube(number, red=True, withdrawn_at=entry.at)
    if known.breaks_spin and turns(facts):
        facts = spin_ended(facts, entry.at, whole=False, minutes=entry.body.get("minutes"))
    if known.name == "wrong_spin":
        facts = _spun_otherwise(facts, entry)
    if known.name == "syringe_dropped" and "ml" in entry.body:
        facts = replace(facts, measured={**facts.measured, Measure.PRP_ML.value: entry.body["ml"]}, checked_at=None)
    return facts


def _spun_otherwise(facts: RunFacts, entry: Written) -> RunFacts:
    """Take down what a spin really was; one that still ran has ended by this, and the run stands after it."""
    running = turns(facts)
    if running:
        facts = spin_ended(facts, entry.at, whole=False, minutes=entry.body.get("minutes"))
    if not facts.spun:
        return facts
    last = facts.spun[-1]
    real = replace(
        last, rpm=entry.body.get("rpm", last.rpm), minutes=entry.body.get("minutes", last.minutes), whole=False
    )
    facts = replace(facts, spun=(*facts.spun[:-1], real))
    return facts.at_step(following(facts.step), entry.at) if running else facts


def _asked_about(facts: RunFacts, mishap: Open) -> RunFacts:
    """Ask about one more mishap; those told before it wait, and the same one told again is asked about once."""
    others = [one for one in facts.mishaps_open if (one.mishap, one.tubes) != (mishap.mishap, mishap.tubes)]
    return replace(facts, open_mishap=mishap, waiting=tuple(reversed(others)))


def _answered(facts: RunFacts, mishap: Open) -> RunFacts:
    left = [one for one in facts.mishaps_open if one is not mishap]
    return replace(facts, open_mishap=left[0] if left else None, waiting=tuple(reversed(left[1:])))


def _chosen(facts: RunFacts, entry: Written) -> RunFacts:
    choice = choice_of(entry.body["mishap"], entry.body["choice"])
    waiting = next((one for one in facts.mishaps_open if one.mishap == entry.body["mishap"]), None)
    if choice is None or waiting is None:
        return facts
    facts = _answered(facts, waiting)
    effect = choice.effect
    if effect in BACK_TO and turns(facts):
        facts = spin_ended(facts, entry.at, whole=False)
    if effect in {Effect.GO_ON_WITHOUT, Effect.DRAW_AGAIN}:
        for number in waiting.tubes:
            tube = facts.tube(number)
            if tube is not None and tube.usable:
                facts = facts.with_tube(number, lost=waiting.mishap)
    elif effect in RED_FATES:
        for number in waiting.tubes:
            facts = facts.with_tube(number, red_fate=RED_FATES[effect])
    if effect is Effect.DRAW_AGAIN:
        facts = _drawn_again(facts)
    elif effect in {Effect.SPIN_MORE, Effect.MIX_AND_SPIN}:
        return _spun_on(facts, entry, mixed=effect is Effect.MIX_AND_SPIN)
    if effect is Effect.GO_ON_WITHOUT and facts.step in SPINS and MISHAPS[waiting.mishap].breaks_spin:
        return loaded_anew(facts, entry.at)
    if effect not in BACK_TO:
        return facts
    return replace(facts.at_step(BACK_TO[effect], entry.at), checked_at=None)


def _spun_on(facts: RunFacts, entry: Written, *, mixed: bool) -> RunFacts:
    """Send the run back to the spin it is about: the hard one when the plasma was pooled already."""
    target = target_of(Effect.SPIN_MORE, facts.step)
    return replace(
        facts.at_step(target, entry.at),
        extra_minutes=entry.body.get("minutes"),
        extra_rpm=entry.body.get("rpm"),
        spun=() if mixed else facts.spun,
        measured=_without_column(facts.measured) if mixed else facts.measured,
    )


def _without_column(measured: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was measured but for what stood in a column that has been mixed since. Any: numbers and words."""
    return {key: value for key, value in measured.items() if key.partition(".")[0] not in OF_A_COLUMN}


def _drawn_again(facts: RunFacts) -> RunFacts:
    """Put as many fresh tubes beside the usable ones as the plan asks for."""
    missing = facts.opening.tubes - len(facts.usable)
    last = max((tube.number for tube in facts.tubes), default=0)
    fresh = tuple(Tube(number=last + one) for one in range(1, missing + 1))
    return replace(facts, tubes=(*facts.tubes, *fresh), spun=())


def _differs(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, differs=(*facts.differs, entry.body.get("words", "")))


def _unchanged(facts: RunFacts, _entry: Written) -> RunFacts:
    return facts


def _reviewed(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, to_review=tuple(place for place in facts.to_review if place != entry.body["position"]))


def _silenced(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, silenced=facts.silenced | {entry.body["clock"]})


def _overridden(facts: RunFacts, entry: Written) -> RunFacts:
    return replace(facts, overridden={**facts.overridden, entry.body["what"]: entry.body["words"]})


def _signed(facts: RunFacts, entry: Written) -> RunFacts:
    ends = {"released": Step.RELEASED, "discarded": Step.DISCARDED, "stopped": Step.STOPPED}
    if "prp_ml" in entry.body:
        facts = replace(facts, measured={**facts.measured, Measure.PRP_ML.value: entry.body["prp_ml"]})
    return replace(facts, signed=dict(entry.body)).at_step(ends[entry.body["meaning"]], entry.at)


ENDING: Mapping[Step, Callable[[RunFacts, Written], RunFacts]] = {
    Step.DRAW: _drawn,
    Step.SOFT_SPIN: _spin_done,
    Step.HARD_SPIN: _spin_done,
    Step.WITHDRAW: _withdrawn,
    Step.POOL: _pooled,
    Step.RESUSPEND: _suspended,
    Step.CHECK: _checked,
}
"""What else the end of a step says, for those that say more than that they ended."""
OF_A_COLUMN = frozenset(
    {
        Measure.INTERFACE_MM,
        Measure.PLASMA_MM,
        Measure.LOOK_INTERFACE_MM,
        Measure.LOOK_MINUTES,
        Measure.INTERFACE_LOOK,
    }
)
"""What is read of tubes as they were spun."""
RED_FATES: Mapping[Effect, str] = {
    Effect.LEAVE_RED_OUT: "left_out",
    Effect.POOL_RED: "pooled",
    Effect.RESPIN_RED: "respun",
}
TELL: Mapping[Kind, Callable[[RunFacts, Written], RunFacts]] = {
    Kind.BEGAN: _began,
    Kind.DONE: _done,
    Kind.TUBE: _tube,
    Kind.SCANNED: _scanned,
    Kind.MEASURED: _measured,
    Kind.RED_SEEN: _red_seen,
    Kind.RED_FATE: _red_fate,
    Kind.MISHAP: _mishap,
    Kind.CHOSEN: _chosen,
    Kind.DIFFERS: _differs,
    Kind.AMENDED: _unchanged,
    Kind.REVIEWED: _reviewed,
    Kind.SILENCED: _silenced,
    Kind.NOTE: _unchanged,
    Kind.SIGNED: _signed,
    Kind.OVERRIDDEN: _overridden,
}
"""What each kind of entry does to the facts."""
