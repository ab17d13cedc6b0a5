"""An invented clinic: nobody in it exists."""

import secrets
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from plasmawright.demo.bench import lay_out_bench
from plasmawright.demo.runs import FINISHED_BEFORE, FinishedRun, invent_intake, invent_patients
from plasmawright.demo.visits import plan_visits, visit_texts
from plasmawright.records.models import Clinic, Person, Role, Tablet
from plasmawright.records.selectors.patients import reference_of
from plasmawright.records.services.people import add_person, open_clinic
from plasmawright.records.services.pins import DIGITS, easily_guessed, set_pin
from plasmawright.records.services.tablets import enrol_tablet

NAME = "Invented Clinic"
TABLET = "bench"
PEOPLE = (
    ("pim", "Pim Preparer", Role.PREPARER),
    ("cleo", "Cleo Clinician", Role.CLINICIAN),
    ("ash", "Ash Assistant", Role.ASSISTANT),
    ("mo", "Mo Manager", Role.MANAGER),
)
UNMISTAKABLE = "abcdefghjkmnpqrstuvwxyz23456789"


@dataclass(frozen=True, kw_only=True)
class SignIn:
    """How one invented person signs in, and signs on a tablet of the clinic."""

    name: str
    role: str
    password: str
    pin: str

    def as_document(self) -> dict[str, str]:
        """Return the sign-in as ``demo --json`` prints it."""
        return asdict(self)


@dataclass(frozen=True, kw_only=True)
class Invented:
    """How to come in: each person's sign-in, and the code by which a browser becomes the bench's tablet."""

    sign_ins: list[SignIn]
    tablet_code: str


def invent_clinic(at: datetime) -> Invented:
    """Open the invented clinic; passwords, PINs and the tablet's code are new each time.

    It has one person of each role, a bench laid out, three patients with planned visits, two of whom wait with
    signed intakes, and one run that was finished and released.
    """
    clinic = open_clinic(name=NAME, by="demo", at=at)
    sign_ins, people = [], []
    for (username, display_name, role), pin in zip(PEOPLE, _pins(len(PEOPLE)), strict=True):
        password = _password()
        person = add_person(
            clinic=clinic, username=username, display_name=display_name, role=role, password=password, by="demo", at=at
        )
        set_pin(person=person, clinic=clinic, pin=pin, by="demo", at=at)
        people.append(person)
        sign_ins.append(SignIn(name=username, role=role.value, password=password, pin=pin))
    lay_out_bench(clinic, people[0], at)
    tablet, code = enrol_tablet(clinic=clinic, name=TABLET, by=people[3], at=at)
    _invent_day(clinic, people, tablet, pin=sign_ins[1].pin, at=at)
    return Invented(sign_ins=sign_ins, tablet_code=code)


def _invent_day(clinic: Clinic, people: Sequence[Person], tablet: Tablet, *, pin: str, at: datetime) -> None:
    """Add patients, plan their visits, sign the intakes of those who wait, and finish the run of another."""
    preparer, clinician = people[0], people[1]
    began = at - FINISHED_BEFORE
    patients = invent_patients(clinic, preparer, began)
    references = {name: reference_of(patient) for name, patient in zip(sorted(visit_texts()), patients, strict=True)}
    plans = plan_visits(clinic, preparer, began, references=references)
    finished = patients[-1]
    for patient in patients[:-1]:
        invent_intake(patient, by=preparer, clinician=clinician, at=at)
    intake = invent_intake(finished, by=preparer, clinician=clinician, at=began)
    run = FinishedRun(preparer=preparer, clinician=clinician, tablet=tablet, at=at)
    run.make(finished, intake, plans[max(plans)], pin=pin)


def _password() -> str:
    """Return three groups of four letters and figures that are not mistaken for each other."""
    return "-".join("".join(secrets.choice(UNMISTAKABLE) for _ in range(4)) for _ in range(3))


def _pins(count: int) -> list[str]:
    """Return as many PINs, no two the same and none that would be refused."""
    found: set[str] = set()
    while len(found) < count:
        pin = "".join(secrets.choice("0123456789") for _ in range(DIGITS))
        if not easily_guessed(pin):
            found.add(pin)
    return list(found)
