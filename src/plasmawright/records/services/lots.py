"""Supplies, and lots received, used, counted and recalled."""

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from plasmawright.errors import OutOfRange, Refusal
from plasmawright.records.models import (
    Clinic,
    Lot,
    LotUse,
    MovementKind,
    Person,
    Run,
    StockMovement,
    Supply,
    SupplyKind,
)
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.lots import pieces_left, refusal_of
from plasmawright.records.services.keeping import WHY_CHARACTERS_MAX, added, refuse_name, words_of
from plasmawright.records.services.ledger import write_entry

PIECES_MAX = 100_000
PIECES_REMEDY = "Count single pieces, not packs."


def add_supply(
    *, clinic: Clinic, name: str, kind: str, touches_blood: bool, reorder_level: int, by: Person, at: datetime
) -> Supply:
    """Put a supply on the shelf; fewer than ``reorder_level`` pieces left means it is time to order.

    Raises
    ------
    Refusal
        If the name is empty or taken, the kind unknown, the level no count, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_SHELF)
    refuse_name(Supply.objects, clinic, name, field="supply.name")
    if kind not in SupplyKind.values:
        raise Refusal("supply.kind", kind, f"it must be one of {', '.join(SupplyKind.values)}", "Choose one of them.")
    _refuse_count("supply.reorder_level", reorder_level, low=0)
    row = Supply(clinic=clinic, name=name, kind=kind, touches_blood=touches_blood, reorder_level=reorder_level)
    return added(row, clinic, by=by, at=at)


def set_reorder_level(*, supply: Supply, reorder_level: int, by: Person, at: datetime) -> None:
    """Say below how many pieces it is time to order.

    Raises
    ------
    Refusal
        If it is no count, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=supply.clinic, action=Action.KEEP_SHELF)
    _refuse_count("supply.reorder_level", reorder_level, low=0)
    supply.reorder_level = reorder_level
    with transaction.atomic():
        supply.save(update_fields=["reorder_level"])
        write_entry(clinic=supply.clinic, about=supply, became="reorder level set", by=by.username, at=at)


def receive_lot(
    *, supply: Supply, number: str, expires_on: date | None, quantity: int, by: Person, at: datetime
) -> Lot:
    """Take pieces of a lot in; a lot that is known already gets more of them.

    Raises
    ------
    Refusal
        If it lacks its number or a date it needs, is out of date or recalled, came with another date before, or the
        role does not allow it.
    """
    clinic = supply.clinic
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_SHELF)
    number = words_of(number, field="lot.number", remedy="Read it from the pack.")
    _refuse_count("lot.quantity", quantity, low=1)
    if expires_on is None and supply.touches_blood:
        limit = "what touches blood must have a date it expires on"
        raise Refusal("lot.expires_on", "missing", limit, "Read the date from the pack.")
    if expires_on is not None and timezone.localdate(at) > expires_on:
        raise Refusal("lot.expires_on", expires_on, "it is past already", "Send the lot back, or read the date again.")
    with transaction.atomic():
        lot = Lot.objects.of(clinic).select_for_update().filter(supply=supply, number=number).first()
        if lot is None:
            lot = Lot(clinic=clinic, supply=supply, number=number, expires_on=expires_on, received_at=at)
            added(lot, clinic, by=by, at=at, became="received")
        elif lot.recalled_at is not None:
            raise Refusal("lot.number", number, f"it was recalled ({lot.recalled_why})", "Send it back.")
        elif lot.expires_on != expires_on:
            limit = f"it came with {lot.expires_on or 'no date'} before"
            raise Refusal("lot.expires_on", expires_on or "missing", limit, "Read number and date from the pack again.")
        moved = StockMovement(
            clinic=clinic, lot=lot, kind=MovementKind.RECEIVED, change=quantity, moved_at=at, moved_by=by
        )
        added(moved, clinic, by=by, at=at, became="received")
    return lot


def use_lot(*, run: Run, lot: Lot, quantity: int, by: Person, at: datetime) -> LotUse:
    """Write down that a run uses pieces of a lot.

    More may be used than is written as left: what lies on the bench is there. The shelf then asks for a count.

    Raises
    ------
    Refusal
        If the lot is recalled, out of date or another clinic's, or the run is for practice and uses nothing real.
    """
    refuse_unless_may(person=by, clinic=run.clinic, action=Action.PREPARE)
    _refuse_count("lot.quantity", quantity, low=1)
    if lot.clinic_id != run.clinic_id:
        raise Refusal("lot", lot, "it must stand on the run's own shelf", "Choose another lot.")
    if run.practice:
        raise Refusal("lot", lot, "a practice run uses nothing from the shelf", "Practise with what is out of date.")
    with transaction.atomic():
        # locked, so that a recall is either seen here or waits and finds this run
        held = Lot.objects.of(run.clinic).select_for_update(of=("self",)).select_related("supply").get(pk=lot.pk)
        refusal = refusal_of(held, timezone.localdate(at))
        if refusal is not None:
            raise refusal
        row = LotUse(clinic=run.clinic, lot=held, run=run, quantity=quantity, used_at=at, by=by)
        return added(row, run.clinic, by=by, at=at, became="used")


def count_stock(*, lot: Lot, counted: int, why: str, by: Person, at: datetime) -> StockMovement:
    """Write down how many pieces of a lot were counted; the difference to what was written moves the stock.

    Raises
    ------
    Refusal
        If it is no count, has no reason, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=lot.clinic, action=Action.KEEP_SHELF)
    _refuse_count("lot.counted", counted, low=0)
    why = words_of(
        why,
        field="lot.why",
        remedy="Say why it was counted, such as: monthly count.",
        characters_max=WHY_CHARACTERS_MAX,
    )
    with transaction.atomic():
        held = Lot.objects.of(lot.clinic).select_for_update().get(pk=lot.pk)
        change = counted - pieces_left(held)
        row = StockMovement(
            clinic=lot.clinic, lot=held, kind=MovementKind.COUNTED, change=change, counted=counted, why=why,
            moved_at=at, moved_by=by,
        )  # fmt: skip
        return added(row, lot.clinic, by=by, at=at, became="counted")


def recall_lot(*, lot: Lot, why: str, by: Person, at: datetime) -> None:
    """Recall a lot: from now on no run may use it. Who got it already, ``selectors.lots.patients_of_lot`` says.

    Raises
    ------
    Refusal
        If there is no reason, it was recalled before, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=lot.clinic, action=Action.RECALL_LOTS)
    why = words_of(why, field="lot.why", remedy="Say who recalled it and why.", characters_max=WHY_CHARACTERS_MAX)
    with transaction.atomic():
        moved = Lot.objects.of(lot.clinic).filter(pk=lot.pk, recalled_at=None).update(recalled_at=at, recalled_why=why)
        if not moved:
            raise Refusal("lot", lot, "it was recalled before", "Look for its patients on the Shelf.")
        lot.refresh_from_db()
        write_entry(clinic=lot.clinic, about=lot, became="recalled", by=by.username, at=at)


def _refuse_count(field: str, count: int, *, low: int) -> None:
    if not low <= count <= PIECES_MAX:
        raise OutOfRange(field, count, low, PIECES_MAX, PIECES_REMEDY)
