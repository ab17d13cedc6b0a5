"""Every role by every action, written out by hand, and the services that refuse accordingly."""

import ast
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.builders import ANSWER, AT, PASSWORD, VISIT_TEXT, make_clinic, make_person

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import central
from plasmawright.records.models import Clinic, Person, Role, Visit
from plasmawright.records.permissions import IN_WORDS, MAY, Action, may, refuse_unless_may
from plasmawright.records.selectors.people import roles_of
from plasmawright.records.services.people import add_person, end_role, give_role
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.plans import keep_parameter_set, save_plan, save_visit
from plasmawright.records.services.shelf import add_adapter, add_rotor, add_tube_kind
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet

TABLE = """
action            preparer  clinician  assistant  manager
read              yes       yes        yes        yes
plan              yes       yes        no         yes
keep_patients     yes       yes        yes        yes
intake            yes       yes        yes        no
sign_intake       no        yes        no         no
prepare           yes       yes        yes        no
witness           yes       yes        no         no
release           yes       yes        no         no
override          no        yes        no         no
keep_shelf        yes       yes        no         yes
recall_lots       no        no         no         yes
manage_people     no        no         no         yes
change_settings   no        no         no         yes
enrol_tablets     no        no         no         yes
practice          yes       yes        yes        yes
drill             yes       yes        yes        yes
print_papers      yes       yes        yes        yes
back_enter        yes       yes        no         no
verify_ledger     no        yes        no         yes
"""
"""What the clinic decided, apart from the code. A change here is a change of who may touch a patient's blood."""


def expected() -> dict[tuple[str, str], bool]:
    """Return whether a role may do an action, by the table above."""
    head, *rows = (line.split() for line in TABLE.strip().splitlines())
    return {(role, row[0]): word == "yes" for row in rows for role, word in zip(head[1:], row[1:], strict=True)}


EXPECTED = expected()


def test_the_table_names_every_role_and_every_action_once() -> None:
    rows = [line.split()[0] for line in TABLE.strip().splitlines()[1:]]
    assert rows == [action.value for action in Action]
    assert set(EXPECTED) == {(role.value, action.value) for role in Role for action in Action}
    assert set(MAY) == set(IN_WORDS) == set(Action)


@pytest.mark.database
@pytest.mark.django_db
@pytest.mark.parametrize("role", list(Role))
def test_a_role_may_what_the_table_says_and_nothing_else(role: Role) -> None:
    clinic = make_clinic()
    person = make_person(clinic, role=role)
    found = {action.value: may(person=person, clinic=clinic, action=action) for action in Action}
    for action in Action:
        if found[action.value]:
            refuse_unless_may(person=person, clinic=clinic, action=action)
        else:
            with pytest.raises(Refusal, match=f"^role is {role}; "):
                refuse_unless_may(person=person, clinic=clinic, action=action)
    assert found == {action.value: EXPECTED[role, action] for action in Action}


Attempt = Callable[[Clinic, Person], object]


def visit_of(clinic: Clinic) -> Visit:
    """Return a visit somebody else saved."""
    other = make_person(clinic, username="other", role=Role.PREPARER)
    return save_visit(clinic=clinic, document=tomllib.loads(VISIT_TEXT), text=VISIT_TEXT, by=other, at=AT)


def plan(clinic: Clinic, by: Person) -> None:
    visit = visit_of(clinic)
    save_plan(
        visit=visit, answer=ANSWER, settled_margin_mm=None, parameter_set=None, draws=1, seed=1, model_version="test",
        by=by, at=AT,
    )  # fmt: skip


def rotor(clinic: Clinic, by: Person, name: str = "swing-out") -> object:
    return add_rotor(clinic=clinic, name=name, bottom_radius_mm=160, max_rcf=3000, places=8, by=by, at=AT)


def tube(clinic: Clinic, by: Person) -> object:
    return add_tube_kind(
        clinic=clinic, name="round", inner_diameter_mm=13, bottom="round", capacity_ml=11, graduated=False, by=by, at=AT
    )


def adapter(clinic: Clinic, by: Person) -> None:
    other = make_person(clinic, username="other", role=Role.PREPARER)
    held, kind = rotor(clinic, other), tube(clinic, other)
    add_adapter(rotor=held, tube_kind=kind, bottom_radius_mm=150, by=by, at=AT)  # type: ignore[arg-type] # as built above


def somebody(clinic: Clinic, by: Person) -> None:
    add_person(clinic=clinic, username="new", display_name="New", role=Role.ASSISTANT, password=PASSWORD, by=by, at=AT)


def one_more_role(clinic: Clinic, by: Person) -> None:
    give_role(person=by, clinic=clinic, role=Role.CLINICIAN, by=by, at=AT)


