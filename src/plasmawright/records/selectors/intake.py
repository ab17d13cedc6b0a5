"""Intakes of a patient, and what they say."""

from plasmawright.records.models import Clinic, Intake, Membership, Patient, Person, Role


def intakes_of(patient: Patient) -> list[Intake]:
    """Return a patient's intakes, newest first."""
    found = Intake.objects.of(patient.clinic).filter(patient=patient)
    return list(found.select_related("signed_by", "opened_by").order_by("-opened_at", "-pk"))


def intake(clinic: Clinic, intake_id: int) -> Intake | None:
    """Return one intake of the clinic with its patient, or nothing."""
    found = Intake.objects.of(clinic).filter(pk=intake_id)
    return found.select_related("patient", "signed_by", "opened_by", "clinic").first()


def last_count(patient: Patient) -> dict[str, object]:
    """Return the blood count told last, as an intake keeps it; empty where none was."""
    return next((kept.answers["count"] for kept in intakes_of(patient) if kept.answers.get("count")), {})


def clinicians_of(clinic: Clinic) -> list[Person]:
    """Return who may sign an intake, by name."""
    held = Membership.objects.of(clinic).filter(role=Role.CLINICIAN, ended_at=None, person__is_active=True)
    return sorted({row.person for row in held.select_related("person")}, key=lambda person: person.display_name)
