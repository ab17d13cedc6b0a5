"""`ledger verify` as a script calls it: one object, and 3 when a chain is broken."""

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

COMMAND = str(Path(sys.executable).with_name("plasmawright"))

pytestmark = pytest.mark.slow


@pytest.fixture
def clinic(tmp_path: Path) -> "OneClinic":
    """Return an installation with one clinic and one person: a chain of three lines."""
    found = OneClinic(tmp_path)
    assert found.run("add-person", "mo", "--clinic", "North Clinic", given="a long enough tube\n").returncode == 0
    return found


class OneClinic:
    """Runs commands on a folder, and statements on its database as somebody who owns the file."""

    def __init__(self, folder: Path) -> None:
        kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
        self.environment = {**kept, "PLASMAWRIGHT_DATA": str(folder)}
        self.folder = folder

    def run(self, *arguments: str, given: str = "") -> "subprocess.CompletedProcess[str]":
        """Run the command line."""
        return subprocess.run(
            [COMMAND, *arguments],
            input=given, env=self.environment, capture_output=True, text=True, check=False, timeout=60,
        )  # fmt: skip

    def tamper(self, *statements: str) -> None:
        """Drop the triggers and run ``statements``."""
        with sqlite3.connect(self.folder / "records.sqlite3") as database:
            for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                database.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                database.execute(statement)
        database.close()


def test_a_whole_ledger_is_nought_and_its_head_can_be_asked_for_later(clinic: OneClinic) -> None:
    told = clinic.run("ledger", "verify", "--json")
    document = json.loads(told.stdout)
    assert (told.returncode, told.stderr) == (0, "")
    assert (document["ok"], document["entries"], document["broken"]) == (True, 3, None)
    assert clinic.run("ledger", "verify", "--head", document["head"]).returncode == 0
    lost = clinic.run("ledger", "verify", "--json", "--head", "0" * 64)
    assert lost.returncode == 3
    assert json.loads(lost.stdout)["broken"] == {"clinic": "North Clinic", "seq": 4, "kind": "truncated"}


def test_an_edited_line_is_three_and_named(clinic: OneClinic) -> None:
    clinic.tamper("UPDATE records_entry SET canonical = replace(canonical, 'added', 'ended') WHERE seq = 2")
    told = clinic.run("ledger", "verify", "--json")
    assert told.returncode == 3
    assert json.loads(told.stdout)["broken"] == {"clinic": "North Clinic", "seq": 2, "kind": "edited"}
    in_words = clinic.run("ledger", "verify")
    assert in_words.returncode == 3
    assert "North Clinic, line 2" in in_words.stdout
    assert in_words.stderr == ""


def test_a_cut_tail_is_found_even_when_the_head_in_the_database_was_put_back(clinic: OneClinic) -> None:
    clinic.tamper(
        "DELETE FROM records_membership",
        "DELETE FROM records_entry WHERE seq = 3",
        "UPDATE records_chainhead SET seq = 2, digest = (SELECT digest FROM records_entry WHERE seq = 2)",
    )
    told = clinic.run("ledger", "verify", "--json")
    assert told.returncode == 3
    assert json.loads(told.stdout)["broken"] == {"clinic": "North Clinic", "seq": 3, "kind": "truncated"}


def test_what_is_no_digest_is_refused(tmp_path: Path) -> None:
    told = OneClinic(tmp_path).run("ledger", "verify", "--head", "tomorrow")
    assert (told.returncode, told.stdout) == (2, "")
    assert "--head is tomorrow" in told.stderr
