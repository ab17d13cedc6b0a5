"""A server that is killed for real, and a client that remembers what was acknowledged."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import uuid
from contextlib import suppress
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Any

from tests.installation import Installation

MAKE_BENCH = """
import json, sys
from django.test import Client
from plasmawright.records.models import Role
from plasmawright.web.moment import moment_now
from tests.builders import *
clinic = make_clinic()
pim, cleo = make_person(clinic), make_person(clinic, "cleo", Role.CLINICIAN)
names = [f"Example Number{place}" for place in range(int(sys.argv[1]))]
runs = [make_run(clinic, pim, cleo, name=name, record_number=name[-8:]) for name in names]
sessions = {}
for person in (pim, cleo):
    client = Client()
    client.force_login(person)
    sessions[person.username] = client.cookies["sessionid"].value
waiting = make_patient(clinic, pim, name="Bo Waiting", record_number="R-waiting")
intake = open_intake(patient=waiting, answers=none_apply(), by=pim, at=moment_now().at)
sign_intake(intake=intake, decision="go_on", reason="", consent=True, by=cleo, at=moment_now().at)
plan = make_plan(make_visit(clinic, cleo), cleo, answer=real_answer())
made = {"run_ids": [run.pk for run in runs], "sessions": sessions, "patient": waiting.pk, "plan": plan.pk}
print(json.dumps(made))
"""
STAND = """
import json
from plasmawright.bench.clocks import clocks_of
from plasmawright.records.models import Clinic, Run
from plasmawright.records.selectors.runs import entries, stand
from plasmawright.records.selectors.ledger import ledger_verdict
run = Run.objects.of(Clinic.objects.get()).get(pk=int(arguments[0]))
verdict, facts, kept = ledger_verdict(), stand(run), entries(run)
print(json.dumps({
    "step": facts.step, "cached": run.step, "whole": verdict.broken is None,
    "keys": [entry.key for entry in kept],
    "positions": [entry.position for entry in kept],
    "steps": [entry.step for entry in kept if entry.kind == "done" and not entry.review],
    "reviews": [entry.position for entry in kept if entry.review],
    "at": [entry.at.isoformat() for entry in kept],
    "boots": [entry.boot_id for entry in kept],
    "jumps_s": [entry.jump_s for entry in kept],
    "due": {clock.name: clock.due_at.isoformat() for clock in clocks_of(facts)},
}))
"""
CSRF = "c" * 32
ROOT = Path(__file__).resolve().parent.parent
ANSWERS_WITHIN_S = 30.0


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A clinic with open runs, two people who are signed in, and a patient who waits with a signed intake."""

    run_ids: list[int]
    sessions: dict[str, str]
    patient: int
    plan: int


def make_bench(installation: Installation, *, runs: int = 1) -> Bench:
    """Make a bench in an empty installation."""
    installation.environment["PYTHONPATH"] = str(ROOT)
    return Bench(**json.loads(installation.run(MAKE_BENCH, str(runs)).splitlines()[-1]))


