"""Two people, two tablets, many hands at one moment: one thing happens, once, and whoever lost is told so."""

import json
import threading
import uuid
from collections import Counter
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from tests.bench_server import CSRF, BenchServer

pytestmark = [pytest.mark.database, pytest.mark.slow]

STEPS = ("label", "clots", "stand", "stoppers", "load")
WRITERS, EACH = 6, 8
RUNS = """
import json
from plasmawright.records.models import Clinic, Run
from plasmawright.records.selectors.ledger import ledger_verdict
runs = Run.objects.of(Clinic.objects.get()).filter(patient_id=int(arguments[0]))
print(json.dumps({"codes": [run.code for run in runs], "whole": ledger_verdict().broken is None}))
"""


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Do everything at the same moment and return what came of each, in order. Any: acts differ."""
    together, found = threading.Barrier(len(acts)), [None] * len(acts)

    def act(place: int) -> None:
        together.wait(timeout=10)
        found[place] = acts[place]()

    threads = [threading.Thread(target=act, args=(place,)) for place in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


def test_two_people_start_one_patient_and_one_run_opens(bench_server: BenchServer) -> None:
    bench_server.start()
    asked = f"patient={bench_server.bench.patient}&plan={bench_server.bench.plan}"

    def start(who: str) -> tuple[int, str]:
        form = f"{asked}&people=two&csrfmiddlewaretoken={CSRF}"
        return bench_server.ask("POST", "/bench/open/", form, who=who)

    answers = at_once(partial(start, "pim"), partial(start, "cleo"))
    told = json.loads(bench_server.look(RUNS, str(bench_server.bench.patient)))
    assert told["whole"]
    (code,) = told["codes"]
    assert sorted(status for status, _ in answers) == [302, 422]
    refused = next(page for status, page in answers if status == 422)
    assert f"run {code} of this patient is still open" in refused
    assert "Go on with it on the Bench" in refused


def test_two_tablets_press_one_step_and_the_run_moves_once(bench_server: BenchServer) -> None:
    bench_server.start()
    for step in STEPS:
        entry = bench_server.press_until(step)
        press = partial(bench_server.tell, entry["kind"], step, entry["body"])
        answers = at_once(partial(press, who="pim"), partial(press, who="cleo"))
        assert sorted(status for status, _ in answers) == [201, 409]
        assert next(answer for status, answer in answers if status == 409)["review"] is True
    stood = bench_server.refuse_loss()
    assert set(Counter(stood["steps"]).values()) == {1}, "a step was done twice"
    assert len(stood["reviews"]) == len(STEPS)


def test_one_tap_sent_many_times_at_once_is_kept_once(bench_server: BenchServer) -> None:
    bench_server.start()
    entry, key = bench_server.press_until("clots"), uuid.uuid4().hex
    press = partial(bench_server.tell, entry["kind"], "clots", entry["body"], key=key)
    answers = at_once(*[press] * WRITERS)
    assert {status for status, _ in answers} == {201}
    assert len({json.dumps(answer) for _, answer in answers}) == 1, "a repeat gets the same answer"
    stood = bench_server.refuse_loss()
    assert stood["keys"].count(key) == 1
    assert stood["step"] == "stand"


def test_many_writers_on_one_run_leave_no_gap(bench_server: BenchServer) -> None:
    bench_server.start()

    def write(name: str, who: str) -> list[int]:
        said = [{"words": f"{name} {count}"} for count in range(EACH)]
        return [bench_server.tell("note", "identify", body, who=who)[0] for body in said]

    writers = [partial(write, name, who) for name in "abc" for who in ("pim", "cleo")]
    statuses = at_once(*writers)
    assert [status for said in statuses for status in said] == [201] * (WRITERS * EACH)
    stood = bench_server.refuse_loss()
    assert len(stood["positions"]) == WRITERS * EACH
    assert len(bench_server.acknowledged) == WRITERS * EACH
