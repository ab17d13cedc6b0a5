"""A disk that fills while a run writes: refused with what lifts it, nothing acknowledged lost, and it goes on."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.bench_server import Bench, BenchServer
from tests.machine import Machine, machine_in

from plasmawright.records.room import KEPT_FREE_BYTES

pytestmark = [
    pytest.mark.database,
    pytest.mark.slow,
    pytest.mark.skipif(os.geteuid() != 0, reason="a small disk of its own needs root"),
]

DISK_BYTES = 6 * KEPT_FREE_BYTES
PIECE_BYTES, SLICE_BYTES = 1024 * 1024, 32 * 1024
NOTE = {"words": "x" * 2000}


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """Return a small disk."""
    folder = tmp_path / "disk"
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK_BYTES}", "tmpfs", str(folder)], check=True)
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def on_small_disk(made: tuple[Machine, Bench], disk: Path) -> Iterator[BenchServer]:
    """Return a server that answers, its data folder on the small disk."""
    with machine_in(disk / "data", like=made[0]) as machine:
        server = BenchServer(machine.environment, made[1])
        try:
            server.start()
            yield server
        finally:
            server.end()


def fill(disk: Path, *, but_bytes: int) -> Path:
    """Fill a disk but for so many bytes, and return the file that takes the room."""
    ballast = disk / "ballast"
    state = os.statvfs(disk)
    with ballast.open("wb") as writing:
        writing.write(b"\0" * max(0, state.f_bavail * state.f_frsize - but_bytes))
    return ballast


@pytest.mark.parametrize("free_bytes", [KEPT_FREE_BYTES - PIECE_BYTES, 0], ids=["nearly", "wholly"])
def test_a_full_disk_refuses_entries_and_loses_none(on_small_disk: BenchServer, disk: Path, free_bytes: int) -> None:
    server = on_small_disk
    assert server.tell("note", "identify", NOTE)[0] == 201
    ballast = fill(disk, but_bytes=free_bytes)
    for _ in range(3):
        status, refused = server.tell("note", "identify", NOTE, key="tapped-once")
        assert status == 507
        (one,) = refused
        assert (one["field"], one["remedy"].split(";")[0]) == ("disk", "Make room on the server's disk")
    assert server.ask("GET", f"/bench/{server.run_id}/")[0] in ({200} if free_bytes else {200, 507})
    server.kill()
    ballast.unlink()
    assert server.refuse_loss()["positions"] == [1]
    server.start()
    assert server.tell("note", "identify", NOTE, key="tapped-once")[0] == 201, "what a tablet kept is sent again"
    entry = server.press_until("draw")
    assert server.tell(entry["kind"], "draw", entry["body"])[0] == 201
    assert server.refuse_loss()["step"] == "draw"


def test_a_disk_that_fills_between_two_entries_loses_neither(on_small_disk: BenchServer, disk: Path) -> None:
    server, statuses = on_small_disk, []
    ballast = fill(disk, but_bytes=KEPT_FREE_BYTES + PIECE_BYTES)
    for _ in range(2 * PIECE_BYTES // SLICE_BYTES):
        statuses.append(server.tell("note", "identify", NOTE)[0])
        if statuses[-1] != 201:
            break
        with ballast.open("ab") as writing:
            writing.write(b"\0" * SLICE_BYTES)
    assert statuses[-1] == 507
    assert len(statuses) > 1, "it was full before it was filled"
    stood = server.refuse_loss()
    assert len(stood["positions"]) == len(statuses) - 1
    ballast.unlink()
    assert server.tell("note", "identify", NOTE)[0] == 201, "it goes on as soon as there is room"
    assert len(server.refuse_loss()["positions"]) == len(statuses)
