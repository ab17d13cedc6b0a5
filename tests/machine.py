"""A machine of its own for a test: a data folder, a database of the kind under test, and commands run there."""

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg
from psycopg import sql

COMMAND = str(Path(sys.executable).with_name("plasmawright"))
PASSWORD = "a long enough tube"


@dataclass
class Machine:
    """Runs commands on a data folder and a database, as a person does."""

    folder: Path
    environment: dict[str, str]
    started: list["subprocess.Popen[str]"] = field(default_factory=list)

    def run(self, *arguments: str, given: str = "") -> "subprocess.CompletedProcess[str]":
        """Run the command line."""
        return subprocess.run(
            [COMMAND, *arguments],
            input=given, env=self.environment, capture_output=True, text=True, check=False, timeout=120,
        )  # fmt: skip

    def told(self, *arguments: str) -> dict[str, Any]:
        """Run a command that must succeed and return the object it prints."""
        ran = self.run(*arguments, "--json")
        assert ran.returncode == 0, ran.stderr
        document: dict[str, Any] = json.loads(ran.stdout)
        return document

    def refused(self, *arguments: str, given: str = "") -> str:
        """Run a command that must be refused and return what it says."""
        ran = self.run(*arguments, given=given)
        assert (ran.returncode, ran.stdout) == (2, ""), ran.stdout + ran.stderr
        assert 0 < len(ran.stderr.splitlines()) <= 3
        return ran.stderr

    def add_person(self, name: str, clinic: str = "North Clinic") -> None:
        """Add somebody, and the clinic with the first: three lines of history, then two for each."""
        added = self.run("add-person", name, "--clinic", clinic, given=f"{PASSWORD}\n")
        assert added.returncode == 0, added.stderr

    def open(self, *arguments: str) -> "tuple[subprocess.Popen[str], dict[str, Any]]":
        """Start `serve` or `demo` and return the process and the first line it prints."""
        process = subprocess.Popen(
            [COMMAND, *arguments, "--json"], env=self.environment, stdout=subprocess.PIPE, text=True
        )
        self.started.append(process)
        assert process.stdout is not None
        return process, json.loads(process.stdout.readline())

    def standing(self) -> dict[str, int]:
        """Return the numbers of the processes that stand now."""
        found: dict[str, int] = json.loads((self.folder / "serving.json").read_text(encoding="ascii"))
        return found

    def end(self) -> None:
        """End whatever a failed test left running."""
        for process in self.started:
            if process.poll() is None:
                process.terminate()
            process.wait(timeout=20)
            if process.stdout is not None:
                process.stdout.close()


@contextmanager
def machine_in(folder: Path, *, like: Machine | None = None) -> Iterator[Machine]:
    """Yield a machine with ``folder``, and a database of its own on the server that DATABASE_URL names.

    Parameters
    ----------
    like
        A machine on which nothing runs; the new one begins with what it holds, which is quicker than making it anew.
    """
    environment = {**os.environ, "PLASMAWRIGHT_DATA": str(folder)}
    if like is not None:
        shutil.copytree(like.folder, folder)
    named = os.environ.get("DATABASE_URL")
    if named is None:
        with ending(Machine(folder, environment)) as found:
            yield found
        return
    name = f"machine_{os.getpid()}_{time.monotonic_ns()}"
    template = like.environment["DATABASE_URL"].rpartition("/")[2] if like else "template1"
    with psycopg.connect(named, autocommit=True) as server:
        create = sql.SQL("CREATE DATABASE {} TEMPLATE {}")
        server.execute(create.format(sql.Identifier(name), sql.Identifier(template)))
        for heads in (folder / "ledger").glob(f"heads-*-{template}"):
            heads.rename(heads.with_name(heads.name.replace(template, name)))  # the file is named for its database
        try:
            with ending(Machine(folder, environment | {"DATABASE_URL": f"{named.rpartition('/')[0]}/{name}"})) as found:
                yield found
        finally:
            server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@contextmanager
def ending(machine: Machine) -> Iterator[Machine]:
    """End what runs on a machine afterwards."""
    try:
        yield machine
    finally:
        machine.end()


def within(seconds: float, holds: Callable[[], bool]) -> bool:
    """Return whether something comes to hold within so many seconds."""
    deadline_s = time.monotonic() + seconds
    while time.monotonic() < deadline_s:
        if holds():
            return True
        time.sleep(0.05)
    return holds()


def is_running(number: int) -> bool:
    """Return whether a process runs; one that waits to be buried does not."""
    try:
        state = Path(f"/proc/{number}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"
