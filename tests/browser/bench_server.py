"""A clinic with one run and the web process alone, which a test may stop, kill and start again."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PINS = {"pim": "483920", "cleo": "719346", "mo": "602815"}
OPENED = """
import json, sys, uuid
from plasmawright.cli.serving import prepare_records
prepare_records()
from tests.builders import *
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.records.services.runs import open_run
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web.moment import moment_now
step, pace = sys.argv[1], float(sys.argv[2])
clinic = make_clinic()
pim, cleo = make_person(clinic), make_person(clinic, "cleo", Role.CLINICIAN)
mo = make_person(clinic, "mo", Role.MANAGER)
for person, pin in zip((pim, cleo, mo), sys.argv[3:6]):
    set_pin(person=person, clinic=clinic, pin=pin, by=person, at=moment_now().at)
_, token = enrol_tablet(clinic=clinic, name="hood", by=mo, at=moment_now().at)
practice = pace != 1.0
patient = intake = None
if not practice:
    patient = make_patient(clinic, pim)
    intake = open_intake(patient=patient, answers=none_apply(), by=pim, at=moment_now().at)
    intake = sign_intake(
        intake=intake, decision="go_on", reason="", consent=True, by=cleo, at=moment_now().at
    )
run = open_run(
    plan=make_plan(make_visit(clinic, cleo), cleo, answer=real_answer()), patient=patient,
    intake=intake,
    lots=(), solo=False, practice=practice, pace=pace, by=pim, moment=moment_now(),
)
while (facts := stand(run)).step.value != step:
    press = press_of(facts)
    told = Told(kind=press.kind, step=facts.step, body=press.body, key=uuid.uuid4().hex, by=pim, carried_by=pim)
    take_entry(run=run, arrived=told, moment=moment_now())
from plasmawright.records.selectors.runs import vessels
print(json.dumps({"run": run.pk, "token": token, "codes": [[v.kind, v.number, v.code] for v in vessels(run)]}))
"""
TOLD = """
import json, sys
from plasmawright.cli.serving import prepare_records
prepare_records()
from plasmawright.bench.clocks import clocks_of
from plasmawright.records.models import Clinic
from plasmawright.records.selectors.runs import entries, run, stand
found = run(Clinic.objects.get(), int(sys.argv[1]))
facts = stand(found)
print(json.dumps({
    "step": facts.step.value,
    "clocks": {clock.name: clock.due_at.isoformat() for clock in clocks_of(facts)},
    "entries": [
        {"kind": e.kind, "step": e.step, "body": e.body, "by": e.written_by.username, "carried": e.carried_by.username,
         "seq": e.device_seq, "review": e.review, "at": e.at.isoformat(), "key": e.key,
         "device_at": e.device_at and e.device_at.isoformat()}
        for e in entries(found)
    ],
}))
"""


class Served:
    """One installation: its data folder, and the process that answers."""

    def __init__(self, folder: Path) -> None:
        self.environment = {
            **os.environ,
            "PLASMAWRIGHT_DATA": str(folder),
            "PYTHONPATH": str(ROOT),
            "PLASMAWRIGHT_HOSTS": "bench.test",
        }
        self.environment.pop("DATABASE_URL", None)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Return the address of the pages."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start the process that answers, and wait until it does."""
        ours, self.lifeline = os.pipe()
        module = ["plasmawright.cli.supervisor_child", "plasmawright.cli.serving_web"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", *module, "127.0.0.1", str(self.port), "http"],
            env={**self.environment, "PLASMAWRIGHT_LIFELINE": str(ours)},
            pass_fds=[ours],
            start_new_session=True,
        )
        os.close(ours)
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.1)
            else:
                return
        raise AssertionError("nobody answers")

    def signal(self, number: signal.Signals) -> None:
        """Send a signal to everything that was started here."""
        assert self.process is not None
        os.killpg(self.process.pid, number)

    def kill(self) -> None:
        """End the process as a power cut would."""
        if self.process is not None:
            self.signal(signal.SIGKILL)
            self.process.wait()
            os.close(self.lifeline)
            self.process = None

    def printed(self, code: str, *arguments: str) -> Any:
        """Return what ``code`` printed last, run beside the pages. Any: JSON."""
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments], env=self.environment, cwd=ROOT,
            capture_output=True, text=True, check=False, timeout=120,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout.strip().splitlines()[-1])


class BenchServer(Served):
    """An installation with one run."""

    def __init__(self, folder: Path, *, step: str, pace: float = 1.0) -> None:
        super().__init__(folder)
        opened = self.printed(OPENED, step, str(pace), *PINS.values())
        self.run: int = opened["run"]
        self.token: str = opened["token"]
        self.codes: dict[tuple[str, int], str] = {(kind, number): code for kind, number, code in opened["codes"]}

    @property
    def page(self) -> str:
        """Return the address of the run's page."""
        return f"{self.url}/bench/{self.run}/"

    def told(self) -> dict[str, Any]:
        """Return the run as the database holds it. Any: JSON."""
        found: dict[str, Any] = self.printed(TOLD, str(self.run))
        return found

    def tapped(self) -> list[dict[str, Any]]:
        """Return what came from a browser, in the order in which it was kept. Any: JSON."""
        return [entry for entry in self.told()["entries"] if entry["seq"] is not None]
