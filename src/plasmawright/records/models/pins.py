"""PINs, by which the people of a clinic sign on its own tablets."""

from django.db import models

from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.models.tablets import Tablet
from plasmawright.records.scoped import ScopedManager


class Pin(models.Model):
    """A person's PIN in one clinic: what a manager of one resets opens nothing in another."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    pin_hash = models.CharField(max_length=128)
    set_at = models.DateTimeField()
    set_by = models.CharField(max_length=120)

    objects = ScopedManager["Pin"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "person"], name="person_has_one_pin_in_a_clinic"),
            models.CheckConstraint(condition=models.Q(pin_hash__startswith="argon2$"), name="pin_is_kept_as_argon2"),
        ]

    def __str__(self) -> str:
        return f"PIN of {self.person}"


class PinTry(models.Model):
    """How often in a row one person's PIN was mistaken on one tablet, and until when they wait there."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    failures = models.PositiveIntegerField(default=0)
    wait_until = models.DateTimeField(null=True, blank=True)

    objects = ScopedManager["PinTry"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["tablet", "person"], name="tries_are_counted_once_for_each_tablet"),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.tablet}: {self.failures}"
