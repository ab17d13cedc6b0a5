"""Pulls of the stop-line drill: how closely a hand stops where it means to."""

from django.db import models

from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class DrillPull(models.Model):
    """One weighed pull; never changed. ``got_mm`` follows from what was weighed and the bore."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    series = models.CharField(max_length=32)
    number = models.PositiveSmallIntegerField()
    inner_diameter_mm = models.FloatField()
    aimed_mm = models.FloatField()
    added_g = models.FloatField()
    taken_g = models.FloatField()
    got_mm = models.FloatField()
    pulled_at = models.DateTimeField()

    objects = ScopedManager["DrillPull"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["series", "number"], name="drill_pull_stands_once_in_its_series"),
            models.CheckConstraint(condition=models.Q(aimed_mm__gte=0), name="drill_aims_above_the_colour"),
            models.CheckConstraint(
                condition=models.Q(taken_g__gte=0, added_g__gte=models.F("taken_g")), name="drill_leaves_something"
            ),
            models.CheckConstraint(condition=models.Q(inner_diameter_mm__gt=0), name="drill_tube_has_a_bore"),
        ]

    def __str__(self) -> str:
        return f"{self.person} pull {self.number}"
