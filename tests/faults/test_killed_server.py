"""A server killed as by a power cut: the run stands where it stood, and nothing acknowledged is missing."""

import os
import random
import threading
import time
import uuid
from http.client import HTTPException
from typing import Any

import pytest
from tests.bench.telling import make_opening, pressed_until
from tests.bench_server import BenchServer

from plasmawright.bench.steps import ORDER, Step, following

pytestmark = [pytest.mark.database, pytest.mark.slow]

SENT_BEFORE_KILL_S = 0.05
LONGEST_S = 0.5
WRITES_WITHIN_S = 10.0


def test_killed_at_every_step_the_run_goes_on_where_it_stood(bench_server: BenchServer) -> None:
    if "DATABASE_URL" in os.environ:
        pytest.skip("every step is killed on SQLite; PostgreSQL is killed at random moments")
    rng = random.Random(20261125)  # noqa: S311 - moments of a test
    server = bench_server
    server.start()
    for step in ORDER[:-1]:
        entry = server.press_until(step.value)
        kind, body = entry["kind"], entry["body"]
        key = uuid.uuid4().hex
        sending = threading.Thread(target=_send, args=(server, kind, step, body, key))
        sending.start()
        time.sleep(rng.uniform(0.0, SENT_BEFORE_KILL_S))
        server.kill()
        sending.join()
        stood = server.refuse_loss()
        assert stood["step"] in {step, following(step)}
        server.start()
        status, _ = server.tell(kind, step.value, body, key=key)
        assert status == 201, "sent again with its key it is kept once, whether or not it had arrived"
        stood = server.refuse_loss()
        assert stood["keys"].count(key) == 1


def _send(server: BenchServer, kind: str, step: Step, body: dict[str, Any], key: str) -> None:
    try:
        server.tell(kind, step.value, body, key=key)
    except (OSError, HTTPException):
        return  # the power was gone before it could answer


def test_killed_at_random_moments_nothing_acknowledged_is_missing(
    bench_server: BenchServer, pytestconfig: pytest.Config
) -> None:
    rng = random.Random(4)  # noqa: S311 - moments of a test
    server = bench_server
    for _ in range(pytestconfig.getoption("--kills")):
        server.start()
        before, stop = len(server.acknowledged), threading.Event()
        writers = [threading.Thread(target=_write_until, args=(server, stop, name)) for name in "ab"]
        for writer in writers:
            writer.start()
        _wait_for_more_than(before, server)
        time.sleep(rng.uniform(0.0, LONGEST_S))
        server.kill()
        stop.set()
        for writer in writers:
            writer.join()
    server.refuse_loss()
    assert len(server.acknowledged) > pytestconfig.getoption("--kills"), "hardly anything was written to be lost"


def _wait_for_more_than(before: int, server: BenchServer) -> None:
    deadline = time.monotonic() + WRITES_WITHIN_S
    while len(server.acknowledged) <= before and time.monotonic() < deadline:
        time.sleep(0.01)


def _write_until(server: BenchServer, stop: threading.Event, name: str) -> None:
    """Tell notes one after another, as two tablets would, until the power is gone."""
    while not stop.is_set():
        try:
            server.tell("note", "identify", {"words": f"{name} at {time.monotonic():.3f}"})
        except (OSError, HTTPException):
            return


def test_the_steps_killed_are_all_there_are() -> None:
    kept = pressed_until(Step.RELEASE, make_opening())
    assert {one.step for one in kept} == set(ORDER[:-1])
