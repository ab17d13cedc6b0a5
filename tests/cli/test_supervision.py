"""`serve` and `demo` keep their processes: one that is killed comes back, and none stays behind."""

import os
import signal
from collections.abc import Iterator
from http.client import HTTPException
from pathlib import Path
from urllib.request import urlopen

import pytest
from tests.machine import Machine, is_running, machine_in, within

from plasmawright.cli.demo_folder import keep_demo, kept_demo

pytestmark = pytest.mark.slow


@pytest.fixture
def machine(tmp_path: Path) -> Iterator[Machine]:
    """Return an installation of its own."""
    with machine_in(tmp_path / "data") as found:
        yield found


def answers(url: str) -> bool:
    """Return whether the pages answer."""
    try:
        with urlopen(url, timeout=5) as page:
            return bool(page.status == 200)
    except (OSError, HTTPException):
        return False


def family_of(number: int) -> set[int]:
    """Return a process and all that descend from it."""
    found = {number}
    for task in Path(f"/proc/{number}/task").glob("*/children"):
        for child in task.read_text(encoding="ascii").split():
            found |= family_of(int(child))
    return found


@pytest.mark.database
def test_a_killed_process_comes_back_and_an_ended_supervisor_leaves_none_behind(machine: Machine) -> None:
    process, told = machine.open("serve", "--port", "0")
    before = machine.standing()
    assert told["pid"] == process.pid == before["supervisor"]
    (answering,) = family_of(before["web"]) - {before["web"]}
    for victim in (answering, before["web"], before["worker"]):
        os.kill(victim, signal.SIGKILL)
    assert within(5, lambda: not {before["web"], before["worker"]} & set(machine.standing().values()))
    assert within(20, lambda: answers(told["url"])), "the pages came back at another address, or not at all"
    assert not is_running(answering)
    family = family_of(process.pid)
    assert len(family) == 4  # supervisor, web, the process that answers, worker
    process.terminate()
    assert process.wait(timeout=20) == 0
    assert not [number for number in family if is_running(number)]


def test_a_demo_whose_supervisor_is_killed_leaves_no_orphan_and_opens_again_with_the_same_people(
    machine: Machine,
) -> None:
    folder = str(machine.folder)
    process, told = machine.open("demo", "--data", folder)
    family = family_of(process.pid)
    process.kill()
    process.wait(timeout=20)
    assert within(3, lambda: not [number for number in family if is_running(number)]), "an orphan remains"
    again, told_again = machine.open("demo", "--data", folder)
    assert told_again["people"] == told["people"]
    assert told_again["url"] == told["url"]  # an open page finds its way back
    assert answers(told["url"])
    again.terminate()
    assert again.wait(timeout=20) == 0
    assert (machine.folder / "records.sqlite3").exists()  # one named by --data is kept


def test_a_demo_that_was_killed_before_its_clinic_was_invented_begins_anew(tmp_path: Path) -> None:
    keep_demo(tmp_path, None)
    (tmp_path / "records.sqlite3").write_bytes(b"half of a database")
    assert kept_demo(tmp_path) is None
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_no_demo_made_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "demo.json").write_text("{torn", encoding="utf-8")
    assert kept_demo(tmp_path) is None
    assert [file.name for file in tmp_path.iterdir()] == ["demo.json"]
