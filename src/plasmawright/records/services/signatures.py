"""Runs signed: released, discarded, or let past a limit, each by a person who gave their PIN."""

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from plasmawright.bench.blockers import Blocker, blockers
from plasmawright.bench.clocks import hold_clock
from plasmawright.bench.entries import LIMITS, Kind, Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.moments import Moment, steady
from plasmawright.bench.steps import ORDER, Step
from plasmawright.errors import OutOfRange, Refusal, Refusals
from plasmawright.records.models import Meaning, Person, Run, RunEntry, Signature, Tablet
from plasmawright.records.permissions import Action, may, refuse_unless_may
from plasmawright.records.selectors.lots import lots_of_run, refusals_of
from plasmawright.records.selectors.runs import last_moment, stand
from plasmawright.records.services.ledger import write_entry
from plasmawright.records.services.pins import check_pin
from plasmawright.records.services.run_entries import Told, keep_entry

AT_THE_HOOD = [step.value for step in ORDER[ORDER.index(Step.WITHDRAW) : ORDER.index(Step.FILL) + 1]]
READINGS_DIFFER_ML = 0.3
"""How far the volume read at release may lie from the one read at the check (assumed: one line of a small syringe)."""


@dataclass(frozen=True, kw_only=True)
class ReadBack:
    """What the signer read from the syringe itself."""

    label: bool
    clock: bool
    prp_ml: float | None


def release_run(
    *,
    run: Run,
    signer: Person,
    pin: str,
    tablet: Tablet | None,
    read: ReadBack,
    by: Person,
    moment: Moment,
    true_at: datetime | None = None,
) -> Signature:
    """Release a run's syringes: by a second person, or in the solo setting by the preparer reading all again.

    Parameters
    ----------
    true_at
        When it was released on paper, for what is entered later; that is never witnessed.

    Raises
    ------
    Refusal, Refusals
        If the PIN is wrong, the tablet is not enrolled, the signer has worked on a run of two, label, volume and
        clock were not read or do not agree with the check, the dose is unknown and the signer no clinician, or
        anything blocks the release.
    """
    _refuse_signer(run, signer, Action.RELEASE if true_at is None else Action.BACK_ENTER)
    _refuse_hands(run, signer)
    facts = stand(run)
    prp_ml = _read_in_full(read, facts)
    if facts.dose_unknown and not run.practice and not may(person=signer, clinic=run.clinic, action=Action.OVERRIDE):
        limit = "with the dose unknown a clinician decides"
        raise Refusal("signer", signer, limit, "Ask a clinician to look and sign, or discard.")
    _check(signer, pin, tablet, moment.at)
    _refuse_release(run, facts, true_at or _steady_at(run, moment))
    body: dict[str, object] = {
        "meaning": Meaning.RELEASED.value,
        "signer": signer.username,
        "witnessed": not (run.solo or facts.checked_later or true_at is not None),
        "label_read": read.label,
        "clock_read": read.clock,
        "prp_ml": prp_ml,
    }
    return _signed(
        run, signer=signer, body=body, tablet=tablet, by=by, moment=moment, true_at=true_at, seen=facts.position
    )  # fmt: skip


