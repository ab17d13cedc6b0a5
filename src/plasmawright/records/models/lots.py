"""Supplies, their lots, and every movement of stock: stock is the sum of movements, never a number that is changed."""

from django.db import models

from plasmawright.records.models.people import Clinic, Person
from plasmawright.records.scoped import ScopedManager


class SupplyKind(models.TextChoices):
    """What a supply is for."""

    BLOOD_TUBE = "blood_tube", "blood tube"
    SECOND_TUBE = "second_tube", "second tube"
    ANTICOAGULANT = "anticoagulant", "anticoagulant"
    NEEDLE_SET = "needle_set", "needle set"
    SYRINGE = "syringe", "syringe"
    NEEDLE = "needle", "needle"
    PIPETTE = "pipette", "pipette"
    LABEL = "label", "label"
    SKIN_PREPARATION = "skin_preparation", "skin preparation"
    OTHER = "other", "other"


class Supply(models.Model):
    """Something that is used up, counted in pieces; fewer than ``reorder_level`` left means it is time to order."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=20, choices=SupplyKind.choices)
    touches_blood = models.BooleanField()
    reorder_level = models.PositiveIntegerField()

    objects = ScopedManager["Supply"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "name"], name="supply_has_its_own_name"),
            models.CheckConstraint(condition=~models.Q(name=""), name="supply_has_a_name"),
            models.CheckConstraint(condition=models.Q(kind__in=SupplyKind.values), name="supply_kind_is_known"),
        ]

    def __str__(self) -> str:
        return self.name


class Lot(models.Model):
    """One lot of a supply; ``expires_on`` is the last day it may be used, null where nothing expires."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    supply = models.ForeignKey(Supply, on_delete=models.PROTECT, related_name="+")
    number = models.CharField(max_length=60)
    expires_on = models.DateField(null=True, blank=True)
    received_at = models.DateTimeField()
    recalled_at = models.DateTimeField(null=True, blank=True)
    recalled_why = models.CharField(max_length=200, blank=True)

    objects = ScopedManager["Lot"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["supply", "number"], name="lot_stands_once_for_a_supply"),
            models.CheckConstraint(condition=~models.Q(number=""), name="lot_has_a_number"),
            models.CheckConstraint(
                condition=models.Q(recalled_at=None, recalled_why="")
                | (models.Q(recalled_at__isnull=False) & ~models.Q(recalled_why="")),
                name="lot_is_recalled_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.supply}, lot {self.number}"


class MovementKind(models.TextChoices):
    """What moved stock, apart from a run that used it."""

    RECEIVED = "received"
    COUNTED = "counted"


class StockMovement(models.Model):
    """Pieces that came in, or what a count found against what was written; never changed, never deleted."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+", related_query_name="movement")
    kind = models.CharField(max_length=10, choices=MovementKind.choices)
    change = models.IntegerField()
    counted = models.PositiveIntegerField(null=True, blank=True)
    why = models.CharField(max_length=200, blank=True)
    moved_at = models.DateTimeField()
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["StockMovement"]()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind="received", change__gt=0, counted=None, why="")
                | (models.Q(kind="counted", counted__isnull=False) & ~models.Q(why="")),
                name="stock_is_received_or_counted_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.kind} {self.change:+d}"


class LotUse(models.Model):
    """Pieces of a lot that one run used; never changed, never deleted."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+", related_query_name="use")
    run = models.ForeignKey("records.Run", on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField()
    used_at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = ScopedManager["LotUse"]()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(quantity__gt=0), name="a_lot_is_used_by_the_piece"),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.quantity} used"
