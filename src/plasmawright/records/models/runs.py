"""Runs, every entry of them, their vessels and their signatures."""

import json
from collections.abc import Mapping
from typing import Any

from django.db import models

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import ENDS, Step
from plasmawright.records.models.intake import Intake
from plasmawright.records.models.patients import Patient
from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.models.plans import Plan
from plasmawright.records.models.tablets import Tablet
from plasmawright.records.scoped import ScopedManager

STEPS = [(step.value, step.value) for step in Step]
KINDS = [(kind.value, kind.value) for kind in Kind]
ENDED = [step.value for step in Step if step in ENDS]


class VesselKind(models.TextChoices):
    """What a vessel holds."""

    COUNT_TUBE = "count_tube", "count tube"
    TUBE = "tube", "tube"
    SECOND_TUBE = "second_tube", "second tube"
    PPP = "ppp", "platelet-poor plasma"
    SYRINGE = "syringe", "syringe"


class Run(models.Model):
    """One preparation at the bench.

    ``step``, ``positions`` and ``ended_at`` repeat what the entries say, for lists and for compare-and-set; where a
    run stands is always told from its entries. ``policy_text`` holds the clinic's choices as they were when it was
    opened. A practice run has no patient, and its clock goes ``pace`` times as fast.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    intake = models.ForeignKey(Intake, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=16)
    policy_text = models.TextField()
    preparer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    solo = models.BooleanField()
    practice = models.BooleanField()
    pace = models.FloatField(default=1.0)
    opened_at = models.DateTimeField()
    opened_boot_id = models.CharField(max_length=64)
    opened_boot_s = models.FloatField()
    step = models.CharField(max_length=20, choices=STEPS, default=Step.IDENTIFY.value)
    positions = models.PositiveIntegerField(default=0)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = ScopedManager["Run"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "code"], name="run_has_its_own_code"),
            models.CheckConstraint(condition=~models.Q(code=""), name="run_has_a_code"),
            models.CheckConstraint(
                condition=models.Q(practice=True, patient=None) | models.Q(practice=False, patient__isnull=False),
                name="only_a_practice_run_is_nobodys",
            ),
            models.CheckConstraint(
                condition=models.Q(pace=1.0) | models.Q(practice=True, pace__gt=0), name="only_practice_hurries"
            ),
            models.CheckConstraint(
                condition=models.Q(step__in=[step.value for step in Step]), name="run_step_is_known"
            ),
            models.CheckConstraint(
                condition=models.Q(step__in=ENDED, ended_at__isnull=False)
                | (~models.Q(step__in=ENDED) & models.Q(ended_at=None)),
                name="run_that_ended_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"run {self.code}"

    @property
    def policy_document(self) -> dict[str, Any]:
        """Return the clinic's choices at opening. Any: JSON may hold anything."""
        read: dict[str, Any] = json.loads(self.policy_text)
        return read


class RunEntry(models.Model):
    """One thing told of a run; never changed, only amended by another.

    ``at`` is on the run's steady clock. What was entered later from paper says when it truly happened in
    ``true_at``. ``written_by`` tapped; ``carried_by`` was signed in when it reached the server.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=KINDS)
    step = models.CharField(max_length=20, choices=STEPS)
    body_text = models.TextField()
    at = models.DateTimeField()
    boot_id = models.CharField(max_length=64)
    boot_s = models.FloatField()
    true_at = models.DateTimeField(null=True, blank=True)
    jump_s = models.FloatField(default=0.0)
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    carried_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    device_seq = models.PositiveBigIntegerField(null=True, blank=True)
    device_at = models.DateTimeField(null=True, blank=True)
    key = models.CharField(max_length=64)
    later = models.BooleanField(default=False)
    review = models.BooleanField(default=False)

    objects = ScopedManager["RunEntry"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run", "position"], name="run_entry_stands_alone_in_its_place"),
            models.UniqueConstraint(fields=["clinic", "key"], name="run_entry_arrives_once"),
            models.CheckConstraint(condition=models.Q(position__gte=1), name="run_entries_are_counted_from_one"),
            models.CheckConstraint(condition=~models.Q(key=""), name="run_entry_has_a_key"),
            models.CheckConstraint(
                condition=models.Q(later=True, true_at__isnull=False) | models.Q(later=False, true_at=None),
                name="what_was_entered_later_says_when_it_was",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run} {self.position} {self.kind}"

    @property
    def body(self) -> Mapping[str, Any]:
        """Return what the entry holds. Any: JSON may hold anything."""
        read: Mapping[str, Any] = json.loads(self.body_text)
        return read


class Vessel(models.Model):
    """A tube or syringe of a run, known by an opaque code that stands on its label."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=16)
    kind = models.CharField(max_length=12, choices=VesselKind.choices)
    number = models.PositiveSmallIntegerField()
    product = models.CharField(max_length=8, blank=True)
    site = models.CharField(max_length=200, blank=True)
    volume_ml = models.FloatField(null=True, blank=True)

    objects = ScopedManager["Vessel"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "code"], name="vessel_has_its_own_code"),
            models.UniqueConstraint(fields=["run", "kind", "number"], name="vessel_stands_once_in_a_run"),
            models.CheckConstraint(condition=models.Q(kind__in=VesselKind.values), name="vessel_kind_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"


class Meaning(models.TextChoices):
    """What a signature says."""

    RELEASED = "released", "Released: identity, label, volume and clock were read back and agree"
    DISCARDED = "discarded", "Discarded: disposed of as written"


class Signature(models.Model):
    """Who signed for a run, and whether somebody other than the preparer did."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="+")
    meaning = models.CharField(max_length=12, choices=Meaning.choices)
    signer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    preparer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    witnessed = models.BooleanField()
    words = models.TextField(blank=True)
    signed_at = models.DateTimeField()

    objects = ScopedManager["Signature"]()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(meaning__in=Meaning.values), name="signature_means_something"),
            models.CheckConstraint(
                condition=models.Q(witnessed=False) | ~models.Q(signer=models.F("preparer")),
                name="nobody_witnesses_their_own_run",
            ),
            models.CheckConstraint(
                condition=~models.Q(meaning="discarded") | ~models.Q(words=""), name="disposal_is_written_down"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meaning} by {self.signer}"


class Foresight(models.Model):
    """What the model said of the syringe once something had been seen; ``upto_position`` is the entry it knew of."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="+")
    upto_position = models.PositiveIntegerField()
    document_text = models.TextField()
    kept_at = models.DateTimeField()

    objects = ScopedManager["Foresight"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run", "upto_position"], name="foresight_is_kept_once_for_a_place"),
        ]

    def __str__(self) -> str:
        return f"{self.run} after {self.upto_position}"

    @property
    def document(self) -> dict[str, Any]:
        """Return the foresight as it was told. Any: JSON may hold anything."""
        read: dict[str, Any] = json.loads(self.document_text)
        return read
