"""A disk without room: the device keeps what was tapped, the page says what lifts it, and nothing is half written."""

import json
import sqlite3

import pytest
from django.db import OperationalError
from django.test import Client
from tests.builders import make_clinic, make_person, make_run

from plasmawright.records import room
from plasmawright.records.models import Person, Role, Run
from plasmawright.records.room import no_room_for
from plasmawright.records.selectors.runs import entries

MORE_THAN_ANY_DISK_BYTES = 2**62

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def run(client: Client) -> Run:
    """Return a run at its first step, whose preparer is signed in."""
    clinic = make_clinic()
    pim: Person = make_person(clinic)
    client.force_login(pim)
    return make_run(clinic, pim, make_person(clinic, "cleo", Role.CLINICIAN))


def test_without_room_an_entry_is_answered_507_and_not_kept(
    client: Client, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "KEPT_FREE_BYTES", MORE_THAN_ANY_DISK_BYTES)
    document = {"kind": "done", "step": "identify", "body": {}}
    answer = client.post(
        f"/api/runs/{run.pk}/entries",
        json.dumps(document),
        content_type="application/json",
        headers={"Idempotency-Key": "one"},
    )
    assert answer.status_code == 507, "a device keeps what is answered with 5xx and sends it again"
    (refused,) = answer.json()
    assert refused["field"] == "disk"
    assert "Make room" in refused["remedy"]
    assert entries(run) == []


def test_without_room_a_page_says_so_where_it_was_tapped(
    client: Client, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "KEPT_FREE_BYTES", MORE_THAN_ANY_DISK_BYTES)
    entry = json.dumps({"kind": "note", "step": "identify", "body": {"words": "as it happens"}})
    answer = client.post(f"/bench/{run.pk}/entry/", {"entry": entry, "key": "one"})
    assert answer.status_code == 422
    assert b"Make room on the server" in answer.content
    assert entries(run) == []


def test_a_database_that_may_not_grow_is_told_from_one_that_failed_otherwise() -> None:
    database = sqlite3.connect(":memory:")
    database.execute("PRAGMA max_page_count = 2")
    with pytest.raises(sqlite3.OperationalError) as full:
        database.executescript("CREATE TABLE a (b); CREATE TABLE c (d); CREATE TABLE e (f);")
    with pytest.raises(sqlite3.OperationalError) as wrong:
        database.execute("SELECT nothing")
    database.close()
    assert no_room_for(_from_django(full.value)) is not None
    assert no_room_for(_from_django(wrong.value)) is None


def _from_django(cause: sqlite3.OperationalError) -> OperationalError:
    """Return the error as Django raises it."""
    failed = OperationalError(*cause.args)
    failed.__cause__ = cause
    return failed
