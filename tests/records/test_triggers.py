"""What is written once is never changed: the database itself refuses."""

# ruff: noqa: S608 - the names of the tables are our own

from collections.abc import Callable

import pytest
from django.db import IntegrityError, connection, transaction
from tests.builders import AT, make_clinic, make_person, make_plan, make_visit

from plasmawright.parameters.sets import central
from plasmawright.records.models import Clinic
from plasmawright.records.services.plans import keep_parameter_set
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
