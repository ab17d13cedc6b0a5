"""Patients added and corrected."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from plasmawright.errors import Refusal, Refusals
from plasmawright.practice.names import checked_name, folded
from plasmawright.practice.person import SexForBloodVolume, body_mass_index_kg_m2, checked_height_cm, checked_weight_kg
from plasmawright.records.models import Clinic, Patient, Person
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.services.ledger import write_entry

RECORD_NUMBER_CHARACTERS_MAX = 40
BORN_FROM = date(1890, 1, 1)
NUMBER_GIVEN = "N-{:05d}"
"""The form of the record number given to whoever has none."""


@dataclass(frozen=True, kw_only=True)
class _Told:
    name: str
    birth_on: date
    record_number: str
    sex_for_blood_volume: str
    weight_kg: float | None
    height_cm: float | None


def add_patient(
    *,
    clinic: Clinic,
    name: str,
    birth_on: date,
    record_number: str,
    sex_for_blood_volume: str,
    by: Person,
    at: datetime,
    weight_kg: float | None = None,
    height_cm: float | None = None,
) -> Patient:
    """Add a patient; an empty record number is given one.

    Raises
    ------
    Refusal
        If ``by`` may not.
    Refusals
        If a name, date or number cannot be, or the record number is another patient's.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_PATIENTS)
    told = _Told(
        name=name,
        birth_on=birth_on,
        record_number=record_number,
        sex_for_blood_volume=sex_for_blood_volume,
        weight_kg=weight_kg,
        height_cm=height_cm,
    )
    with transaction.atomic():
        patient = Patient(clinic=clinic, added_at=at, added_by=by, record_number=_number_given(clinic))
        _save(patient, told, at=at)
        write_entry(clinic=clinic, about=patient, became="added", by=by.username, at=at)
    return patient


def correct_patient(
    *,
    patient: Patient,
    name: str,
    birth_on: date,
    record_number: str,
    sex_for_blood_volume: str,
    by: Person,
    at: datetime,
    weight_kg: float | None = None,
    height_cm: float | None = None,
) -> Patient:
    """Correct what is known of a patient; what stood before is kept beside the ledger's line.

    Raises as :func:`add_patient` does.
    """
    clinic = patient.clinic
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_PATIENTS)
    told = _Told(
        name=name,
        birth_on=birth_on,
        record_number=record_number,
        sex_for_blood_volume=sex_for_blood_volume,
        weight_kg=weight_kg,
        height_cm=height_cm,
    )
    with transaction.atomic():
        kept = Patient.objects.of(clinic).select_for_update().get(pk=patient.pk)
        before = _in_words(kept)
        _save(kept, told, at=at)
        write_entry(clinic=clinic, about=kept, became="corrected", by=by.username, at=at, words=before)
    return kept


def _save(patient: Patient, told: _Told, *, at: datetime) -> None:
    """Save what was told of a patient; an empty record number leaves the one that stands."""
    found: list[Refusal] = []
    try:
        patient.name = checked_name(told.name)
        patient.name_folded = folded(patient.name)
    except Refusal as refusal:
        found.append(refusal)
    found += _refused_identity(told, at)
    found += _refused_body(told.weight_kg, told.height_cm)
    if found:
        raise Refusals(found)
    patient.birth_on, patient.sex_for_blood_volume = told.birth_on, told.sex_for_blood_volume
    patient.weight_kg, patient.height_cm = told.weight_kg, told.height_cm
    patient.record_number = told.record_number.strip() or patient.record_number
    _save_under_a_free_number(patient)


def _refused_identity(told: _Told, at: datetime) -> list[Refusal]:
    found, number, sex = [], told.record_number.strip(), told.sex_for_blood_volume
    if not BORN_FROM <= told.birth_on <= at.date():
        limit = f"it must lie between {BORN_FROM} and today"
        remedy = "Write year, month and day, such as 1961-04-23."
        found.append(Refusal("patient.birth_on", told.birth_on, limit, remedy))
    if len(number) > RECORD_NUMBER_CHARACTERS_MAX or not number.isprintable():
        limit = f"it must be at most {RECORD_NUMBER_CHARACTERS_MAX} letters, digits and signs"
        found.append(Refusal("patient.record_number", number, limit, "Write it as it stands on the file."))
    if sex not in list(SexForBloodVolume):
        limit, remedy = "it must be female or male", "Choose which of the two published formulas to use."
        found.append(Refusal("patient.sex_for_blood_volume", sex or "empty", limit, remedy))
    return found


def _refused_body(weight_kg: float | None, height_cm: float | None) -> list[Refusal]:
    try:
        if weight_kg is not None:
            checked_weight_kg(weight_kg)
        if height_cm is not None:
            checked_height_cm(height_cm)
        if weight_kg is not None and height_cm is not None:
            body_mass_index_kg_m2(weight_kg=weight_kg, height_cm=height_cm)
    except Refusal as refusal:
        # the index stands in no entry of its own: whoever typed it looks at the weight first
        field = refusal.field.replace("body_mass_index", "weight_kg")
        return [Refusal(field, refusal.value, refusal.limit, refusal.remedy)]
    return []


def _number_given(clinic: Clinic) -> str:
    """Return a record number that nobody in ``clinic`` has."""
    taken = set(
        Patient.objects.of(clinic).filter(record_number__startswith="N-").values_list("record_number", flat=True)
    )
    number = len(taken) + 1
    while NUMBER_GIVEN.format(number) in taken:
        number += 1
    return NUMBER_GIVEN.format(number)


def _save_under_a_free_number(patient: Patient) -> None:
    """Save a patient; in a race the database alone knows whether the record number is free."""
    others = Patient.objects.of(patient.clinic).exclude(pk=patient.pk)
    remedy = "Search for it first: this may be the same person."
    taken = Refusal("patient.record_number", patient.record_number, "it is another patient's already", remedy)
    if others.filter(record_number=patient.record_number).exists():
        raise Refusals([taken])
    try:
        with transaction.atomic():
            patient.save()
    except IntegrityError as lost_race:
        raise Refusals([taken]) from lost_race


def _in_words(patient: Patient) -> str:
    body = f"{patient.weight_kg or '?'} kg, {patient.height_cm or '?'} cm"
    return f"{patient.name}, {patient.birth_on}, {patient.record_number}, {patient.sex_for_blood_volume}, {body}"
