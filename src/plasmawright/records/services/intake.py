"""Intakes asked and decided."""

import json
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plasmawright.errors import Refusal, Refusals
from plasmawright.practice.intake import answers_from
from plasmawright.practice.intake_cautions import Asked, Weight, standing_from
from plasmawright.practice.person import SexForBloodVolume
from plasmawright.records.models import Decision, Intake, Patient, Person
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.settings import thresholds_of
from plasmawright.records.services.ledger import write_entry

REASON_CHARACTERS_MIN, REASON_CHARACTERS_MAX = 3, 500


def open_intake(*, patient: Patient, answers: Mapping[str, object], by: Person, at: datetime) -> Intake:
    """Keep the answers of a day with the cautions they come to by the clinic's numbers of that day.

    Raises
    ------
    Refusal
        If ``by`` may not.
    Refusals
        If a question was left open, or a number cannot be.
    """
    refuse_unless_may(person=by, clinic=patient.clinic, action=Action.INTAKE)
    read = answers_from(answers, on=at.date())
    asked = Asked(
        on=at.date(),
        birth_on=patient.birth_on,
        sex=SexForBloodVolume(patient.sex_for_blood_volume),
        thresholds=thresholds_of(patient.clinic),
    )
    cautions = [standing.as_document() for standing in standing_from(read, asked)]
    intake = Intake(
        clinic=patient.clinic,
        patient=patient,
        answers_text=json.dumps(read.as_document(), ensure_ascii=False),
        cautions_text=json.dumps(cautions, ensure_ascii=False),
        opened_at=at,
        opened_by=by,
    )
    with transaction.atomic():
        intake.save(force_insert=True)
        write_entry(clinic=patient.clinic, about=intake, became="opened", by=by.username, at=at)
    return intake


def sign_intake(*, intake: Intake, decision: str, reason: str, consent: bool, by: Person, at: datetime) -> Intake:
    """Decide on an intake, once; where a caution stands, going on needs a reason.

    Parameters
    ----------
    consent
        Whether the patient has consented; going on needs it.

    Raises
    ------
    Refusal
        If ``by`` is no clinician, or somebody decided before.
    Refusals
        If the decision is none, the reason is missing or too long, or consent is.
    """
    clinic, said = intake.clinic, reason.strip()
    refuse_unless_may(person=by, clinic=clinic, action=Action.SIGN_INTAKE)
    if found := _refused(intake, decision, said, consent=consent):
        raise Refusals(found)
    with transaction.atomic():
        changed = (
            Intake.objects.of(clinic)
            .filter(pk=intake.pk, decision=Decision.OPEN)
            .update(decision=decision, reason=said, consent_at=at if consent else None, signed_by=by, signed_at=at)
        )
        kept = Intake.objects.of(clinic).get(pk=intake.pk)
        if not changed:
            raise Refusal("intake", kept.decision, "it is decided already", "Look again, or open a new intake.")
        write_entry(clinic=clinic, about=kept, became=f"signed {decision}", by=by.username, at=at, words=said)
    return kept


def _refused(intake: Intake, decision: str, reason: str, *, consent: bool) -> list[Refusal]:
    found = []
    if decision not in {Decision.GO_ON, Decision.NOT_TODAY}:
        found.append(
            Refusal("intake.decision", decision or "open", "it must be go on or not today", "Choose one of the two.")
        )
    fewest, most = REASON_CHARACTERS_MIN, REASON_CHARACTERS_MAX
    if decision == Decision.GO_ON and needs_reason(intake) and len(reason) < fewest:
        limit = "going on while a caution stands needs one"
        found.append(Refusal("intake.reason", reason or "empty", limit, "Write why, in a few words."))
    if len(reason) > most:
        limit = f"it must be at most {most} characters long"
        found.append(Refusal("intake.reason", reason, limit, "Write the heart of it."))
    if decision == Decision.GO_ON and not consent:
        found.append(
            Refusal("intake.consent", "not given", "going on needs the patient's consent", "Ask, then mark it.")
        )
    return found


def needs_reason(intake: Intake) -> bool:
    """Return whether a caution stands that going on needs a reason for."""
    return any(caution["weight"] != Weight.CARE for caution in intake.cautions)
