"""What a clinic chose for itself; each choice is a row of its own, and the last one of a key stands."""

from django.db import models

from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class ClinicSetting(models.Model):
    """One choice as it was made, never changed: the choices before it stay readable."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=60)
    value_text = models.CharField(max_length=60)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["ClinicSetting"]()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(key=""), name="clinic_setting_has_a_key"),
            models.CheckConstraint(condition=~models.Q(value_text=""), name="clinic_setting_has_a_value"),
        ]
        indexes = [models.Index(fields=["clinic", "key"], name="clinic_setting_key")]

    def __str__(self) -> str:
        return f"{self.key} {self.value_text}"
