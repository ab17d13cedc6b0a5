"""Rows with everything defaulted: a test names only what matters to it."""

from datetime import UTC, datetime

from plasmawright.records.models import Clinic, Person, Role
from plasmawright.records.services.people import add_person, open_clinic

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
PASSWORD = "a long enough tube"


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
