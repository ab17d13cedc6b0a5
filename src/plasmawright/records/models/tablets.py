"""Tablets a clinic knows."""

from django.db import models

from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class Tablet(models.Model):
    """A tablet that stands in the clinic; it shows a secret of which only the SHA-256 is kept here."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_at = models.DateTimeField()
    enrolled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = ScopedManager["Tablet"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["clinic", "name"], condition=models.Q(revoked_at=None), name="enrolled_tablet_has_its_own_name"
            ),
            models.CheckConstraint(condition=~models.Q(name=""), name="tablet_has_a_name"),
            models.CheckConstraint(condition=~models.Q(token_hash=""), name="tablet_has_a_secret"),
        ]

    def __str__(self) -> str:
        return self.name
