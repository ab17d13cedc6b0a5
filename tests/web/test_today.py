"""Today and the wall: who comes, where each run stands, and what a tablet's question every two seconds costs."""

import re
import time
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from tests.builders import (
    bring_to,
    make_clinic,
    make_intake,
    make_patient,
    make_person,
    make_plan,
    make_run,
    make_visit,
    moment_after,
    real_answer,
    tell,
)

from plasmawright.bench.entries import Kind
from plasmawright.bench.moments import Moment
from plasmawright.bench.steps import Step
from plasmawright.records.models import Clinic, Person, Role, Run, SupplyKind
from plasmawright.records.selectors.runs import stand
from plasmawright.records.selectors.today import intakes_waiting, runs_of_day
from plasmawright.records.services.lots import add_supply, receive_lot
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.runs import open_run
from plasmawright.records.services.signatures import ReadBack, discard_run, release_run
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web import today_views
from plasmawright.web.today_board import Board

pytestmark = [pytest.mark.database, pytest.mark.django_db]

PIN = "274916"


class Room:
    """A clinic with a preparer and a clinician, and a browser signed in."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.clinic: Clinic = make_clinic()
        self.pim: Person = make_person(self.clinic)
        self.cleo: Person = make_person(self.clinic, "cleo", Role.CLINICIAN)
        client.force_login(self.pim)

    def run(self, **more: Any) -> Run:
        return make_run(self.clinic, self.pim, self.cleo, **more)

    def page(self, where: str = "/today/") -> str:
        answer = self.client.get(where)
        assert answer.status_code == 200
        return " ".join(unescape(answer.content.decode()).split())


@pytest.fixture
def room(client: Client) -> Room:
    return Room(client)


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Let the machine's clocks stand 40 minutes after the opening; call it to move them, in seconds."""
    moved = {"seconds": 60.0 * 40}

    def now() -> Moment:
        return moment_after(moved["seconds"])

    monkeypatch.setattr(today_views, "moment_now", now)
    monkeypatch.setattr(today_views, "BOARD", Board())
    return lambda seconds: moved.update(seconds=seconds)


def mark_of(page: str) -> str:
    found = re.search(r"\?seen=(\w+)", page)
    assert found is not None
    return found[1]


def test_home_and_sign_in_lead_to_today(room: Room) -> None:
    assert room.client.get("/").headers["Location"] == "/today/"
    assert 'aria-current="page">Today' in room.page()


def test_a_patient_whose_intake_is_signed_has_a_door_to_the_run_until_it_is_open(room: Room) -> None:
    patient = make_patient(room.clinic, room.pim)
    intake = make_intake(patient, room.pim, room.cleo)
    door = f"/bench/open/?patient={patient.pk}&intake={intake.pk}"
    assert door in room.page()
    assert "Ada Example" in room.page()
    plan = make_plan(make_visit(room.clinic, room.cleo), room.cleo, answer=real_answer())
    run = open_run(
        plan=plan, patient=patient, intake=intake, lots=(), solo=False, practice=False, by=room.pim,
        moment=moment_after(),
    )  # fmt: skip
    page = room.page()
    assert door not in page
    assert f"/bench/{run.pk}/" in page
    # the intake of another day brings nobody today
    assert intakes_waiting(room.clinic, moment_after(3 * 86400).at.date()) == []


def test_an_open_run_says_its_step_what_it_waits_for_and_the_minutes_on_its_shortest_clock(
    room: Room, clock: Callable[[float], None]
) -> None:
    run = room.run()
    bring_to(run, Step.SOFT_SPIN, room.pim)
    assert "waiting for the spin to be started" in room.page()
    began_s = 60.0 * (stand(run).position + 1)
    tell(run, Kind.BEGAN, room.pim)
    clock(began_s + 61.0)
    # the rotor's clock ends before the four hours of the draw: minutes at speed, and 90 s up and down, less a minute
    left = int(float(stand(run).opening.plan["soft"]["minutes"]) + 1.5 - 61 / 60)
    page = room.page()
    assert "waiting for the rotor" in page
    assert f'<span class="minutes">{left} min</span> <span class="unit">until the rotor stands</span>' in page
    assert "Soft spin" in page
    clock(began_s + 3600.0)
    assert "min over</span>" in room.page()


def test_two_people_of_one_day_who_could_be_taken_for_each_other_raise_an_alert_on_both_faces(room: Room) -> None:
    room.run()
    make_intake(make_patient(room.clinic, room.pim, name="Ada Exampel", record_number="R-2"), room.pim, room.cleo)
    for where in ("/today/", "/today/wall/"):
        assert room.page(where).count("NAME ALERT") == 2
    assert "record number ending R-2" in room.page()


def test_what_came_late_asks_to_be_looked_at(room: Room) -> None:
    run = room.run()
    bring_to(run, Step.LOAD, room.pim)
    tell(run, Kind.DONE, room.pim, step=Step.CLOTS)
    page = room.page()
    assert "1 late entry to look at" in page
    assert f"/bench/{run.pk}/history/" in page


