"""What stands on the bench: centrifuges, their rotors, kinds of tube, and the adapters that carry one in the other."""

from django.db import models

from plasmawright.records.models.people import Clinic
from plasmawright.records.scoped import ScopedManager


class BottomShape(models.TextChoices):
    """How a tube ends."""

    FLAT = "flat"
    ROUND = "round"
    CONICAL = "conical"


class Centrifuge(models.Model):
    """A machine that spins; its speed and its timer are checked."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    serial_number = models.CharField(max_length=60, blank=True)

    objects = ScopedManager["Centrifuge"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "name"], name="centrifuge_has_its_own_name"),
            models.CheckConstraint(condition=~models.Q(name=""), name="centrifuge_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name


class Rotor(models.Model):
    """A centrifuge's rotor; 90 degrees is a swing-out. ``centrifuge`` is null where nobody has said yet."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    centrifuge = models.ForeignKey(Centrifuge, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    bottom_radius_mm = models.FloatField()
    angle_deg = models.FloatField()
    max_rcf = models.FloatField()
    places = models.PositiveSmallIntegerField()

    objects = ScopedManager["Rotor"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "name"], name="rotor_has_its_own_name"),
            models.CheckConstraint(condition=~models.Q(name=""), name="rotor_has_a_name"),
            models.CheckConstraint(condition=models.Q(bottom_radius_mm__gt=0), name="rotor_has_a_radius"),
            models.CheckConstraint(
                condition=models.Q(angle_deg__gt=0, angle_deg__lte=90), name="rotor_angle_is_at_most_square"
            ),
            models.CheckConstraint(condition=models.Q(max_rcf__gt=0), name="rotor_has_a_limit"),
            models.CheckConstraint(condition=models.Q(places__gte=1), name="rotor_has_a_place"),
        ]

    def __str__(self) -> str:
        return self.name


class TubeKind(models.Model):
    """A kind of tube; what was not measured is null."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    inner_diameter_mm = models.FloatField()
    bottom = models.CharField(max_length=10, choices=BottomShape.choices)
    cone_height_mm = models.FloatField(null=True, blank=True)
    tip_diameter_mm = models.FloatField(null=True, blank=True)
    capacity_ml = models.FloatField()
    max_rcf = models.FloatField(null=True, blank=True)
    empty_mass_g = models.FloatField(null=True, blank=True)
    graduated = models.BooleanField()

    objects = ScopedManager["TubeKind"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "name"], name="tube_kind_has_its_own_name"),
            models.CheckConstraint(condition=~models.Q(name=""), name="tube_kind_has_a_name"),
            models.CheckConstraint(condition=models.Q(inner_diameter_mm__gt=0), name="tube_kind_has_a_bore"),
            models.CheckConstraint(condition=models.Q(capacity_ml__gt=0), name="tube_kind_holds_something"),
            models.CheckConstraint(condition=models.Q(bottom__in=BottomShape.values), name="tube_bottom_is_known"),
            models.CheckConstraint(
                condition=models.Q(  # a comparison with null is unknown, and a check lets the unknown pass
                    bottom="conical",
                    cone_height_mm__isnull=False,
                    tip_diameter_mm__isnull=False,
                    cone_height_mm__gt=0,
                    tip_diameter_mm__gt=0,
                )
                | (~models.Q(bottom="conical") & models.Q(cone_height_mm=None, tip_diameter_mm=None)),
                name="only_a_conical_tube_has_a_cone",
            ),
            models.CheckConstraint(
                condition=models.Q(tip_diameter_mm=None) | models.Q(tip_diameter_mm__lt=models.F("inner_diameter_mm")),
                name="tube_tip_is_narrower_than_its_bore",
            ),
            models.CheckConstraint(
                condition=models.Q(max_rcf=None) | models.Q(max_rcf__gt=0), name="tube_limit_is_positive"
            ),
            models.CheckConstraint(
                condition=models.Q(empty_mass_g=None) | models.Q(empty_mass_g__gt=0), name="tube_mass_is_positive"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Adapter(models.Model):
    """What carries one kind of tube in one rotor: where it puts the tube's bottom, and what it bears."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    rotor = models.ForeignKey(Rotor, on_delete=models.PROTECT, related_name="+")
    tube_kind = models.ForeignKey(TubeKind, on_delete=models.PROTECT, related_name="+")
    bottom_radius_mm = models.FloatField()
    max_rcf = models.FloatField(null=True, blank=True)

    objects = ScopedManager["Adapter"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["rotor", "tube_kind"], name="one_adapter_for_a_tube_in_a_rotor"),
            models.CheckConstraint(condition=models.Q(bottom_radius_mm__gt=0), name="adapter_has_a_radius"),
            models.CheckConstraint(
                condition=models.Q(max_rcf=None) | models.Q(max_rcf__gt=0), name="adapter_limit_is_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tube_kind} in {self.rotor}"
