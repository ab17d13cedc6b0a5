"""What is told of a run, kept in its order, each entry once."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from plasmawright.bench.blockers import Blocker, blockers
from plasmawright.bench.entries import SIGNED_KINDS, Kind, Written, read_body
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.fitting import refuse_undoing, refuse_unfitting
from plasmawright.bench.moments import Moment, earlier, steady
from plasmawright.bench.steps import Step
from plasmawright.bench.telling import facts_of, moved_on, told
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import (
    ChainHead,
    Entry,
    Person,
    Run,
    RunEntry,
    Tablet,
    VesselKind,
)
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.lots import lots_of_run, refusals_of
from plasmawright.records.selectors.runs import (
    as_told,
    last_moment,
    open_at_the_hood,
    opening,
    stand,
    vessel_of_code,
)
from plasmawright.records.services.ledger import write_entry
from plasmawright.records.services.runs import keep_vessel, new_vessel

KEY_MAX = 64


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What became of an entry: its place and digest in the ledger, as the contract's HTTP answer holds them."""

    seq: int
    digest: str
    review: bool
    repeat: bool


@dataclass(frozen=True, kw_only=True)
class Told:
    """One entry as it arrives.

    Parameters
    ----------
    key
        Made once where it was tapped: an entry that arrives twice is kept once.
    by
        Who tapped; ``carried_by`` is who was signed in when it arrived.
    true_at
        For what is entered later from paper: when it happened.
    held_s
        For how long the device held it because nobody answered; it happened that much before it arrived.
    """

    kind: Kind
    step: Step
    body: Mapping[str, object]
    key: str
    by: Person
    carried_by: Person
    tablet: Tablet | None = None
    device_seq: int | None = None
    device_at: datetime | None = None
    true_at: datetime | None = None
    held_s: float = 0.0


def take_entry(*, run: Run, arrived: Told, moment: Moment) -> Taken:
    """Keep one entry of a run, and move the run as it says.

    An entry that arrives again is answered as it was the first time. One that speaks of what the run has left behind
    is kept for review and moves nothing.

    Raises
    ------
    Refusals
        If a field is wrong, or something blocks the step: one refusal for each.
    Refusal
        If the role does not allow it.
    """
    clinic = run.clinic
    action = Action.PRACTICE if run.practice else Action.BACK_ENTER if arrived.true_at else Action.PREPARE
    refuse_unless_may(person=arrived.by, clinic=clinic, action=action)
    if arrived.carried_by.pk != arrived.by.pk:
        refuse_unless_may(person=arrived.carried_by, clinic=clinic, action=action)
    if not 1 <= len(arrived.key) <= KEY_MAX:
        raise Refusal("Idempotency-Key", arrived.key, f"it must have 1 to {KEY_MAX} characters", "Send a fresh UUID.")
    if arrived.kind in SIGNED_KINDS:
        raise Refusal("kind", arrived.kind.value, "it is written by a signature", "Sign on the run's page.")
    with transaction.atomic():
        return keep_entry(run, replace(arrived, body=read_body(arrived.kind, arrived.body)), moment)


def keep_entry(run: Run, arrived: Told, moment: Moment) -> Taken:
    """Keep an entry inside the transaction that is open."""
    clinic = run.clinic
    held = (
        Run.objects.of(clinic)
        .select_for_update(of=("self",))
        .select_related("clinic", "plan__visit", "preparer")
        .get(pk=run.pk)
    )
    if before := RunEntry.objects.of(clinic).filter(key=arrived.key).first():
        return _repeated(before, held)
    facts = stand(held)
    body = _resolved(held, arrived)
    review = moved_on(facts, arrived.kind, arrived.step, body)
    if not review:
        refuse_unfitting(facts, arrived.kind, body)
    last = last_moment(held)
    now = steady(last, earlier(moment, last, held_s=arrived.held_s), pace=held.pace)
    entry = Written(
        position=held.positions + 1,
        kind=arrived.kind,
        step=arrived.step if review else facts.step,
        body=body,
        at=arrived.true_at or now.moment.at,
        by=arrived.by.username,
        later=arrived.true_at is not None,
        review=review,
    )
    if entry.kind is Kind.AMENDED:
        refuse_undoing(facts.opening, as_told(held), entry)
    after = stand_after(held, facts, entry)
    if after.step is not facts.step and not review:
        _refuse_blocked(held, facts, after, entry)
    row = RunEntry(
        clinic=clinic,
        run=held,
        position=entry.position,
        kind=entry.kind.value,
        step=entry.step.value,
        body_text=json.dumps(body, ensure_ascii=False, allow_nan=False),
        at=now.moment.at,
        boot_id=now.moment.boot_id,
        boot_s=now.moment.boot_s,
        true_at=arrived.true_at,
        jump_s=now.jump_s,
        written_by=arrived.by,
        carried_by=arrived.carried_by,
        tablet=arrived.tablet,
        device_seq=arrived.device_seq,
        device_at=arrived.device_at,
        key=arrived.key,
        later=entry.later,
        review=review,
    )
    row.save(force_insert=True)
    moved = (
        Run.objects.of(clinic)
        .filter(pk=held.pk, positions=held.positions)
        .update(positions=entry.position, step=after.step.value, ended_at=after.ended_at)
    )
    if moved != 1:
        raise Refusal("run", held.code, "somebody else moved this run just now", "Look again before you go on.")
    _keep_fresh_vessels(held, facts, after, by=arrived.by, at=now.moment.at)
    line = write_entry(
        clinic=clinic,
        about=row,
        became=entry.kind.value,
        by=arrived.by.username,
        at=steady(last, moment, pace=held.pace).moment.at,  # when it arrived; the row says when it was tapped
        words=str(body.get("words", "")),
    )
    return Taken(seq=line.seq, digest=line.digest, review=review, repeat=False)


