"""Patients of a clinic, found by any identifier, and those who could be taken for each other."""

from collections.abc import Sequence

from django.db.models import Q

from plasmawright.practice.names import Identity, alerts_among, folded
from plasmawright.records.models import Clinic, Patient, Plan

FOUND_MAX = 50


def patients(clinic: Clinic, search: str = "") -> list[Patient]:
    """Return the patients that every word of ``search`` fits, by name; the first ``FOUND_MAX`` of them.

    A word fits a part of the name, in any case and without its accents, the beginning of a record number, or the
    beginning of a birth date written as 1961-04-23.
    """
    found = Patient.objects.of(clinic)
    for word in search.split():
        fits = Q(record_number__istartswith=word)
        if plain := folded(word):
            fits |= Q(name_folded__contains=plain)
        if word[:4].isdecimal() and word.isascii():
            fits |= Q(birth_on__startswith=word)
        found = found.filter(fits)
    return list(found.order_by("name_folded", "pk")[:FOUND_MAX])


def patient(clinic: Clinic, patient_id: int) -> Patient | None:
    """Return one patient of the clinic, or nothing."""
    return Patient.objects.of(clinic).filter(pk=patient_id).first()


def name_alerts(patients: Sequence[Patient]) -> dict[int, tuple[str, ...]]:
    """Return what to say beside each of these patients who could be taken for another of them."""
    people = [
        Identity(key=one.pk, name=one.name, birth_on=one.birth_on, record_number=one.record_number) for one in patients
    ]
    return dict(alerts_among(people))


def alerts_of(patient: Patient) -> tuple[str, ...]:
    """Return what to say beside one patient, among all who were born that day or share a word of the name."""
    close = Q(birth_on=patient.birth_on)
    for word in patient.name_folded.split():
        close |= Q(name_folded__contains=word)
    others = Patient.objects.of(patient.clinic).filter(close).exclude(pk=patient.pk).order_by("pk")
    found = (name_alerts([patient, other]).get(patient.pk, ()) for other in others[:FOUND_MAX])
    return tuple(words for said in found for words in said)


def reference_of(patient: Patient) -> str:
    """Return the opaque reference under which this patient's visits are planned."""
    return f"Patient {patient.pk}"


def plans_for(patient: Patient) -> list[Plan]:
    """Return the plans saved for a patient, newest first."""
    found = Plan.objects.of(patient.clinic).filter(visit__reference=reference_of(patient))
    return list(found.select_related("visit", "saved_by").order_by("-saved_at", "-pk"))
