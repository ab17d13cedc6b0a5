"""Checks of what spins, times, weighs, moves air and holds blood; each stands as it was written."""

from django.db import models

from plasmawright.practice.checks import CheckKind
from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.models.shelf import Centrifuge, TubeKind
from plasmawright.records.scoped import ScopedManager

KINDS = [(kind.value, kind.value) for kind in CheckKind]


class Check(models.Model):
    """One check; ``due_on`` is the last day on which it stands.

    Speed and timer are a centrifuge's, a bore is a tube kind's, a hood and a scale are known by ``name``. ``set_to``
    and ``read`` are in rpm, s, g or mm; ``tolerance`` is what the clinic chose that day: a share for speed and timer,
    g for a scale.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=KINDS)
    centrifuge = models.ForeignKey(Centrifuge, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    tube_kind = models.ForeignKey(TubeKind, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60, blank=True)
    done_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    set_to = models.FloatField(null=True, blank=True)
    read = models.FloatField(null=True, blank=True)
    tolerance = models.FloatField(null=True, blank=True)
    reading_text = models.CharField(max_length=240)
    passed = models.BooleanField()
    written_at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["Check"]()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=["speed", "timer"], centrifuge__isnull=False, tube_kind=None, name="")
                | models.Q(kind="bore", centrifuge=None, tube_kind__isnull=False, name="")
                | (models.Q(kind__in=["hood", "scale"], centrifuge=None, tube_kind=None) & ~models.Q(name="")),
                name="check_says_what_was_checked",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="bore", due_on=None, read__isnull=False)
                | models.Q(kind="hood", due_on__isnull=False)
                | models.Q(
                    kind__in=["speed", "timer", "scale"],
                    due_on__isnull=False,
                    set_to__isnull=False,
                    read__isnull=False,
                    tolerance__isnull=False,
                ),
                name="check_says_what_was_read",
            ),
            models.CheckConstraint(condition=~models.Q(reading_text=""), name="check_is_told_in_words"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.about}, {self.done_on}"

    @property
    def about(self) -> str:
        """Return the name of what was checked."""
        return str(self.centrifuge or self.tube_kind or self.name)
