"""Lots: stock is the sum of what moved, what expired or was recalled stops a run, and one search finds who got it."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person, make_run

from plasmawright.errors import OutOfRange, Refusal
from plasmawright.records.models import Clinic, Lot, LotUse, Person, Role, Run, StockMovement, Supply
from plasmawright.records.selectors.ledger import history_of, ledger_verdict
from plasmawright.records.selectors.lots import (
    below_reorder,
    lots_in_use,
    lots_numbered,
    lots_of_run,
    patients_of_lot,
    pieces_left,
    refusals_of,
    stock,
)
from plasmawright.records.services.lots import (
    add_supply,
    count_stock,
    recall_lot,
    receive_lot,
    set_reorder_level,
    use_lot,
)

pytestmark = [pytest.mark.database, pytest.mark.django_db]

TODAY = AT.date()
LATER = TODAY + timedelta(days=300)


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def person(clinic: Clinic) -> Person:
    return make_person(clinic)


@pytest.fixture
def manager(clinic: Clinic) -> Person:
    return make_person(clinic, username="mo", role=Role.MANAGER)


def a_supply(clinic: Clinic, person: Person, **changes: Any) -> Supply:
    given = {"name": "blood tube", "kind": "blood_tube", "touches_blood": True, "reorder_level": 10, **changes}
    return add_supply(clinic=clinic, by=person, at=AT, **given)


def a_lot(supply: Supply, person: Person, **changes: Any) -> Lot:
    given = {"number": "B-17", "expires_on": LATER, "quantity": 20, **changes}
    return receive_lot(supply=supply, by=person, at=AT, **given)


def a_run(
    clinic: Clinic,
    person: Person,
    *,
    practice: bool = False,
    name: str = "Ada Example",
    record_number: str = "R-1",
) -> Run:
    """Open a run that uses nothing yet."""
    username = f"clinician{Run.objects.of(clinic).count()}"
    clinician = make_person(clinic, username=username, role=Role.CLINICIAN)
    return make_run(clinic, person, clinician, practice=practice, name=name, record_number=record_number)


def test_stock_is_what_came_in_less_what_was_used_with_what_a_count_found(clinic: Clinic, person: Person) -> None:
    supply = a_supply(clinic, person)
    lot = a_lot(supply, person, quantity=20)
    assert a_lot(supply, person, quantity=5) == lot  # more of the same lot
    run = a_run(clinic, person)
    use_lot(run=run, lot=lot, quantity=4, by=person, at=AT)
    assert pieces_left(lot) == 21
    counted = count_stock(lot=lot, counted=18, why="monthly count", by=person, at=AT)
    assert counted.change == -3
    assert pieces_left(lot) == 18
    (stands,) = stock(clinic, TODAY)
    assert stands.left == 18
    assert [use.quantity for use in lots_of_run(run)] == [4]


def test_every_movement_leaves_its_line_in_the_ledger(clinic: Clinic, person: Person, manager: Person) -> None:
    supply = a_supply(clinic, person)
    set_reorder_level(supply=supply, reorder_level=12, by=person, at=AT)
    lot = a_lot(supply, person)
    used = use_lot(run=a_run(clinic, person), lot=lot, quantity=1, by=person, at=AT)
    counted = count_stock(lot=lot, counted=18, why="one broke", by=person, at=AT)
    recall_lot(lot=lot, why="maker's letter", by=manager, at=AT)
    assert len(history_of(supply, clinic)) == 2
    assert len(history_of(lot, clinic)) == 2
    assert len(history_of(used, clinic)) == len(history_of(counted, clinic)) == 1
    assert ledger_verdict().broken is None


def test_the_lot_to_open_is_the_first_to_expire_that_may_be_used_and_has_something_left(
    clinic: Clinic, person: Person, manager: Person
) -> None:
    supply = a_supply(clinic, person)
    lots = [
        a_lot(supply, person, number=f"B-{number}", expires_on=TODAY + timedelta(days=days), quantity=2)
        for number, days in enumerate((0, 10, 20, 30, 40))
    ]
    assert lots_in_use(clinic, TODAY) == [lots[0]]  # its last day is a day of use
    tomorrow = TODAY + timedelta(days=1)
    assert lots_in_use(clinic, tomorrow) == [lots[1]]
    recall_lot(lot=lots[1], why="maker's letter", by=manager, at=AT)
    use_lot(run=a_run(clinic, person), lot=lots[2], quantity=2, by=person, at=AT)
    assert lots_in_use(clinic, tomorrow) == [lots[3]]
    assert lots_in_use(clinic, TODAY + timedelta(days=100)) == []


def test_an_expired_or_recalled_lot_stops_a_run_and_says_what_lifts_it(
    clinic: Clinic, person: Person, manager: Person
) -> None:
    supply = a_supply(clinic, person)
    short = a_lot(supply, person, number="B-1", expires_on=TODAY)
    recalled, good = a_lot(supply, person, number="B-2"), a_lot(supply, person, number="B-3")
    recall_lot(lot=recalled, why="cracks at the rim", by=manager, at=AT)
    recalled.refresh_from_db()
    tomorrow = TODAY + timedelta(days=1)
    found = refusals_of([short, recalled, good], tomorrow)
    assert [str(refusal) for refusal in found] == [
        f"lot is blood tube, lot B-1; it expired on {TODAY}. Put it aside, and open a lot that is in date.",
        "lot is blood tube, lot B-2; it was recalled (cracks at the rim). Put it aside, apart from the rest, and open "
        "another lot.",
    ]
    assert refusals_of([short, good], TODAY) == ()
    run = a_run(clinic, person)
    for lot in (short, recalled):
        with pytest.raises(Refusal, match=r"expired|recalled"):
            use_lot(run=run, lot=lot, quantity=1, by=person, at=AT + timedelta(days=1))
    assert lots_of_run(run) == []


def test_a_recall_is_seen_even_by_who_holds_the_lot_as_it_was(clinic: Clinic, person: Person, manager: Person) -> None:
    lot = a_lot(a_supply(clinic, person), person)
    stale = Lot.objects.of(clinic).get(pk=lot.pk)
    recall_lot(lot=lot, why="maker's letter", by=manager, at=AT)
    run = a_run(clinic, person)
    with pytest.raises(Refusal, match="recalled"):
        use_lot(run=run, lot=stale, quantity=1, by=person, at=AT)


def test_one_search_finds_every_patient_who_got_a_lot(clinic: Clinic, person: Person, manager: Person) -> None:
    tubes, needles = a_supply(clinic, person), a_supply(clinic, person, name="needle", kind="needle")
    lot, other = a_lot(tubes, person, number="X-9"), a_lot(needles, person, number="N-1")
    same_number = a_lot(needles, person, number="x-9")
    first = a_run(clinic, person, name="Ida Example", record_number="R-1")
    second = a_run(clinic, person, name="Ole Example", record_number="R-2")
    use_lot(run=first, lot=lot, quantity=4, by=person, at=AT)
    use_lot(run=first, lot=other, quantity=1, by=person, at=AT)
    use_lot(run=second, lot=same_number, quantity=1, by=person, at=AT + timedelta(hours=1))
    recall_lot(lot=lot, why="maker's letter", by=manager, at=AT)
    found = patients_of_lot(clinic, " x-9 ")
    assert [(got.patient.name, got.run, got.lot.supply.name, got.quantity) for got in found] == [
        ("Ida Example", first, "blood tube", 4),
        ("Ole Example", second, "needle", 1),
    ]
    assert lots_numbered(clinic, "X-9") == [lot, same_number]
    assert patients_of_lot(clinic, "X-99") == []
    assert patients_of_lot(make_clinic("South Clinic"), "X-9") == []


def test_a_practice_run_takes_nothing_from_the_shelf(clinic: Clinic, person: Person) -> None:
    lot = a_lot(a_supply(clinic, person), person)
    with pytest.raises(Refusal, match="practice run uses nothing"):
        use_lot(run=a_run(clinic, person, practice=True), lot=lot, quantity=1, by=person, at=AT)
    assert pieces_left(lot) == 20


def test_more_may_be_used_than_is_written_and_the_shelf_then_asks_for_a_count(clinic: Clinic, person: Person) -> None:
    lot = a_lot(a_supply(clinic, person), person, quantity=2)
    run = a_run(clinic, person)
    use_lot(run=run, lot=lot, quantity=3, by=person, at=AT)
    (stands,) = stock(clinic, TODAY)
    assert [shown.left for shown in stands.to_show] == [-1]
    assert stands.to_open is None


def test_it_is_time_to_order_below_the_level_and_what_may_not_be_used_does_not_count(
    clinic: Clinic, person: Person
) -> None:
    supply = a_supply(clinic, person, reorder_level=10)
    a_lot(supply, person, number="old", expires_on=TODAY, quantity=50)
    a_lot(supply, person, number="new", quantity=10)
    tomorrow = TODAY + timedelta(days=1)
    assert below_reorder(clinic, tomorrow) == []  # ten left, ten wanted
    set_reorder_level(supply=supply, reorder_level=11, by=person, at=AT)
    assert [stands.supply for stands in below_reorder(clinic, tomorrow)] == [supply]
    assert below_reorder(clinic, TODAY) == []  # the old lot's last day


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"number": " "}, r"lot\.number"),
        ({"expires_on": None}, r"lot\.expires_on is missing; what touches blood"),
        ({"expires_on": TODAY - timedelta(days=1)}, "past already"),
        ({"quantity": 0}, r"lot\.quantity is 0"),
        ({"number": "B-17", "expires_on": LATER - timedelta(days=1)}, "it came with"),
    ],
)
def test_a_lot_is_received_with_number_date_and_count(
    clinic: Clinic, person: Person, changes: dict[str, Any], said: str
) -> None:
    supply = a_supply(clinic, person)
    a_lot(supply, person)
    with pytest.raises(Refusal, match=said):
        a_lot(supply, person, **changes)
    assert pieces_left(Lot.objects.of(clinic).get()) == 20


def test_what_touches_no_blood_needs_no_date(clinic: Clinic, person: Person) -> None:
    labels = a_supply(clinic, person, name="label roll", kind="label", touches_blood=False)
    lot = a_lot(labels, person, expires_on=None)
    assert refusals_of([lot], LATER) == ()


def test_a_recalled_lot_is_neither_received_nor_recalled_again(clinic: Clinic, person: Person, manager: Person) -> None:
    supply = a_supply(clinic, person)
    lot = a_lot(supply, person)
    with pytest.raises(Refusal, match=r"lot\.why"):
        recall_lot(lot=lot, why="", by=manager, at=AT)
    recall_lot(lot=lot, why="maker's letter", by=manager, at=AT)
    with pytest.raises(Refusal, match="recalled before"):
        recall_lot(lot=lot, why="again", by=manager, at=AT)
    with pytest.raises(Refusal, match="Send it back"):
        a_lot(supply, person)


def test_only_a_manager_recalls_and_an_assistant_keeps_no_shelf(clinic: Clinic, person: Person) -> None:
    supply = a_supply(clinic, person)
    lot = a_lot(supply, person)
    assistant = make_person(clinic, username="ash", role=Role.ASSISTANT)
    for refused in (
        lambda: recall_lot(lot=lot, why="maker's letter", by=person, at=AT),
        lambda: a_supply(clinic, assistant, name="needle"),
        lambda: a_lot(supply, assistant),
        lambda: set_reorder_level(supply=supply, reorder_level=1, by=assistant, at=AT),
        lambda: count_stock(lot=lot, counted=1, why="count", by=assistant, at=AT),
    ):
        with pytest.raises(Refusal, match="role"):
            refused()
    assert pieces_left(lot) == 20


def test_a_supply_is_named_once_of_a_known_kind_with_a_level_that_is_a_count(clinic: Clinic, person: Person) -> None:
    a_supply(clinic, person)
    with pytest.raises(Refusal, match="already"):
        a_supply(clinic, person)
    with pytest.raises(Refusal, match=r"supply\.kind"):
        a_supply(clinic, person, name="soup", kind="soup")
    with pytest.raises(OutOfRange, match=r"supply\.reorder_level"):
        a_supply(clinic, person, name="needle", reorder_level=-1)
    with pytest.raises(Refusal, match="at most 60 characters"):
        a_supply(clinic, person, name="n" * 61)


def test_another_clinics_lot_is_out_of_reach(clinic: Clinic, person: Person) -> None:
    south = make_clinic("South Clinic")
    cleo = make_person(south, username="cleo")
    theirs = a_lot(a_supply(south, cleo), cleo)
    run = a_run(clinic, person)
    with pytest.raises(Refusal, match="own shelf"):
        use_lot(run=run, lot=theirs, quantity=1, by=person, at=AT)


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "received", "change": 0},
        {"kind": "received", "change": -3},
        {"kind": "counted", "change": 1, "why": "count"},  # without what was counted
        {"kind": "counted", "change": 1, "counted": 3},  # without a reason
        {"kind": "lent", "change": 1},
    ],
)
def test_a_movement_that_could_never_be_is_refused_by_the_database(
    clinic: Clinic, person: Person, wrong: dict[str, Any]
) -> None:
    lot = a_lot(a_supply(clinic, person), person)
    row = StockMovement(clinic=clinic, lot=lot, moved_at=AT, moved_by=person, **wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_a_use_of_nothing_and_a_recall_without_a_reason_are_refused_by_the_database(
    clinic: Clinic, person: Person
) -> None:
    lot = a_lot(a_supply(clinic, person), person)
    run = a_run(clinic, person)
    with pytest.raises(IntegrityError), transaction.atomic():
        LotUse(clinic=clinic, lot=lot, run=run, quantity=0, used_at=AT, by=person).save(force_insert=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.of(clinic).update(recalled_at=AT)