def test_a_run_that_ended_today_says_how_and_that_nobody_witnessed_it(room: Room) -> None:
    mo = make_person(room.clinic, "mo", Role.MANAGER)
    tablet, _ = enrol_tablet(clinic=room.clinic, name="Bench", by=mo, at=moment_after().at)
    set_pin(person=room.pim, clinic=room.clinic, pin=PIN, by="test", at=moment_after().at)
    run = room.run(solo=True)
    bring_to(run, Step.RELEASE, room.pim)
    release_run(
        run=run, signer=room.pim, pin=PIN, tablet=tablet, read=ReadBack(label=True, clock=True, prp_ml=3.0),
        by=room.pim, moment=moment_after(60.0 * (stand(run).position + 3)),
    )  # fmt: skip
    page = room.page()
    assert "Released" in page
    assert "not witnessed" in page
    other = room.run(name="Zoë Other", record_number="R-9")
    bring_to(other, Step.DRAW, room.pim)
    discard_run(run=other, disposal="yellow bin", tablet=None, by=room.pim, moment=moment_after(600))
    page = room.page()
    assert "Discarded" in page
    assert page.count("not witnessed") == 1, "nothing was released of a discarded run: there is nothing to witness"


def test_practice_stands_apart_and_is_marked(room: Room) -> None:
    room.run(practice=True)
    page = room.page()
    assert "PRACTICE" in page
    assert page.index("Nobody yet") < page.index('class="apart"')
    assert "Enter from paper" not in page
    # given up or forgotten, it is gone from sight after a day; a run in earnest never is
    run = room.run()
    later = moment_after(5 * 86400).at.date()
    assert [found.pk for found in runs_of_day(room.clinic, later)] == [run.pk]


def test_the_shelf_and_the_installation_say_one_line_each(room: Room) -> None:
    at = moment_after().at
    short = add_supply(
        clinic=room.clinic, name="Blood tubes", kind=SupplyKind.BLOOD_TUBE, reorder_level=20, touches_blood=True,
        by=room.pim, at=at,
    )  # fmt: skip
    receive_lot(supply=short, number="B-1", expires_on=at.date(), quantity=12, by=room.pim, at=at)
    page = room.page()
    assert "Blood tubes: 12 left, reorder at 20." in page
    assert "Ledger: not walked yet." in page
    assert "Backup: none is made." in page


def test_nothing_is_sent_while_nothing_has_changed_and_a_new_entry_is_sent_at_once(room: Room) -> None:
    run = room.run()
    for page, question in (("/today/", "/today/rows/"), ("/today/wall/", "/today/wall/rows/")):
        seen = mark_of(room.page(page))
        answer = room.client.get(f"{question}?seen={seen}")
        assert (answer.status_code, answer.content) == (204, b"")
    tell(run, Kind.DONE, room.pim)
    answer = room.client.get(f"/today/rows/?seen={seen}")
    assert answer.status_code == 200
    assert mark_of(answer.content.decode()) != seen
    assert "tube 1 of" in answer.content.decode()


def test_a_page_whose_session_ended_is_loaded_anew_instead_of_showing_the_door_in_itself(client: Client) -> None:
    answer = client.get("/today/rows/")
    assert (answer.status_code, answer.headers["HX-Refresh"]) == (401, "true")


def test_the_wall_has_nothing_to_touch(room: Room) -> None:
    room.run()
    make_intake(make_patient(room.clinic, room.pim, name="Otto Else", record_number="R-2"), room.pim, room.cleo)
    main = room.page("/today/wall/").partition("<main")[2]
    assert "Otto Else" in main
    assert not re.search(r"<(a|button|form|input|select)\b", main)


def test_five_open_runs_cost_a_question_little(room: Room) -> None:
    runs = [room.run(name=f"{name} Invented", record_number=name) for name in ("Ada", "Bo", "Cy", "Di", "Eve")]
    for run in runs:
        bring_to(run, Step.LOOK, room.pim)
    room.page()
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert room.client.get("/today/rows/?seen=").status_code == 200
    # who asks, their clinic and roles, and the ledger's head: the day itself is worked out once for everybody
    assert len(asked) <= 6, [one["sql"][:90] for one in asked]
    tell(runs[0], Kind.DONE, room.pim)
    with CaptureQueriesContext(connection) as asked:
        assert room.client.get("/today/rows/?seen=").status_code == 200
    # the runs, the intakes, and of the one run that moved its plan and entries; nothing grows with the number of runs
    assert len(asked) <= 12, [one["sql"][:90] for one in asked]
    took_ms = []
    for _ in range(20):
        began = time.perf_counter()
        room.client.get("/today/rows/?seen=")
        took_ms.append(1e3 * (time.perf_counter() - began))
    print(f"a question with five open runs: {sorted(took_ms)[10]:.1f} ms in the middle of twenty")
    assert sorted(took_ms)[10] < 60, "15 ms are aimed at on a quiet machine; four times that on a busy one"
