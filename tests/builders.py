"""Rows with everything defaulted: a test names only what matters to it."""

import tomllib
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from plasmawright.records.models import Clinic, ParameterSet, Person, Plan, Role, Visit
from plasmawright.records.services.people import add_person, open_clinic
from plasmawright.records.services.plans import save_plan, save_visit

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
