"""Rows with everything defaulted: a test names only what matters to it."""

import json
import tomllib
import uuid
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from plasmawright.bench.entries import Kind
from plasmawright.bench.moments import Moment
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import Step
from plasmawright.parameters.sets import drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.practice.intake import none_apply
from plasmawright.records.models import Clinic, Intake, ParameterSet, Patient, Person, Plan, Role, Run, Visit
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.intake import open_intake, sign_intake
from plasmawright.records.services.patients import add_patient
from plasmawright.records.services.people import add_person, open_clinic
from plasmawright.records.services.plans import save_plan, save_visit
from plasmawright.records.services.run_entries import Taken, Told, take_entry
from plasmawright.records.services.runs import open_run
from plasmawright.records.services.settings import set_setting

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
PASSWORD = "a long enough tube"
VISIT_TEXT = (Path(__file__).parents[1] / "docs/examples/visit.toml").read_text(encoding="utf-8")
ANSWER: Mapping[str, object] = {"chosen": {"tubes": 3, "leave_ml": 3.47}, "warnings": ["½ filled"]}
"""No answer any blood would give; enough to be kept."""


def make_clinic(name: str = "North Clinic") -> Clinic:
    """Open a clinic."""
    return open_clinic(name=name, by="test", at=AT)


def make_person(clinic: Clinic, username: str = "pim", role: Role = Role.PREPARER) -> Person:
    """Add a person to ``clinic`` who signs in with ``PASSWORD``."""
    return add_person(
        clinic=clinic,
        username=username,
        display_name=f"{username.title()} Example",
        role=role,
        password=PASSWORD,
        by="test",
        at=AT,
    )


def make_visit(clinic: Clinic, by: Person) -> Visit:
    """Save the example visit."""
    return save_visit(clinic=clinic, document=tomllib.loads(VISIT_TEXT), text=VISIT_TEXT, by=by, at=AT)


def make_plan(
    visit: Visit,
    by: Person,
    *,
    answer: Mapping[str, object] = ANSWER,
    settled_margin_mm: float | None = None,
    parameter_set: ParameterSet | None = None,
    draws: int = 16,
) -> Plan:
    """Save an answer to ``visit``."""
    return save_plan(
        visit=visit,
        answer=answer,
        settled_margin_mm=settled_margin_mm,
        parameter_set=parameter_set,
        draws=draws,
        seed=1,
        model_version="test",
        by=by,
        at=AT,
    )


@cache
def _real_answer_text() -> str:
    document = tomllib.loads(VISIT_TEXT)
    return json.dumps(choose_plan(visit_from(document), drawn(count=16, seed=1)).as_document())


def real_answer() -> dict[str, Any]:
    """Return what the example visit is answered with. Any: it is JSON."""
    answer: dict[str, Any] = json.loads(_real_answer_text())
    return answer


def make_patient(clinic: Clinic, by: Person, *, name: str = "Ada Example", record_number: str = "R-1") -> Patient:
    """Add a patient."""
    return add_patient(
        clinic=clinic,
        name=name,
        birth_on=date(1965, 5, 17),
        record_number=record_number,
        sex_for_blood_volume="female",
        weight_kg=68.0,
        height_cm=171.0,
        by=by,
        at=AT,
    )


def make_intake(patient: Patient, by: Person, clinician: Person) -> Intake:
    """Go through an intake in which nothing applies, signed by ``clinician`` to go on."""
    intake = open_intake(patient=patient, answers=none_apply(), by=by, at=AT)
    return sign_intake(intake=intake, decision="go_on", reason="", consent=True, by=clinician, at=AT)


def moment_after(seconds: float = 0.0, *, boot_id: str = "boot-one") -> Moment:
    """Return the machine's clocks ``seconds`` after ``AT``."""
    return Moment(at=AT + timedelta(seconds=seconds), boot_id=boot_id, boot_s=1000.0 + seconds)


def make_run(
    clinic: Clinic, preparer: Person, clinician: Person, *, solo: bool = False, practice: bool = False, **patient: str
) -> Run:
    """Open a run of the example visit's plan for a patient of its own."""
    if solo:
        manager = make_person(clinic, "solo-manager", Role.MANAGER)
        set_setting(clinic=clinic, key="solo", value_text="yes", by=manager, at=AT)
    visit = make_visit(clinic, clinician)
    plan = make_plan(visit, clinician, answer=real_answer())
    person = None if practice else make_patient(clinic, preparer, **patient)
    intake = None if person is None else make_intake(person, preparer, clinician)
    return open_run(
        plan=plan,
        patient=person,
        intake=intake,
        lots=(),
        solo=solo,
        practice=practice,
        by=preparer,
        moment=moment_after(),
    )


def tell(
    run: Run, kind: Kind, by: Person, *, step: Step | None = None, seconds: float | None = None, **body: Any
) -> Taken:
    """Tell one thing of a run, a minute after the one before unless said otherwise. Any: fields differ in type."""
    facts = stand(run)
    arrived = Told(kind=kind, step=step or facts.step, body=body, key=uuid.uuid4().hex, by=by, carried_by=by)
    return take_entry(
        run=run, arrived=arrived, moment=moment_after(60.0 * (facts.position + 1) if seconds is None else seconds)
    )


def bring_to(run: Run, step: Step, by: Person) -> None:
    """Press the primary key until a run stands at ``step``."""
    while (facts := stand(run)).step is not step:
        press = press_of(facts)
        assert press is not None
        tell(run, press.kind, by, **press.body)
