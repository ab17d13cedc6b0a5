"""What tests of the records share: a folder of their own for what is kept outside the database."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from django.db import connection
from psycopg import sql

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


@pytest.fixture
def installation(tmp_path: Path) -> Iterator["Installation"]:
    """Return an installation of its own on the kind of database under test, with real commits."""
    environment = {**os.environ, "PLASMAWRIGHT_DATA": str(tmp_path)}
    named = os.environ.get("DATABASE_URL")
    if named is None:
        found = Installation(environment)
        yield found
        found.end()
        return
    name = f"writers_{os.getpid()}"
    with psycopg.connect(named, autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        found = Installation({**environment, "DATABASE_URL": f"{named.rpartition('/')[0]}/{name}"})
        try:
            yield found
        finally:
            found.end()
            server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


class Installation:
    """Runs code and commands in processes of their own."""

    def __init__(self, environment: dict[str, str]) -> None:
        self.environment = environment
        self.started: list[subprocess.Popen[str]] = []

    def end(self) -> None:
        """End whatever a failed test left running."""
        for process in self.started:
            if process.poll() is None:
                process.kill()
                process.communicate()

    def start(self, code: str, *arguments: str) -> "subprocess.Popen[str]":
        """Start ``code`` with the records open."""
        opened = f"from plasmawright.cli.serving import prepare_records; prepare_records()\n{code}"
        process = subprocess.Popen(
            [sys.executable, "-c", opened, *arguments],
            env=self.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.started.append(process)
        return process

    def run(self, code: str, *arguments: str) -> str:
        """Run ``code`` with the records open and return what it printed."""
        started = self.start(code, *arguments)
        out, err = started.communicate(timeout=120)
        assert started.returncode == 0, err
        return out

    def command(self, *arguments: str) -> "subprocess.CompletedProcess[str]":
        """Run the command line."""
        command = str(Path(sys.executable).with_name("plasmawright"))
        return subprocess.run(
            [command, *arguments], env=self.environment, capture_output=True, text=True, check=False, timeout=120
        )
