"""Patients of a clinic, by the identifiers that labels and people compare."""

from datetime import date

from django.db import models

from plasmawright.practice.person import SexForBloodVolume
from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class Patient(models.Model):
    """Who is treated: three identifiers, two of which must agree wherever a vessel changes hands.

    ``name_folded`` is the name without case, accents and punctuation, for searching. What was not measured is null.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    name_folded = models.CharField(max_length=480)
    birth_on = models.DateField()
    record_number = models.CharField(max_length=40)
    sex_for_blood_volume = models.CharField(max_length=6, choices=[(sex.value, sex.value) for sex in SexForBloodVolume])
    weight_kg = models.FloatField(null=True, blank=True)
    height_cm = models.FloatField(null=True, blank=True)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["Patient"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "record_number"], name="record_number_is_one_patients"),
            models.CheckConstraint(condition=~models.Q(name=""), name="patient_has_a_name"),
            models.CheckConstraint(condition=~models.Q(record_number=""), name="patient_has_a_record_number"),
            models.CheckConstraint(
                condition=models.Q(birth_on__gte=date(1890, 1, 1)), name="patient_was_born_in_living_memory"
            ),
            models.CheckConstraint(
                condition=models.Q(sex_for_blood_volume__in=[sex.value for sex in SexForBloodVolume]),
                name="patient_formula_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(weight_kg=None) | models.Q(weight_kg__gte=2, weight_kg__lte=400),
                name="patient_weighs_what_people_weigh",
            ),
            models.CheckConstraint(
                condition=models.Q(height_cm=None) | models.Q(height_cm__gte=40, height_cm__lte=260),
                name="patient_measures_what_people_measure",
            ),
        ]
        indexes = [models.Index(fields=["clinic", "birth_on"], name="patient_birth")]

    def __str__(self) -> str:
        return f"patient {self.pk}"
