"""Who may do what in a clinic: each role as little as its work needs."""

from collections.abc import Mapping
from enum import StrEnum

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Role
from plasmawright.records.selectors.people import roles_of


class Action(StrEnum):
    """Something done in a clinic that not everybody may do."""

    READ = "read"
    PLAN = "plan"
    KEEP_PATIENTS = "keep_patients"
    INTAKE = "intake"
    SIGN_INTAKE = "sign_intake"
    PREPARE = "prepare"
    WITNESS = "witness"
    RELEASE = "release"
    OVERRIDE = "override"
    KEEP_SHELF = "keep_shelf"
    RECALL_LOTS = "recall_lots"
    MANAGE_PEOPLE = "manage_people"
    CHANGE_SETTINGS = "change_settings"
    ENROL_TABLETS = "enrol_tablets"
    PRACTICE = "practice"
    DRILL = "drill"
    PRINT_PAPERS = "print_papers"
    BACK_ENTER = "back_enter"
    VERIFY_LEDGER = "verify_ledger"


EVERYBODY = frozenset(Role)
AT_THE_BENCH = frozenset({Role.PREPARER, Role.CLINICIAN})
NOT_ASSISTANTS = frozenset({Role.PREPARER, Role.CLINICIAN, Role.MANAGER})
CLINICIANS = frozenset({Role.CLINICIAN})
MANAGERS = frozenset({Role.MANAGER})

MAY: Mapping[Action, frozenset[Role]] = {
    Action.READ: EVERYBODY,
    Action.PLAN: NOT_ASSISTANTS,
    Action.KEEP_PATIENTS: EVERYBODY,
    Action.INTAKE: frozenset({Role.PREPARER, Role.CLINICIAN, Role.ASSISTANT}),
    Action.SIGN_INTAKE: CLINICIANS,
    Action.PREPARE: frozenset({Role.PREPARER, Role.CLINICIAN, Role.ASSISTANT}),
    Action.WITNESS: AT_THE_BENCH,
    Action.RELEASE: AT_THE_BENCH,
    Action.OVERRIDE: CLINICIANS,
    Action.KEEP_SHELF: NOT_ASSISTANTS,
    Action.RECALL_LOTS: MANAGERS,
    Action.MANAGE_PEOPLE: MANAGERS,
    Action.CHANGE_SETTINGS: MANAGERS,
    Action.ENROL_TABLETS: MANAGERS,
    Action.PRACTICE: EVERYBODY,
    Action.DRILL: EVERYBODY,
    Action.PRINT_PAPERS: EVERYBODY,
    Action.BACK_ENTER: AT_THE_BENCH,
    Action.VERIFY_LEDGER: frozenset({Role.CLINICIAN, Role.MANAGER}),
}
"""The roles that may, for each action; whoever holds several roles may what any of them may."""

IN_WORDS: Mapping[Action, str] = {
    Action.READ: "read the records",
    Action.PLAN: "make plans",
    Action.KEEP_PATIENTS: "keep the list of patients",
    Action.INTAKE: "ask the questions of an intake",
    Action.SIGN_INTAKE: "sign an intake",
    Action.PREPARE: "prepare a run",
    Action.WITNESS: "sign as the second person",
    Action.RELEASE: "release a syringe",
    Action.OVERRIDE: "release past a limit, with a reason",
    Action.KEEP_SHELF: "keep the shelf",
    Action.RECALL_LOTS: "recall a lot",
    Action.MANAGE_PEOPLE: "add people and give roles",
    Action.CHANGE_SETTINGS: "change the clinic's settings",
    Action.ENROL_TABLETS: "enrol and revoke tablets",
    Action.PRACTICE: "do a practice run",
    Action.DRILL: "do the stop-line drill",
    Action.PRINT_PAPERS: "print papers",
    Action.BACK_ENTER: "enter later what was written on paper",
    Action.VERIFY_LEDGER: "verify the ledger",
}
"""Each action as the end of "they may …"."""


def may(*, person: Person, clinic: Clinic, action: Action) -> bool:
    """Return whether a role that ``person`` holds in ``clinic`` lets them do ``action``."""
    return not MAY[action].isdisjoint(roles_of(person=person, clinic=clinic))


def refuse_unless_may(*, person: Person, clinic: Clinic, action: Action) -> None:
    """Let whoever may do ``action`` go on.

    Raises
    ------
    Refusal
        If none of the roles that ``person`` holds in ``clinic`` lets them.
    """
    if may(person=person, clinic=clinic, action=action):
        return
    held = " and ".join(roles_of(person=person, clinic=clinic)) or "none here"
    able = " or ".join(role for role in Role if role in MAY[action])
    limit = f"it must be {able} to {IN_WORDS[action]}"
    raise Refusal("role", held, limit, "Ask somebody who holds it, or ask a manager for the role.")


def caller_name(*, by: Person | str, clinic: Clinic, action: Action) -> str:
    """Return the name that the ledger keeps of ``by``, once they may do ``action``.

    Parameters
    ----------
    by
        A person, whose roles decide; or a program's name as text, where somebody works on the data folder itself, as
        the command line and the demo do. The folder's owner needs no role: the first person could not be added else.

    Raises
    ------
    Refusal
        If a person may not.
    """
    if isinstance(by, str):
        return by
    refuse_unless_may(person=by, clinic=clinic, action=action)
    return by.username