def discard_run(*, run: Run, disposal: str, tablet: Tablet | None, by: Person, moment: Moment) -> Signature:
    """Discard what a run made, with how it was disposed of; a run that was stopped is closed by it.

    Raises
    ------
    Refusal, Refusals
        If no disposal is written down, the run has ended, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=run.clinic, action=Action.PRACTICE if run.practice else Action.RELEASE)
    if not disposal.strip():
        raise Refusal("disposal", disposal, "it must be written down", "Say where it went, by your clinic's rule.")
    if found := blockers(stand(run), Step.DISCARDED, moment.at):
        raise Refusals(tuple(_refusals(found, Step.DISCARDED)))
    body: dict[str, object] = {
        "meaning": Meaning.DISCARDED.value, "signer": by.username, "witnessed": False, "words": disposal,
    }  # fmt: skip
    return _signed(run, signer=by, body=body, tablet=tablet, by=by, moment=moment)


def override_hold(
    *, run: Run, signer: Person, pin: str, tablet: Tablet | None, reason: str, by: Person, moment: Moment
) -> None:
    """Let a run past its hold limit, for a clinician's reason.

    Raises
    ------
    Refusal
        If the reason is missing, the limit not passed, the PIN wrong, the signer no clinician, or the run ended.
    """
    _refuse_signer(run, signer, Action.OVERRIDE)
    if not reason.strip():
        raise Refusal("reason", reason, "it must be given", "Say why this is released past the limit.")
    hold = hold_clock(stand(run))
    if hold is None or not hold.is_over(_steady_at(run, moment)):
        raise Refusal("hold", "not over", "it must have passed before it is overridden", "Release without it.")
    _check(signer, pin, tablet, moment.at)
    body: dict[str, object] = {"what": "hold", "words": reason}
    with transaction.atomic():
        if keep_entry(run, _told(run, Kind.OVERRIDDEN, body, signer=signer, by=by, tablet=tablet), moment).review:
            raise Refusal("run", run.code, "it has ended", "Look at how it ended.")


def _refuse_signer(run: Run, signer: Person, action: Action) -> None:
    refuse_unless_may(person=signer, clinic=run.clinic, action=Action.PRACTICE if run.practice else action)


def _refuse_hands(run: Run, signer: Person) -> None:
    """Refuse a second person whose own hands made what they would witness."""
    if run.solo:
        if signer.pk != run.preparer_id:
            remedy = "Open runs with two people where there are two."
            raise Refusal("signer", signer, "a solo run is read back twice by the same person", remedy)
        return
    entries = RunEntry.objects.of(run.clinic).filter(run=run, written_by=signer, step__in=AT_THE_HOOD)
    worked = entries.filter(kind__in=[Kind.DONE, Kind.BEGAN, Kind.TUBE]).exists()
    if signer.pk == run.preparer_id or worked:
        limit = "it must be somebody other than who prepared"
        raise Refusal("signer", signer, limit, "Ask a second person to sign.")


def _read_in_full(read: ReadBack, facts: RunFacts) -> float:
    """Return the volume that was read, once everything was and it agrees with the check."""
    if not (read.label and read.clock):
        limit = "label and clock must have been read back"
        raise Refusal("read_back", "not complete", limit, "Read label, volume and clock from the syringe.")
    if read.prp_ml is None:
        raise Refusal("prp_ml", "missing", "it must be read from the syringe", "Read the volume in mL.")
    low_ml, high_ml = LIMITS[Measure.PRP_ML]
    if not low_ml <= read.prp_ml <= high_ml:
        raise OutOfRange("prp_ml", read.prp_ml, low_ml, high_ml, "Read the volume in mL.")
    checked_ml = facts.checked.get("prp_ml")
    if checked_ml is not None and abs(read.prp_ml - checked_ml) > READINGS_DIFFER_ML:
        limit = f"at the check {checked_ml:g} mL were read; the two may differ by {READINGS_DIFFER_ML:g}"
        raise Refusal("prp_ml", read.prp_ml, limit, "Read it again, or amend the check.")
    return read.prp_ml


def _check(signer: Person, pin: str, tablet: Tablet | None, at: datetime) -> None:
    if tablet is None:
        limit = "a PIN counts only on an enrolled tablet"
        raise Refusal("tablet", "not enrolled", limit, "Ask a manager to enrol it on the People page.")
    check_pin(person=signer, tablet=tablet, pin=pin, at=at)


def _refuse_release(run: Run, facts: RunFacts, at: datetime) -> None:
    found = _refusals(blockers(facts, Step.RELEASED, at), Step.RELEASED)
    if not run.practice:
        found += refusals_of([use.lot for use in lots_of_run(run)], timezone.localdate(at))
    if found:
        raise Refusals(tuple(found))


def _refusals(found: Iterable[Blocker], step: Step) -> list[Refusal]:
    return [Refusal("step", step.value, one.reason.rstrip("."), one.remedy) for one in found]


def _steady_at(run: Run, moment: Moment) -> datetime:
    return steady(last_moment(run), moment, pace=run.pace).moment.at


def _told(
    run: Run,
    kind: Kind,
    body: dict[str, object],
    *,
    signer: Person,
    by: Person,
    tablet: Tablet | None,
    true_at: datetime | None = None,
) -> Told:
    return Told(
        kind=kind,
        step=stand(run).step,
        body=body,
        key=secrets.token_hex(16),
        by=signer,
        carried_by=by,
        tablet=tablet,
        true_at=true_at,
    )


def _signed(
    run: Run,
    *,
    signer: Person,
    body: dict[str, object],
    tablet: Tablet | None,
    by: Person,
    moment: Moment,
    true_at: datetime | None = None,
    seen: int | None = None,
) -> Signature:
    """Keep a signature; ``seen`` is the last entry that the signer knew of, where that decides."""
    with transaction.atomic():
        held = Run.objects.of(run.clinic).select_for_update().get(pk=run.pk)
        if seen is not None and held.positions != seen:
            limit = "more was told of it while it was signed"
            raise Refusal("run", run.code, limit, "Look again, then sign.")
        at = _steady_at(run, moment)
        told = _told(run, Kind.SIGNED, body, signer=signer, by=by, tablet=tablet, true_at=true_at)
        if keep_entry(run, told, moment).review:
            raise Refusal("run", run.code, "it has ended meanwhile", "Look at how it ended.")
        row = Signature(
            clinic=run.clinic,
            run=run,
            meaning=str(body["meaning"]),
            signer=signer,
            preparer=run.preparer,
            tablet=tablet,
            witnessed=bool(body["witnessed"]),
            words=str(body.get("words", "")),
            signed_at=at,
        )
        row.save(force_insert=True)
        write_entry(clinic=run.clinic, about=row, became=str(body["meaning"]), by=signer.username, at=at)
    return row
