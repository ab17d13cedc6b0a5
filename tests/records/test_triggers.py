"""What is written once is never changed: the database itself refuses."""

# ruff: noqa: S608 - the names of the tables are our own

from collections.abc import Callable
from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from tests.builders import AT, bring_to, make_clinic, make_person, make_plan, make_run, make_visit, moment_after

from plasmawright.bench.steps import Step
from plasmawright.parameters.sets import central
from plasmawright.practice.drill import Pull
from plasmawright.records.models import Clinic, Role
from plasmawright.records.services.checks import keep_certificate
from plasmawright.records.services.drill import keep_pull
from plasmawright.records.services.lots import add_supply, receive_lot, use_lot
from plasmawright.records.services.plans import keep_parameter_set
from plasmawright.records.services.runs import keep_foresight
from plasmawright.records.services.settings import set_setting
from plasmawright.records.services.signatures import discard_run
from plasmawright.records.triggers import IMMUTABLE, make_triggers

pytestmark = [pytest.mark.database, pytest.mark.django_db]

Tamper = Callable[..., None]


@pytest.fixture
def clinic() -> Clinic:
    """Return a clinic with a row in every table that is written once."""
    opened = make_clinic()
    person = make_person(opened)
    kept = keep_parameter_set(clinic=opened, document=central().as_document(), by=person, at=AT)
    make_plan(make_visit(opened, person), person, parameter_set=kept)
    manager = make_person(opened, username="mo", role=Role.MANAGER)
    set_setting(clinic=opened, key="hold_h", value_text="3", by=manager, at=AT)
    clinician = make_person(opened, username="cleo", role=Role.CLINICIAN)
    run = make_run(opened, person, clinician)
    bring_to(run, Step.LOAD, person)
    keep_foresight(run=run, upto_position=1, document={"words": "as planned"}, by=person, at=AT)
    supply = add_supply(
        clinic=opened, name="tube", kind="blood_tube", touches_blood=True, reorder_level=1, by=person, at=AT
    )
    lot = receive_lot(supply=supply, number="L-1", expires_on=date(2030, 1, 1), quantity=9, by=person, at=AT)
    use_lot(run=run, lot=lot, quantity=1, by=person, at=AT)
    keep_certificate(
        clinic=opened, name="hood", number="H-1", done_on=AT.date(), expires_on=date(2030, 1, 1), passed=True,
        by=person, at=AT,
    )  # fmt: skip
    pull = Pull(aimed_mm=3.0, added_g=4.0, taken_g=3.6, inner_diameter_mm=13.0)
    keep_pull(clinic=opened, person=person, series="one", pull=pull, at=AT)
    discard_run(run=run, disposal="yellow bin", tablet=None, by=person, moment=moment_after(3600))
    return opened


def refused(statement: str) -> None:
    """Run a statement that the database must refuse by a trigger."""
    with pytest.raises(IntegrityError, match="is never"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.mark.parametrize("table", IMMUTABLE)
def test_a_row_written_once_is_neither_changed_nor_deleted(clinic: Clinic, table: str) -> None:
    refused(" ".join(("UPDATE", table, "SET clinic_id = clinic_id")))
    refused("DELETE FROM " + table)
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM " + table)
        assert cursor.fetchone()[0] > 0  # a trigger speaks only where there is a row


@pytest.mark.parametrize("table", IMMUTABLE)
def test_a_table_written_once_is_not_emptied_whole(clinic: Clinic, table: str) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no TRUNCATE")
    connection.check_constraints()  # a foreign key still to be checked would refuse first
    refused(f"TRUNCATE {table} CASCADE")


def test_triggers_that_were_lost_or_switched_off_are_made_again(clinic: Clinic) -> None:
    connection.check_constraints()  # a table with a foreign key still to be checked cannot be altered
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DROP TRIGGER records_entry_refuses_update")
        else:
            cursor.execute("ALTER TABLE records_entry DISABLE TRIGGER records_entry_refuses_change")
        cursor.execute("UPDATE records_entry SET clinic_id = clinic_id")
        connection.check_constraints()
    make_triggers(using="default")
    make_triggers(using="default")
    refused("UPDATE records_entry SET clinic_id = clinic_id")