def one_role_less(clinic: Clinic, by: Person) -> None:
    other = make_person(clinic, username="other", role=Role.PREPARER)
    end_role(person=other, clinic=clinic, role=Role.PREPARER, by=by, at=AT)


def another_ones_pin(clinic: Clinic, by: Person) -> None:
    other = make_person(clinic, username="other", role=Role.PREPARER)
    set_pin(person=other, clinic=clinic, pin="274916", by=by, at=AT)


def one_tablet_less(clinic: Clinic, by: Person) -> None:
    manager = make_person(clinic, username="other", role=Role.MANAGER)
    tablet, _ = enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)
    revoke_tablet(tablet=tablet, by=by, at=AT)


ATTEMPTS: list[tuple[Action, Attempt]] = [
    (
        Action.PLAN,
        lambda clinic, by: save_visit(clinic=clinic, document=tomllib.loads(VISIT_TEXT), text=VISIT_TEXT, by=by, at=AT),
    ),
    (Action.PLAN, plan),
    (
        Action.PLAN,
        lambda clinic, by: keep_parameter_set(clinic=clinic, document=central().as_document(), by=by, at=AT),
    ),
    (Action.KEEP_SHELF, rotor),
    (Action.KEEP_SHELF, tube),
    (Action.KEEP_SHELF, adapter),
    (Action.MANAGE_PEOPLE, somebody),
    (Action.MANAGE_PEOPLE, one_more_role),
    (Action.MANAGE_PEOPLE, one_role_less),
    (Action.MANAGE_PEOPLE, another_ones_pin),
    (Action.ENROL_TABLETS, lambda clinic, by: enrol_tablet(clinic=clinic, name="hood", by=by, at=AT)),
    (Action.ENROL_TABLETS, one_tablet_less),
]


@pytest.mark.database
@pytest.mark.django_db
@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize(("action", "attempt"), ATTEMPTS)
def test_a_service_refuses_whom_the_table_refuses(role: Role, action: Action, attempt: Attempt) -> None:
    clinic = make_clinic()
    person = make_person(clinic, role=role)
    if EXPECTED[role, action]:
        attempt(clinic, person)
        return
    with pytest.raises(Refusal, match=rf"^role is {role}; it must be .* to "):
        attempt(clinic, person)


@pytest.mark.database
@pytest.mark.django_db
def test_a_role_in_one_clinic_is_none_in_another_and_the_refusal_says_who_may() -> None:
    north, south = make_clinic("North"), make_clinic("South")
    person = make_person(north, role=Role.CLINICIAN)
    with pytest.raises(Refusal) as refused:
        refuse_unless_may(person=person, clinic=south, action=Action.RELEASE)
    assert str(refused.value) == (
        "role is none here; it must be preparer or clinician to release a syringe. "
        "Ask somebody who holds it, or ask a manager for the role."
    )


@pytest.mark.database
@pytest.mark.django_db
def test_two_roles_may_what_either_may() -> None:
    clinic = make_clinic()
    person = make_person(clinic, role=Role.ASSISTANT)
    give_role(person=person, clinic=clinic, role=Role.MANAGER, by="test", at=AT)
    assert roles_of(person=person, clinic=clinic) == [Role.ASSISTANT, Role.MANAGER]
    for action in Action:
        either = EXPECTED["assistant", action] or EXPECTED["manager", action]
        assert may(person=person, clinic=clinic, action=action) == either


ASKS = frozenset({"refuse_unless_may", "caller_name"})
WHO = frozenset({"by", "written_by"})
HANDS_ON = frozenset({"runs.keep_vessel", "keeping.added"})
"""Functions that services share: who calls them has asked."""


def functions_of(folder: Path) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Yield every function of the services with the module it stands in."""
    for file in sorted(folder.glob("*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        yield from ((file.stem, node) for node in tree.body if isinstance(node, ast.FunctionDef))


def takes_a_person(function: ast.FunctionDef) -> bool:
    """Return whether the function is told which person asks."""
    arguments = (*function.args.args, *function.args.kwonlyargs)
    return any(a.arg in WHO and a.annotation is not None and "Person" in ast.unparse(a.annotation) for a in arguments)


def test_every_service_asks_whether_the_person_may(root: Path) -> None:
    functions = list(functions_of(root / "src/plasmawright/records/services"))
    called = {
        function.name: {ast.unparse(call.func) for call in ast.walk(function) if isinstance(call, ast.Call)}
        for _, function in functions
    }
    asking, before = set(ASKS), 0
    while len(asking) > before:  # also by way of another service
        before = len(asking)
        asking |= {name for name, names in called.items() if names & asking}
    services = [(room, function) for room, function in functions if not function.name.startswith("_")]
    silent = {f"{room}.{f.name}" for room, f in services if takes_a_person(f) and f.name not in asking}
    assert len(services) > 15
    assert silent - HANDS_ON == set()
