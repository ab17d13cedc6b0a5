"""Clinics and the people in them.

``by`` is a person, who must manage people; or the name of a program as text, where the command line or the demo works
on the data folder itself (``permissions.caller_name``). A page always hands in a person.
"""

from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Membership, Person, Role
from plasmawright.records.permissions import Action, caller_name, refuse_unless_may
from plasmawright.records.services.ledger import write_entry

USERNAME_LETTERS_MAX, DISPLAY_NAME_LETTERS_MAX = 60, 120  # as wide as their columns


@transaction.atomic
def open_clinic(*, name: str, by: str, at: datetime) -> Clinic:
    """Open a clinic; nobody holds a role in it yet, so that ``by`` is always a program's name.

    Raises
    ------
    Refusal
        If the name is empty or taken.
    """
    if not name.strip():
        raise Refusal("clinic", name, "it must not be empty", "Give the name on your door.")
    if Clinic.objects.filter(name=name).exists():
        raise Refusal("clinic", name, "a clinic of that name is open already", "Choose another name.")
    clinic = Clinic.objects.create(name=name, opened_by=by, opened_at=at)
    write_entry(clinic=clinic, about=clinic, became="opened", by=by, at=at)
    return clinic


def add_person(
    *, clinic: Clinic, username: str, display_name: str, role: Role, password: str, by: Person | str, at: datetime
) -> Person:
    """Add a new person to ``clinic`` in one role.

    Raises
    ------
    Refusal
        If ``by`` may not, a name is empty or too long, the username is taken, or the password is too easily guessed.
    """
    name = caller_name(by=by, clinic=clinic, action=Action.MANAGE_PEOPLE)
    if not username.strip():
        raise Refusal("username", username, "it must not be empty", "Choose a short name to sign in with.")
    if not display_name.strip():
        raise Refusal("display_name", display_name, "it must not be empty", "Give the name colleagues know.")
    _refuse_long("username", username, USERNAME_LETTERS_MAX)
    _refuse_long("display_name", display_name, DISPLAY_NAME_LETTERS_MAX)
    if Person.objects.filter(username__iexact=username).exists():
        raise Refusal("username", username, "someone signs in with it already", "Choose another one.")
    person = Person(username=username, display_name=display_name, added_by=name, added_at=at)
    refuse_weak_password(password, person)
    person.set_password(password)
    with transaction.atomic():
        person.save()
        write_entry(clinic=clinic, about=person, became="added", by=name, at=at)
        give_role(person=person, clinic=clinic, role=role, by=by, at=at)
    return person


@transaction.atomic
def give_role(*, person: Person, clinic: Clinic, role: Role, by: Person | str, at: datetime) -> Membership:
    """Give ``person`` one more role in ``clinic``; a role held already is left as it stands.

    Raises
    ------
    Refusal
        If ``by`` may not.
    """
    name = caller_name(by=by, clinic=clinic, action=Action.MANAGE_PEOPLE)
    held = Membership.objects.of(clinic).filter(ended_at=None)
    membership, is_new = held.get_or_create(
        person=person, role=role, defaults={"clinic": clinic, "added_by": name, "added_at": at}
    )
    if is_new:
        write_entry(clinic=clinic, about=membership, became="given", by=name, at=at)
    return membership


@transaction.atomic
def end_role(*, person: Person, clinic: Clinic, role: Role, by: Person, at: datetime) -> None:
    """Take a role away; that it was held stays in the records and in the ledger.

    Raises
    ------
    Refusal
        If ``by`` may not, the role is not held, or nobody would be left who manages people.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.MANAGE_PEOPLE)
    # Locked, so that two managers who end each other's role at once do not both succeed.
    holders = list(Membership.objects.of(clinic).filter(role=role, ended_at=None).select_for_update())
    ended = next((membership for membership in holders if membership.person_id == person.pk), None)
    if ended is None:
        raise Refusal("role", role, f"{person.display_name} does not hold it", "Look again before you go on.")
    if role == Role.MANAGER and len(holders) == 1:
        limit = f"{person.display_name} is the only one who holds it, and a clinic needs one"
        raise Refusal("role", role, limit, "Give it to somebody else first.")
    Membership.objects.of(clinic).filter(pk=ended.pk).update(ended_at=at)
    write_entry(clinic=clinic, about=ended, became="ended", by=by.username, at=at)


def _refuse_long(field: str, given: str, letters_max: int) -> None:
    if len(given) > letters_max:
        raise Refusal(field, given, f"it must have at most {letters_max} letters", "Choose a shorter one.")


def refuse_weak_password(password: str, person: Person) -> None:
    """Raise a refusal that says what a password lacks; the password itself is never repeated."""
    try:
        validate_password(password, person)
    except ValidationError as weak:
        raise Refusal("password", "not strong enough", " ".join(weak.messages).rstrip("."), "Choose another.") from weak
