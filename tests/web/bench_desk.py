"""A clinic, a run and a browser at its bench, as the tests of the bench's pages use them."""

import json
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client
from tests.builders import (
    bring_to,
    make_clinic,
    make_person,
    make_run,
    moment_after,
)

from plasmawright.bench.moments import Moment
from plasmawright.bench.steps import Step
from plasmawright.records.models import Clinic, Person, Role, Run
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web import bench_end_views, bench_foresight_views, bench_open_views, bench_pages, bench_shown
from plasmawright.web.tablets import COOKIE

PIN, OTHER_PIN = "274916", "906152"


class Bench:
    """A clinic with a preparer and a clinician, one run, and a browser on an enrolled tablet."""

    def __init__(self, client: Client, *, solo: bool = False, practice: bool = False) -> None:
        self.client = client
        self.clinic: Clinic = make_clinic()
        self.pim: Person = make_person(self.clinic)
        self.cleo: Person = make_person(self.clinic, "cleo", Role.CLINICIAN)
        self.mo: Person = make_person(self.clinic, "mo", Role.MANAGER)
        for person, pin in ((self.pim, PIN), (self.cleo, OTHER_PIN)):
            set_pin(person=person, clinic=self.clinic, pin=pin, by="test", at=moment_after().at)
        self.run: Run = make_run(self.clinic, self.pim, self.cleo, solo=solo, practice=practice)
        client.force_login(self.pim)

    def enrol(self) -> None:
        """Make the browser an enrolled tablet."""
        _, token = enrol_tablet(clinic=self.clinic, name="Bench", by=self.mo, at=moment_after().at)
        self.client.cookies[COOKIE] = token

    def at(self, step: Step) -> "Bench":
        """Bring the run to ``step`` by its primary key alone."""
        bring_to(self.run, step, self.pim)
        return self

    def page(self, more: str = "") -> str:
        """Return the run's page, or one below it."""
        answer = self.client.get(f"/bench/{self.run.pk}/{more}")
        assert answer.status_code == 200, answer.status_code
        return answer.content.decode()

    def post(self, where: str, **form: Any) -> Any:
        """Post a form of the run's page."""
        return self.client.post(f"/bench/{self.run.pk}/{where}/", form)

    def tap(self, kind: str, body: dict[str, Any], *, key: str = "a-key-of-the-page", **typed: Any) -> Any:
        """Press a button that makes an entry."""
        entry = json.dumps({"kind": kind, "step": stand(self.run).step, "body": body})
        return self.post("entry", entry=entry, key=key, **typed)


def primary_entry(page: str) -> dict[str, Any]:
    """Return the entry that the one primary button of a page makes."""
    found = re.findall(r'data-primary data-entry="([^"]*)"', page)
    assert len(found) == 1, "a step has one primary button"
    entry: dict[str, Any] = json.loads(unescape(found[0]))
    return entry


def hold_clocks(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Let the machine's clocks stand long after the run's last entry; return what moves them, in seconds."""
    moved = {"seconds": 60.0 * 40}

    def now() -> Moment:
        return moment_after(moved["seconds"])

    for module in (bench_pages, bench_shown, bench_end_views, bench_foresight_views, bench_open_views):
        monkeypatch.setattr(module, "moment_now", now)

    def move_to(seconds: float) -> None:
        moved["seconds"] = seconds

    return move_to
