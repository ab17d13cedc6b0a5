"""What tests of the records share: a folder of their own for what is kept outside the database."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection
from tests.installation import installation

__all__ = ["installation"]

Tamper = Callable[..., None]


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Name a new data folder, since a database that is rolled back leaves its key and heads behind."""
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path))
    return tmp_path


@pytest.fixture
def tamper(own_folder: Path) -> Tamper:
    """Return what runs statements as somebody who owns the database file: no trigger stands in the way."""

    def run(*statements: str) -> None:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
                for (name,) in cursor.fetchall():
                    cursor.execute(f"DROP TRIGGER {name}")
            else:
                cursor.execute("SET LOCAL session_replication_role = replica")
            for statement in statements:
                cursor.execute(statement)
            if connection.vendor == "postgresql":
                cursor.execute("SET LOCAL session_replication_role = origin")

    return run
