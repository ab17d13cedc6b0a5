"""What was asked before a visit, what it came to, and who decided."""

import json
from typing import Any

from django.db import models

from plasmawright.records.models.patients import Patient
from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class Decision(models.TextChoices):
    """What a clinician decided; open until one did."""

    OPEN = "open"
    GO_ON = "go_on"
    NOT_TODAY = "not_today"


class Intake(models.Model):
    """One intake: the answers and the cautions as they stood, then one clinician's decision, which stays.

    ``answers_text`` and ``cautions_text`` are JSON in the form of ``practice.intake`` and
    ``practice.intake_cautions``; the cautions keep the clinic's numbers of the day.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+")
    answers_text = models.TextField()
    cautions_text = models.TextField()
    consent_at = models.DateTimeField(null=True, blank=True)
    decision = models.CharField(max_length=10, choices=Decision.choices, default=Decision.OPEN)
    reason = models.TextField(blank=True, default="")
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["Intake"]()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(decision__in=Decision.values), name="intake_decision_is_known"),
            models.CheckConstraint(
                condition=models.Q(decision=Decision.OPEN, signed_by=None, signed_at=None)
                | (~models.Q(decision=Decision.OPEN) & models.Q(signed_by__isnull=False, signed_at__isnull=False)),
                name="intake_is_decided_by_someone",
            ),
            models.CheckConstraint(
                condition=~models.Q(decision=Decision.GO_ON) | models.Q(consent_at__isnull=False),
                name="intake_goes_on_with_consent",
            ),
            models.CheckConstraint(condition=~models.Q(answers_text=""), name="intake_was_answered"),
            models.CheckConstraint(condition=~models.Q(cautions_text=""), name="intake_was_judged"),
        ]
        indexes = [models.Index(fields=["clinic", "patient"], name="intake_patient")]

    def __str__(self) -> str:
        return f"intake {self.pk}"

    @property
    def answers(self) -> dict[str, Any]:
        """Return the answers as kept. Any: JSON may hold anything."""
        read: dict[str, Any] = json.loads(self.answers_text)
        return read

    @property
    def cautions(self) -> list[dict[str, str]]:
        """Return the cautions as kept: question, weight, text, source, status."""
        read: list[dict[str, str]] = json.loads(self.cautions_text)
        return read
