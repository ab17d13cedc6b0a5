"""Stock, the lot to open, what may not be used, and who got a lot."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Sum

from plasmawright.errors import Refusal
from plasmawright.practice.lots import refusal_of_lot
from plasmawright.records.models import Clinic, Lot, LotUse, Patient, Run, StockMovement, Supply


@dataclass(frozen=True, kw_only=True)
class LotStock:
    """One lot with what is left of it; below zero where more was used than was ever written as received."""

    lot: Lot
    left: int
    refusal: Refusal | None
    days_left: int | None


@dataclass(frozen=True, kw_only=True)
class SupplyStock:
    """One supply with its lots, the one to open first first."""

    supply: Supply
    lots: tuple[LotStock, ...]

    @property
    def left(self) -> int:
        """How many pieces may still be used."""
        return sum(lot.left for lot in self.lots if lot.refusal is None)

    @property
    def is_low(self) -> bool:
        """Whether it is time to order."""
        return self.left < self.supply.reorder_level

    @property
    def to_open(self) -> Lot | None:
        """The lot to open: of those that may be used and have something left, the first to expire."""
        return next((lot.lot for lot in self.lots if lot.refusal is None and lot.left > 0), None)

    @property
    def to_show(self) -> tuple[LotStock, ...]:
        """The lots a person has to do with: used-up ones only where more was used than written."""
        return tuple(lot for lot in self.lots if lot.left != 0)


@dataclass(frozen=True, kw_only=True)
class LotPatient:
    """One patient who got pieces of a lot in one run."""

    patient: Patient
    lot: Lot
    run: Run
    quantity: int
    used_at: datetime
    by: str


def stock(clinic: Clinic, on: date) -> list[SupplyStock]:
    """Return every supply by name, with its lots as they stand on a day."""
    left = _left(clinic)
    lots: dict[int, list[LotStock]] = {}
    for lot in Lot.objects.of(clinic).select_related("supply").order_by("received_at", "pk"):
        stands = LotStock(
            lot=lot,
            left=left.get(lot.pk, 0),
            refusal=refusal_of(lot, on),
            days_left=None if lot.expires_on is None else (lot.expires_on - on).days,
        )
        lots.setdefault(lot.supply_id, []).append(stands)
    return [
        SupplyStock(supply=supply, lots=tuple(sorted(lots.get(supply.pk, []), key=_first_to_expire)))
        for supply in Supply.objects.of(clinic).order_by("name")
    ]


def lots_in_use(clinic: Clinic, on: date) -> list[Lot]:
    """Return for each supply the lot to open; a supply of which nothing may be used is left out."""
    return [stands.to_open for stands in stock(clinic, on) if stands.to_open is not None]


def below_reorder(clinic: Clinic, on: date) -> list[SupplyStock]:
    """Return the supplies of which fewer pieces may be used than their reorder level."""
    return [stands for stands in stock(clinic, on) if stands.is_low]


def refusals_of(lots: Iterable[Lot], on: date) -> tuple[Refusal, ...]:
    """Return why some of these lots may not be used on a day; empty means go."""
    return tuple(refusal for lot in lots if (refusal := refusal_of(lot, on)) is not None)


def refusal_of(lot: Lot, on: date) -> Refusal | None:
    """Return why a lot may not be used on a day, or nothing."""
    return refusal_of_lot(
        number=lot.number,
        supply=lot.supply.name,
        touches_blood=lot.supply.touches_blood,
        expires_on=lot.expires_on,
        recalled_why=lot.recalled_why if lot.recalled_at is not None else None,
        on=on,
    )


def pieces_left(lot: Lot) -> int:
    """Return what is left of one lot: everything that came in or was found, less everything used."""
    return _left(lot.clinic, lot=lot).get(lot.pk, 0)


def supplies(clinic: Clinic) -> list[Supply]:
    """Return the clinic's supplies, by name."""
    return list(Supply.objects.of(clinic).order_by("name"))


def lots(clinic: Clinic) -> list[Lot]:
    """Return the clinic's lots, by supply and the newest first."""
    return list(Lot.objects.of(clinic).select_related("supply").order_by("supply__name", "-received_at", "-pk"))


def lots_numbered(clinic: Clinic, number: str) -> list[Lot]:
    """Return the lots of that number, which two supplies may share; capitals do not matter."""
    found = Lot.objects.of(clinic).filter(number__iexact=number.strip())
    return list(found.select_related("supply").order_by("supply__name"))


def patients_of_lot(clinic: Clinic, number: str) -> list[LotPatient]:
    """Return who got lots of that number, oldest use first."""
    uses = LotUse.objects.of(clinic).filter(lot__number__iexact=number.strip())
    return [
        LotPatient(
            patient=use.run.patient,
            lot=use.lot,
            run=use.run,
            quantity=use.quantity,
            used_at=use.used_at,
            by=use.by.display_name,
        )
        for use in uses.select_related("lot__supply", "run__patient", "by").order_by("used_at", "pk")
        if use.run.patient is not None
    ]


def lots_of_run(run: Run) -> list[LotUse]:
    """Return what a run used, by supply."""
    uses = LotUse.objects.of(run.clinic).filter(run=run)
    return list(uses.select_related("lot__supply", "by").order_by("lot__supply__name", "used_at", "pk"))


def _left(clinic: Clinic, **only: Lot) -> dict[int, int]:
    moved = StockMovement.objects.of(clinic).filter(**only).values_list("lot").annotate(pieces=Sum("change"))
    used = LotUse.objects.of(clinic).filter(**only).values_list("lot").annotate(pieces=Sum("quantity"))
    left: dict[int, int] = dict(moved)
    for lot_id, pieces in used:
        left[lot_id] = left.get(lot_id, 0) - pieces
    return left


def _first_to_expire(stands: LotStock) -> date:
    return stands.lot.expires_on or date.max
