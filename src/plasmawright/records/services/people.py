"""Clinics and the people in them."""

from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Membership, Person, Role
from plasmawright.records.services.ledger import write_entry


@transaction.atomic
def open_clinic(*, name: str, by: str, at: datetime) -> Clinic:
    """Open a clinic.

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
    *, clinic: Clinic, username: str, display_name: str, role: Role, password: str, by: str, at: datetime
) -> Person:
    """Add a new person to ``clinic`` in one role.

    Raises
    ------
    Refusal
        If a name is empty, the username is taken, or the password is too easily guessed.
    """
    if not username.strip():
        raise Refusal("username", username, "it must not be empty", "Choose a short name to sign in with.")
    if not display_name.strip():
        raise Refusal("display_name", display_name, "it must not be empty", "Give the name colleagues know.")
    if Person.objects.filter(username__iexact=username).exists():
        raise Refusal("username", username, "someone signs in with it already", "Choose another one.")
    person = Person(username=username, display_name=display_name, added_by=by, added_at=at)
    refuse_weak_password(password, person)
    person.set_password(password)
    with transaction.atomic():
        person.save()
        write_entry(clinic=clinic, about=person, became="added", by=by, at=at)
        give_role(person=person, clinic=clinic, role=role, by=by, at=at)
    return person


@transaction.atomic
def give_role(*, person: Person, clinic: Clinic, role: Role, by: str, at: datetime) -> Membership:
    """Give ``person`` one more role in ``clinic``; a role held already is left as it stands."""
    membership, is_new = Membership.objects.of(clinic).get_or_create(
        person=person, role=role, defaults={"clinic": clinic, "added_by": by, "added_at": at}
    )
    if is_new:
        write_entry(clinic=clinic, about=membership, became="given", by=by, at=at)
    return membership


def refuse_weak_password(password: str, person: Person) -> None:
    """Raise a refusal that says what a password lacks; the password itself is never repeated."""
    try:
        validate_password(password, person)
    except ValidationError as weak:
        raise Refusal("password", "not strong enough", " ".join(weak.messages).rstrip("."), "Choose another.") from weak