class BenchServer:
    """Serves one bench on loopback, dies as by a power cut, and comes back on the same port."""

    def __init__(self, environment: dict[str, str], bench: Bench, *, within: tuple[str, ...] = ()) -> None:
        self.bench = bench
        self.run_id = bench.run_ids[0]
        self.ready = subprocess.Popen(
            [*within, sys.executable, "-m", "tests.ready"],
            env=environment, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.process: int | None = None
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        self.acknowledged: dict[str, dict[str, Any]] = {}
        self._told()

    def start(self) -> None:
        """Start the server in a process group of its own and wait until it answers."""
        self.process = int(self._ready(do="serve", port=self.port)["process"])
        deadline = time.monotonic() + ANSWERS_WITHIN_S
        while time.monotonic() < deadline:
            try:
                if self.ask("GET", "/sign-in/")[0] == 200:
                    return
            except (OSError, HTTPException):
                time.sleep(0.02)
        raise AssertionError("the server does not answer")

    def kill(self) -> None:
        """End every process of the server at once, with nothing said to it before."""
        if self.process is not None:
            os.killpg(self.process, signal.SIGKILL)
            self._ready(do="bury", process=self.process)
        self.process = None

    def end(self) -> None:
        """Kill the server, and end the process that starts it."""
        with suppress(BrokenPipeError):
            self.kill()
        self.ready.communicate(timeout=10)

    def ask(
        self,
        method: str,
        path: str,
        document: object = None,
        *,
        headers: dict[str, str] | None = None,
        who: str = "pim",
    ) -> tuple[int, Any]:
        """Return status and answer of one request; text is sent as a form. Any: JSON, text or a paper's bytes."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=30)
        form = isinstance(document, str)
        sent = {
            "Cookie": f"sessionid={self.bench.sessions[who]}; csrftoken={CSRF}",
            "X-CSRFToken": CSRF,
            "Content-Type": "application/x-www-form-urlencoded" if form else "application/json",
            **(headers or {}),
        }
        body = document if document is None or isinstance(document, str) else json.dumps(document)
        try:
            connection.request(method, path, body=body, headers=sent)
            answer = connection.getresponse()
            text = answer.read()
        finally:
            connection.close()
        kind = answer.headers.get("Content-Type", "")
        if kind.startswith("application/json"):
            return answer.status, json.loads(text)
        return answer.status, text.decode() if kind.startswith("text/") else text

    def tell(
        self,
        kind: str,
        step: str,
        body: dict[str, Any],
        *,
        key: str | None = None,
        run_id: int | None = None,
        who: str = "pim",
    ) -> tuple[int, Any]:
        """Send one entry; what is acknowledged is remembered under its key. Any: bodies differ in their fields."""
        key = key or uuid.uuid4().hex
        status, answer = self.ask(
            "POST",
            f"/api/runs/{run_id or self.run_id}/entries",
            {"kind": kind, "step": step, "body": body},
            headers={"Idempotency-Key": key},
            who=who,
        )
        if status in {201, 409}:
            self.acknowledged[key] = answer
        return status, answer

    def next_press(self) -> tuple[str, dict[str, Any]]:
        """Return where the run stands by its page, and the entry its primary key makes. Any: JSON."""
        status, answer = self.ask("GET", f"/api/runs/{self.run_id}/ahead")
        assert status == 200
        return answer["step"], answer["presses"][0]["entry"]

    def press_until(self, step: str) -> dict[str, Any]:
        """Press the primary key until the run stands at ``step``; return the entry it makes there. Any: JSON."""
        for _ in range(60):
            at, entry = self.next_press()
            if at == step:
                return entry
            self.tell(entry["kind"], at, entry["body"])
        raise AssertionError(f"the run does not come to {step}")

    def stand(self) -> dict[str, Any]:
        """Return where the run stands by the database alone. Any: words, keys and numbers."""
        found: dict[str, Any] = json.loads(self.look(STAND, str(self.run_id)))
        return found

    def refuse_loss(self) -> dict[str, Any]:
        """Fail if anything acknowledged is missing, or the run and its ledger do not agree. Any: as :meth:`stand`."""
        stood = self.stand()
        assert stood["whole"], "the ledger does not verify"
        assert stood["cached"] == stood["step"]
        assert stood["positions"] == list(range(1, len(stood["positions"]) + 1))
        assert set(self.acknowledged) <= set(stood["keys"]), "something acknowledged is missing"
        assert len(set(stood["keys"])) == len(stood["keys"])
        return stood

    def look(self, code: str, *arguments: str) -> str:
        """Return what ``code`` prints in a process of its own, which opens the database anew."""
        told = self._ready(do="look", code=code, arguments=arguments)
        assert "printed" in told, told
        return str(told["printed"])

    def _ready(self, **asked: object) -> dict[str, Any]:
        assert self.ready.stdin is not None
        self.ready.stdin.write(json.dumps(asked) + "\n")
        self.ready.stdin.flush()
        return self._told()

    def _told(self) -> dict[str, Any]:
        assert self.ready.stdout is not None
        line = self.ready.stdout.readline()
        assert line, "the process that starts the server has ended"
        found: dict[str, Any] = json.loads(line)
        return found
