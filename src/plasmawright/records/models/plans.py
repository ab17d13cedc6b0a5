"""Visits, the plans made for them, and the parameters the plans stand on."""

import json
from typing import Any

from django.db import models

from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class Origin(models.TextChoices):
    """Where a parameter set comes from."""

    LITERATURE = "literature"
    FITTED = "fitted"
    LEARNED = "learned"


class Visit(models.Model):
    """What was wanted and what was at hand, as given and as read; ``reference`` is opaque, never a name."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    reference = models.CharField(max_length=120, blank=True)
    visit_text = models.TextField()
    document_text = models.TextField()
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["Visit"]()

    class Meta:
        constraints = [models.CheckConstraint(condition=~models.Q(document_text=""), name="visit_was_read")]

    def __str__(self) -> str:
        return self.reference or f"visit {self.pk}"

    @property
    def document(self) -> dict[str, Any]:
        """Return the visit as it was read: sections and keys of the visit file. Any: JSON may hold anything."""
        read: dict[str, Any] = json.loads(self.document_text)
        return read


class ParameterSet(models.Model):
    """Joint draws for a setting, in the form of the contract's SET.json; never changed once kept."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    origin = models.CharField(max_length=12, choices=Origin.choices)
    digest = models.CharField(max_length=64)
    document_text = models.TextField()
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["ParameterSet"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "digest"], name="parameter_set_is_kept_once"),
            models.CheckConstraint(condition=models.Q(origin__in=Origin.values), name="parameter_origin_is_known"),
            models.CheckConstraint(condition=~models.Q(digest=""), name="parameter_set_has_a_digest"),
        ]

    def __str__(self) -> str:
        return f"{self.origin} {self.digest[:8]}"

    @property
    def document(self) -> dict[str, Any]:
        """Return the set in the form of SET.json. Any: JSON may hold anything."""
        read: dict[str, Any] = json.loads(self.document_text)
        return read


class Plan(models.Model):
    """One answer to one visit with everything it was computed from; never changed once saved.

    ``margin_mm`` is the stop a person settled on, null where the plan's own stands; ``parameter_set`` is null for the
    published numbers; ``result_text`` is the answer in the form ``plan --json`` prints.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="+")
    visit_text = models.TextField()
    result_text = models.TextField()
    model_version = models.CharField(max_length=60)
    parameter_set = models.ForeignKey(ParameterSet, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    draws = models.PositiveIntegerField()
    seed = models.BigIntegerField()
    margin_mm = models.FloatField(null=True, blank=True)
    inputs_digest = models.CharField(max_length=64)
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["Plan"]()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(draws__gte=1), name="plan_stands_on_a_draw"),
            models.CheckConstraint(condition=models.Q(seed__gte=0), name="plan_seed_is_not_negative"),
            models.CheckConstraint(
                condition=models.Q(margin_mm=None) | models.Q(margin_mm__gte=0), name="plan_stops_above_the_cells"
            ),
            models.CheckConstraint(condition=~models.Q(model_version=""), name="plan_names_its_model"),
            models.CheckConstraint(condition=~models.Q(inputs_digest=""), name="plan_has_a_digest_of_its_inputs"),
            models.CheckConstraint(condition=~models.Q(result_text=""), name="plan_has_a_result"),
        ]

    def __str__(self) -> str:
        return f"plan {self.pk}"

    @property
    def answer(self) -> dict[str, Any]:
        """Return the stored answer as ``plan --json`` prints it. Any: JSON may hold anything."""
        read: dict[str, Any] = json.loads(self.result_text)
        return read
