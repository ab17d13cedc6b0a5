"""An installation of its own for one test: a data folder, a database, and processes that may be killed."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from psycopg import sql


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
