"""Background work: due once a day, done by a real worker, done again when the worker was killed over it."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.machine import Machine, machine_in, within

pytestmark = [pytest.mark.database, pytest.mark.slow]

OPENED = "from plasmawright.cli.serving import prepare_records; prepare_records()\n"
PUT_OFF = """
import sys
from plasmawright.jobs import tasks
getattr(tasks, sys.argv[1]).enqueue()
"""
LEFT_RUNNING = """
import sys
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult
from plasmawright.jobs.__main__ import installation_name
from plasmawright.jobs.tasks import verify_ledger
from plasmawright.records.data_folder import data_folder
verify_ledger.enqueue()
DBTaskResult.objects.update(
    status=TaskResultStatus.RUNNING, worker_ids=[f"{installation_name(data_folder())}-killed"] * int(sys.argv[1])
)
"""
STATES = """
from django_tasks_db.models import DBTaskResult
print(",".join(DBTaskResult.objects.order_by("enqueued_at").values_list("status", flat=True)))
"""
HEALTH = """
from plasmawright.records.selectors.health import health
told = health()
print(told.ledger_is_whole, told.ledger and told.ledger.told["entries"], told.backup and told.backup.told["file"])
"""
DUE = """
import sys
from datetime import datetime
from django_tasks_db.models import DBTaskResult
from plasmawright.jobs.schedule import enqueue_due
for at in map(datetime.fromisoformat, sys.argv[1:]):
    before = list(DBTaskResult.objects.values_list("pk", flat=True))
    enqueue_due(at, "")
    DBTaskResult.objects.exclude(pk__in=before).update(enqueued_at=at)  # it looks at the clock itself
    print(DBTaskResult.objects.count())
"""


@pytest.fixture(scope="module")
def first_machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """Return a machine with one clinic and one person, from which others are copied."""
    with machine_in(tmp_path_factory.mktemp("first")) as found:
        found.add_person("mo")
        yield found


@pytest.fixture
def machine(first_machine: Machine, tmp_path: Path) -> Iterator[Machine]:
    """Return a machine with what the first one holds."""
    with machine_in(tmp_path / "data", like=first_machine) as found:
        yield found


def ran(machine: Machine, code: str, *arguments: str) -> str:
    """Run code with the records open and return what it prints."""
    return subprocess.run(
        [sys.executable, "-c", OPENED + code, *arguments],
        env=machine.environment, capture_output=True, text=True, check=True, timeout=120,
    ).stdout.strip()  # fmt: skip


def worker(machine: Machine) -> "subprocess.Popen[str]":
    """Start a worker by itself."""
    started = subprocess.Popen([sys.executable, "-m", "plasmawright.jobs"], env=machine.environment, text=True)
    machine.started.append(started)
    return started


def test_the_worker_walks_the_ledger_makes_the_backup_and_keeps_what_came_of_it(
    machine: Machine, tmp_path: Path
) -> None:
    key = str(tmp_path / "recovery.key")
    machine.told("backup", str(tmp_path / "first.backup"), "--recovery-key-file", key)
    ran(machine, PUT_OFF, "verify_ledger")
    ran(machine, PUT_OFF, "back_up")
    worker(machine)
    assert within(30, lambda: ran(machine, STATES) == "SUCCESSFUL,SUCCESSFUL")
    (nightly,) = (machine.folder / "backups").glob("*.backup")
    assert ran(machine, HEALTH) == f"True 3 {nightly.name}"
    with machine_in(tmp_path / "bare") as bare:
        assert bare.told("restore", str(nightly), "--recovery-key-file", key)["entries"] == 3


def test_a_task_whose_worker_was_killed_is_done_by_the_next_and_given_up_after_three(
    machine: Machine,
) -> None:
    ran(machine, LEFT_RUNNING, "1")
    first = worker(machine)
    assert within(30, lambda: ran(machine, STATES) == "SUCCESSFUL")
    os.kill(first.pid, signal.SIGKILL)
    first.wait(timeout=10)
    ran(machine, LEFT_RUNNING, "3")  # both rows are now left running, killed over three times
    second = worker(machine)
    assert within(30, lambda: ran(machine, STATES) == "FAILED,FAILED")
    second.terminate()
    assert second.wait(timeout=10) == 0


def test_each_task_is_due_once_a_night_and_on_waking_after_a_night_missed(machine: Machine) -> None:
    today, tomorrow = datetime(2026, 11, 25, 12, tzinfo=UTC), datetime(2026, 11, 26, 12, tzinfo=UTC)
    times = (today, today.replace(hour=13), tomorrow.replace(hour=1), tomorrow.replace(hour=2, minute=1), tomorrow)
    counts = ran(machine, DUE, *(at.isoformat() for at in times))
    # Both at once on the first day and nothing more that day; then the backup from two and the walk from three.
    assert counts.split() == ["2", "2", "2", "3", "4"]
