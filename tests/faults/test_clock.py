"""The server's clock set an hour off in the middle of a run, and a machine that restarts with a wrong one."""

import io
import os
import re
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from tests.bench_server import Bench, BenchServer
from tests.machine import Machine

pytestmark = [pytest.mark.database, pytest.mark.slow]

LIBRARY = "/usr/lib/*/faketime/libfaketimeMT.so.1"
HOUR = timedelta(hours=1)
AGREES_S = 5.0
"""Requests of a busy machine take their time; an hour is far from it."""

Restarted = Callable[[str], None]


class Clocked:
    """A bench server whose wall clock a test sets while it runs; the time since boot stays true."""

    def __init__(self, machine: Machine, bench: Bench, folder: Path) -> None:
        (library,) = (str(found) for found in Path("/").glob(LIBRARY[1:]))
        self.setting = folder / "clock"
        self.set("+0")
        self.bench = bench
        self.environment = {
            **machine.environment,
            "LD_PRELOAD": library,
            "FAKETIME_TIMESTAMP_FILE": str(self.setting),
            "FAKETIME_NO_CACHE": "1",
            "FAKETIME_DONT_FAKE_MONOTONIC": "1",
        }

    def set(self, offset: str) -> None:
        """Set the clock on the wall so far from the true time."""
        self.setting.write_text(offset, encoding="ascii")

    @contextmanager
    def server(self, *, within: tuple[str, ...] = ()) -> Iterator[BenchServer]:
        """Yield a server that answers, started ``within`` a command of the machine's."""
        found = BenchServer(self.environment, self.bench, within=within)
        try:
            found.start()
            yield found
        finally:
            found.end()


@pytest.fixture
def clocked(made: tuple[Machine, Bench], machine: Machine, tmp_path: Path) -> Clocked:
    """Return a bench server whose clock can be set."""
    assert list(Path("/").glob(LIBRARY[1:])), "install Debian's faketime; .ci/run does"
    return Clocked(machine, made[1], tmp_path)


def left_s(page: str, clock: str) -> float:
    """Return what a page says is left of a clock: its deadline less the run's own time now."""
    found = re.search(rf'data-clock="{clock}" data-due="([^"]+)" data-now="([^"]+)"', page)
    assert found is not None, page
    due, now = (datetime.fromisoformat(one) for one in found.groups())
    return (due - now).total_seconds()


def spinning(server: BenchServer) -> dict[str, Any]:
    """Begin the soft spin and return where the run then stands. Any: as ``stand`` returns it."""
    entry = server.press_until("soft_spin")
    assert server.tell(entry["kind"], "soft_spin", entry["body"])[0] == 201
    return server.stand()


@pytest.mark.parametrize(("offset", "way"), [("+3600", "ahead"), ("-3600", "back")])
def test_a_clock_set_an_hour_off_moves_no_deadline_and_is_told(clocked: Clocked, offset: str, way: str) -> None:
    with clocked.server() as server:
        before, began_s = spinning(server), time.monotonic()
        page = server.ask("GET", f"/bench/{server.run_id}/")[1]
        left, read_s = left_s(page, "spin"), time.monotonic()
        assert "clock jumped" not in page
        clocked.set(offset)
        page = server.ask("GET", f"/bench/{server.run_id}/")[1]
        assert f"clock jumped 60 min {way}; the run&#x27;s own clock did not." in page
        assert abs(left - left_s(page, "spin") - (time.monotonic() - read_s)) < AGREES_S
        step, entry = server.next_press()
        assert server.tell(entry["kind"], step, entry["body"])[0] == 201
        after = server.refuse_loss()
        assert after["due"]["hold"] == before["due"]["hold"]
        at = [datetime.fromisoformat(one) for one in after["at"]]
        assert at == sorted(at), "an entry is earlier than the one before it"
        assert (at[-1] - at[-2]).total_seconds() < time.monotonic() - began_s + AGREES_S
        assert abs(after["jumps_s"][-1] - float(offset)) < AGREES_S, "the entry keeps how far the clock had jumped"
        status, record = server.ask("GET", f"/bench/{server.run_id}/record-a4.pdf")
        assert status == 200
        assert f"60 min {way}" in words_of(record)


def words_of(paper: bytes) -> str:
    """Return the words of a paper on one line."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(paper)).pages)


@pytest.mark.skipif(os.geteuid() != 0 or shutil.which("unshare") is None, reason="another start needs root, unshare")
@pytest.mark.parametrize("offset", ["-3600", "+3600"])
def test_a_machine_that_restarts_with_a_wrong_clock_holds_no_entry_earlier(
    clocked: Clocked, tmp_path: Path, offset: str
) -> None:
    with clocked.server() as server:
        before = spinning(server)
        acknowledged = server.acknowledged
        server.kill()
    clocked.set(offset)
    with clocked.server(within=another_start(tmp_path)) as server:
        server.acknowledged = acknowledged
        page = server.ask("GET", f"/bench/{server.run_id}/")[1]
        assert ("clock jumped 60 min back" in page) == (offset == "-3600")
        assert server.tell("note", "soft_spin", {"words": "power was cut"})[0] == 201
        time.sleep(1.0)
        assert server.tell("note", "soft_spin", {"words": "power is back"})[0] == 201
        after = server.refuse_loss()
    assert len(set(after["boots"])) == 2, "the machine did not start anew"
    at = [datetime.fromisoformat(one) for one in after["at"]]
    assert at == sorted(at)
    assert after["due"] == before["due"], "a deadline moved"
    assert timedelta(seconds=1) <= at[-1] - at[-2] < timedelta(seconds=AGREES_S), "it counts on by the machine's clock"
    ahead = HOUR if offset == "+3600" else timedelta()
    assert ahead <= at[-2] - at[-3] < ahead + timedelta(seconds=30), "across a restart the clock on the wall counts"


def another_start(folder: Path) -> tuple[str, ...]:
    """Return the command under which the machine has started anew: another boot id, and ten seconds up."""
    boot_id = folder / "boot_id"
    boot_id.write_text("11111111-2222-3333-4444-555555555555\n", encoding="ascii")
    since_s = int(time.clock_gettime(time.CLOCK_BOOTTIME)) - 10
    bound = f'mount --bind {boot_id} /proc/sys/kernel/random/boot_id && exec "$@"'
    return ("unshare", "--mount", "--time", "--fork", f"--boottime=-{since_s}", "sh", "-c", bound, "sh")