def stand_after(run: Run, facts: RunFacts, entry: Written) -> RunFacts:
    """Return the facts after one more entry; an amendment tells the whole run anew."""
    if entry.kind is not Kind.AMENDED:
        return told(facts, entry)
    return facts_of(opening(run), [*as_told(run), entry])


def _repeated(before: RunEntry, run: Run) -> Taken:
    if before.run_id != run.pk:
        raise Refusal("Idempotency-Key", before.key, "it belongs to another run's entry", "Send a fresh UUID.")
    line = Entry.objects.of(run.clinic).get(about_kind="runentry", about_id=before.pk)
    return Taken(seq=line.seq, digest=line.digest, review=before.review, repeat=True)


def _resolved(run: Run, arrived: Told) -> dict[str, object]:
    """Return the body of an entry; a scanned code is looked up here, whatever the device says of it."""
    body = dict(arrived.body)
    if arrived.kind is not Kind.SCANNED:
        return body
    code = str(body["code"]).strip().upper()
    vessel = vessel_of_code(run.clinic, code)
    own = vessel is not None and vessel.run_id == run.pk
    found: dict[str, object] = {"code": code, "own": own}
    if vessel is not None and own:
        found["vessel"] = str(vessel)
        if vessel.kind == VesselKind.TUBE:
            found["tube"] = vessel.number
    return found


def _refuse_blocked(run: Run, facts: RunFacts, after: RunFacts, entry: Written) -> None:
    found = [*_unlifted(facts, after, entry.at), *_of_lots(run, after, entry.at)]
    if not entry.later:  # what is entered from paper has long left the hood
        found += _of_the_hood(run, after)
    if found:
        raise Refusals(tuple(Refusal("step", after.step.value, b.reason.rstrip("."), b.remedy) for b in found))


def _unlifted(facts: RunFacts, after: RunFacts, at: datetime) -> tuple[Blocker, ...]:
    """Return what blocks the step as the run stands once the entry is told: it may be the very way out."""
    told_now = replace(after, step=facts.step)
    return blockers(told_now, after.step, at)


def _of_lots(run: Run, after: RunFacts, at: datetime) -> list[Blocker]:
    if run.practice or after.step in {Step.STOPPED, Step.DISCARDED}:
        return []
    refused = refusals_of([use.lot for use in lots_of_run(run)], timezone.localdate(at))
    return [Blocker(reason=f"{one.field} {one.value}: {one.limit}.", remedy=one.remedy) for one in refused]


def _of_the_hood(run: Run, after: RunFacts) -> list[Blocker]:
    """Let one patient's tubes be open at the hood at a time, unless every tube of both was scanned."""
    if after.step is not Step.WITHDRAW:
        return []
    # locked, so that of two runs that come to the hood at once the second sees the first
    ChainHead.objects.of(run.clinic).select_for_update().first()
    for other in open_at_the_hood(run.clinic, apart_from=run):
        if not (_all_scanned(after) and _all_scanned(stand(other))):
            return [
                Blocker(
                    reason=f"Tubes of run {other.code} are open at the hood.",
                    remedy="Close that run's syringes first, or scan every tube of both runs.",
                )
            ]
    return []


def _all_scanned(facts: RunFacts) -> bool:
    usable = {tube.number for tube in facts.usable}
    tubes = {code for code, (kind, number) in facts.opening.codes.items() if kind == "tube" and number in usable}
    return tubes <= facts.scanned


def _keep_fresh_vessels(run: Run, before: RunFacts, after: RunFacts, *, by: Person, at: datetime) -> None:
    """Give tubes that are drawn again their codes."""
    known = {tube.number for tube in before.tubes}
    for tube in after.tubes:
        if tube.number not in known:
            keep_vessel(new_vessel(run, VesselKind.TUBE, tube.number), by=by, at=at)
