"""Runs opened with their vessels and lots, and what the model says of them."""

import json
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from plasmawright.bench.moments import Moment
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import (
    Clinic,
    Foresight,
    Intake,
    Lot,
    Patient,
    Person,
    Plan,
    Run,
    Vessel,
    VesselKind,
)
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.checks import opening_refusals
from plasmawright.records.selectors.lots import refusals_of
from plasmawright.records.selectors.settings import policy_of
from plasmawright.records.services.ledger import write_entry
from plasmawright.records.services.lots import use_lot

UNMISTAKABLE = "ABCDEFGHJKLMNPQRTUVWXY346789"
CODE_LENGTH = 8
INTAKE_HOLDS = timedelta(hours=24)
"""How long a signed intake speaks for a visit: cautions are asked once for each, and not for the next day's."""


@transaction.atomic
def open_run(
    *,
    plan: Plan,
    patient: Patient | None,
    intake: Intake | None,
    lots: Sequence[tuple[Lot, int]],
    solo: bool,
    practice: bool,
    by: Person,
    moment: Moment,
    pace: float = 1.0,
) -> Run:
    """Open a run: its vessels get their codes, and the lots it uses leave the shelf.

    Raises
    ------
    Refusal, Refusals
        If the intake is not signed to go on, the patient has a run open, a lot is out of date or recalled, a check
        of the bench failed, or the role does not allow it.
    """
    clinic = plan.clinic
    refuse_unless_may(person=by, clinic=clinic, action=Action.PRACTICE if practice else Action.PREPARE)
    if solo and not practice and not policy_of(clinic).solo:
        limit = "this clinic's runs are checked by a second person"
        raise Refusal("solo", "yes", limit, "Open it for two, or have a manager change the setting.")
    if not practice:
        _refuse_unready(clinic, patient, intake, moment.at)
        _refuse_draw(plan)
        on = timezone.localdate(moment.at)
        if found := [*refusals_of(_locked(lots, clinic), on), *opening_refusals(clinic, rotor=None)]:
            raise Refusals(tuple(found))
    run = Run(
        clinic=clinic,
        patient=patient,
        intake=intake,
        plan=plan,
        code=_code(),
        policy_text=json.dumps(asdict(replace(policy_of(clinic), solo=solo))),
        preparer=by,
        solo=solo,
        practice=practice,
        pace=pace,
        opened_at=moment.at,
        opened_boot_id=moment.boot_id,
        opened_boot_s=moment.boot_s,
    )
    run.save(force_insert=True)
    write_entry(clinic=clinic, about=run, became="opened", by=by.username, at=moment.at)
    _make_vessels(run, by=by, at=moment.at)
    if not practice:
        for lot, quantity in lots:
            use_lot(run=run, lot=lot, quantity=quantity, by=by, at=moment.at)
    return run


def _refuse_unready(clinic: Clinic, patient: Patient | None, intake: Intake | None, at: datetime) -> None:
    if patient is None or patient.clinic_id != clinic.pk:
        raise Refusal("patient", patient or "missing", "a run is for one patient of this clinic", "Choose the patient.")
    if intake is None or intake.patient_id != patient.pk:
        raise Refusal("intake", "missing", "a run needs this visit's intake", "Go through the intake first.")
    if intake.decision != "go_on" or intake.signed_at is None:
        limit = "a clinician must have signed it to go on"
        raise Refusal("intake", "not signed to go on", limit, "Ask a clinician to decide and sign.")
    if at - intake.signed_at > INTAKE_HOLDS:
        limit = f"it must have been signed within {INTAKE_HOLDS.total_seconds() / 3600:g} h"
        raise Refusal("intake", "of another day", limit, "Ask the questions again for this visit.")
    if intake.consent_at is None:
        raise Refusal("intake.consent", "missing", "the patient must have consented", "Record the consent.")
    # locked, so that two people who start one patient at once do not both succeed
    Patient.objects.of(clinic).select_for_update().get(pk=patient.pk)
    standing = Run.objects.of(clinic).filter(patient=patient, ended_at=None).first()
    if standing is not None:
        limit = f"run {standing.code} of this patient is still open"
        raise Refusal("patient", patient, limit, "Go on with it on the Bench, or end it first.")


def _locked(lots: Sequence[tuple[Lot, int]], clinic: Clinic) -> list[Lot]:
    """Return the lots as they stand, locked before the ledger is, as whoever recalls or counts one locks them."""
    held = Lot.objects.of(clinic).select_for_update(of=("self",)).select_related("supply")
    return list(held.filter(pk__in=[lot.pk for lot, _ in lots]).order_by("pk"))


def _refuse_draw(plan: Plan) -> None:
    """Refuse a draw that the tube for counting takes past the visit's limit: it is blood of the same stick."""
    count_ml = policy_of(plan.clinic).count_tube_ml
    drawn_ml = float(plan.answer["chosen"]["blood_ml"]) + count_ml
    limit_ml = float(plan.visit.document["bench"]["max_blood_ml"])
    if drawn_ml > limit_ml:
        limit = f"with {count_ml:g} mL for counting it must stay within this visit's {limit_ml:g} mL"
        raise Refusal("draw_ml", drawn_ml, limit, "Plan fewer tubes, or set the tube for counting to 0.")


def _code() -> str:
    return "".join(secrets.choice(UNMISTAKABLE) for _ in range(CODE_LENGTH))


def _make_vessels(run: Run, *, by: Person, at: datetime) -> None:
    plan = run.plan.answer["chosen"]
    wanted: list[Vessel] = []
    if run.policy_document["count_tube_ml"] > 0:
        wanted.append(new_vessel(run, VesselKind.COUNT_TUBE, 1))
    wanted += [new_vessel(run, VesselKind.TUBE, number) for number in range(1, int(plan["tubes"]) + 1)]
    wanted += [new_vessel(run, VesselKind.SECOND_TUBE, number) for number in range(1, int(plan["hard"]["tubes"]) + 1)]
    wanted.append(new_vessel(run, VesselKind.PPP, 1))
    for number, site in enumerate(plan["sites"], start=1):
        side = "" if site["side"] == "none" else f" ({site['side']})"
        syringe = new_vessel(run, VesselKind.SYRINGE, number)
        syringe.product, syringe.volume_ml = site["product"], site["volume_ml"]
        syringe.site = f"{site['name']}{side}"[:200]
        wanted.append(syringe)
    for vessel in wanted:
        keep_vessel(vessel, by=by, at=at)


def new_vessel(run: Run, kind: VesselKind, number: int) -> Vessel:
    """Return a vessel with a fresh code, not kept yet."""
    return Vessel(clinic=run.clinic, run=run, code=_code(), kind=kind, number=number)


def keep_vessel(vessel: Vessel, *, by: Person, at: datetime) -> None:
    """Keep a vessel: from now on its label may be printed."""
    vessel.save(force_insert=True)
    write_entry(clinic=vessel.clinic, about=vessel, became="labelled", by=by.username, at=at)


@transaction.atomic
def keep_foresight(*, run: Run, upto_position: int, document: Mapping[str, object], by: Person, at: datetime) -> None:
    """Keep what the model said of a run after an entry; said again, the first stands.

    Raises
    ------
    Refusal
        If the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=run.clinic, action=Action.READ)
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    kept, is_new = Foresight.objects.of(run.clinic).get_or_create(
        run=run,
        upto_position=upto_position,
        defaults={"clinic": run.clinic, "document_text": text, "kept_at": at},
    )
    if is_new:
        write_entry(clinic=run.clinic, about=kept, became="foreseen", by=by.username, at=at)
