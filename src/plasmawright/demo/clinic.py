"""An invented clinic: nobody in it exists."""

import secrets
from dataclasses import asdict, dataclass
from datetime import datetime

from plasmawright.demo.bench import lay_out_bench
from plasmawright.demo.visits import plan_visits
from plasmawright.records.models import Role
from plasmawright.records.services.people import add_person, open_clinic

NAME = "Invented Clinic"
PEOPLE = (
    ("pim", "Pim Preparer", Role.PREPARER),
    ("cleo", "Cleo Clinician", Role.CLINICIAN),
    ("ash", "Ash Assistant", Role.ASSISTANT),
    ("mo", "Mo Manager", Role.MANAGER),
)
UNMISTAKABLE = "abcdefghjkmnpqrstuvwxyz23456789"


@dataclass(frozen=True, kw_only=True)
class SignIn:
    """How one invented person signs in. ``pin`` stays empty until the bench asks for one."""

    name: str
    role: str
    password: str
    pin: str = ""

    def as_document(self) -> dict[str, str]:
        """Return the sign-in as ``demo --json`` prints it."""
        return asdict(self)


def invent_clinic(at: datetime) -> list[SignIn]:
    """Open the invented clinic and return its people's sign-ins; passwords are new each time.

    It has one person of each role, a bench laid out, and three visits planned by the first of them.
    """
    clinic = open_clinic(name=NAME, by="demo", at=at)
    sign_ins, people = [], []
    for username, display_name, role in PEOPLE:
        password = _password()
        person = add_person(
            clinic=clinic, username=username, display_name=display_name, role=role, password=password, by="demo", at=at
        )
        people.append(person)
        sign_ins.append(SignIn(name=username, role=role.value, password=password))
    lay_out_bench(clinic, people[0], at)
    plan_visits(clinic, people[0], at)
    return sign_ins


def _password() -> str:
    """Return three groups of four letters and figures that are not mistaken for each other."""
    return "-".join("".join(secrets.choice(UNMISTAKABLE) for _ in range(4)) for _ in range(3))
