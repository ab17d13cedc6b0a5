"""The data folder and what it keeps to itself."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection

from plasmawright.records.data_folder import data_folder, secret_key, use_data_folder


def test_the_secret_key_is_made_once_and_is_its_owners_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path / "new"))
    key = secret_key()
    assert secret_key() == key
    assert len(key) >= 50  # Django's own check asks for fifty characters
    assert stat.S_IMODE((tmp_path / "new/secret_key").stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o700


def test_a_named_folder_is_passed_on_to_what_is_started_from_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PLASMAWRIGHT_DATA", "elsewhere")
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    assert use_data_folder(tmp_path) == tmp_path == data_folder()
    assert os.environ["NUMBA_CACHE_DIR"] == str(tmp_path / "numba")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))  # so that monkeypatch puts the first value back


@pytest.mark.database
@pytest.mark.django_db
def test_sqlite_keeps_its_promises_when_the_power_fails() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL is durable by default")
    with connection.cursor() as cursor:
        found = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}  # 2 is FULL


def test_no_migration_is_missing() -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "django", "makemigrations", "--check", "--dry-run", "records"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
