"""The page that sets up a tablet, for anybody, and the page that says how the installation is, for members."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.test import Client
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult
from tests.builders import AT, make_clinic, make_person

from plasmawright.records.certificates import kept_root, leaf_for
from plasmawright.records.selectors.health import VERIFY_LEDGER

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Name a data folder of its own."""
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path))


def test_anybody_gets_the_steps_and_the_root_and_nothing_when_there_is_none(client: Client) -> None:
    assert "nothing to set up" in client.get("/install/").content.decode()
    assert client.get("/install/plasmawright-root.crt").status_code == 404
    leaf_for(("192.0.2.10",), AT)
    root = kept_root()
    assert root is not None
    assert root.fingerprint in client.get("/install/").content.decode()
    assert client.get("/install/plasmawright-root.crt").content == root.pem
    given = client.get("/install/plasmawright-root.der")
    assert (given.content, given["Content-Type"]) == (root.der, "application/x-x509-ca-cert")
    assert client.get("/install/plasmawright-root.key").status_code == 404


def test_a_broken_ledger_stands_on_the_page_that_members_see(client: Client) -> None:
    assert client.get("/installation/").status_code == 302  # to sign in
    client.force_login(make_person(make_clinic()))
    assert "Not walked yet" in client.get("/installation/").content.decode()
    walked: dict[str, object] = {
        "ok": False,
        "entries": 9,
        "broken": {"clinic": "A Clinic", "seq": 7, "kind": "edited"},
    }
    DBTaskResult.objects.create(
        task_path=VERIFY_LEDGER, status=TaskResultStatus.SUCCESSFUL, return_value=walked,
        finished_at=datetime(2026, 11, 25, 3, tzinfo=UTC), args_kwargs={"args": [], "kwargs": {}},
        run_after=AT, backend_name="default",
    )  # fmt: skip
    page = client.get("/installation/").content.decode()
    assert "Broken" in page
    assert "line 7 (edited), walked 2026-11-25 03:00 UTC" in page
    assert "None is made" in page  # no recovery key was set up
