"""Tablets enrolled and revoked."""

import secrets
from datetime import datetime

from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Tablet
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.tablets import token_hash
from plasmawright.records.services.ledger import write_entry

TOKEN_BYTES = 32
NAME_LETTERS_MAX = 60  # as wide as its column


def enrol_tablet(*, clinic: Clinic, name: str, by: Person, at: datetime) -> tuple[Tablet, str]:
    """Make a tablet known to ``clinic``, and return it with the secret it shall hold, which is not kept.

    Raises
    ------
    Refusal
        If ``by`` may not, or the name is empty or that of another enrolled tablet.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.ENROL_TABLETS)
    name = name.strip()
    if not name:
        raise Refusal("tablet", name, "its name must not be empty", "Name it by where it stands, such as hood.")
    if len(name) > NAME_LETTERS_MAX:
        raise Refusal("tablet", name, f"its name must have at most {NAME_LETTERS_MAX} letters", "Choose a shorter one.")
    if Tablet.objects.of(clinic).filter(name=name, revoked_at=None).exists():
        raise Refusal("tablet", name, "a tablet of that name is enrolled", "Choose another name, or revoke the other.")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    tablet = Tablet(clinic=clinic, name=name, token_hash=token_hash(token), enrolled_at=at, enrolled_by=by)
    with transaction.atomic():
        tablet.save(force_insert=True)
        write_entry(clinic=clinic, about=tablet, became="enrolled", by=by.username, at=at)
    return tablet, token


@transaction.atomic
def revoke_tablet(*, tablet: Tablet, by: Person, at: datetime) -> None:
    """Forget a tablet: nobody signs in or signs by PIN on it any more.

    Raises
    ------
    Refusal
        If ``by`` may not, or it was revoked before.
    """
    refuse_unless_may(person=by, clinic=tablet.clinic, action=Action.ENROL_TABLETS)
    if not Tablet.objects.of(tablet.clinic).filter(pk=tablet.pk, revoked_at=None).update(revoked_at=at):
        raise Refusal("tablet", tablet.name, "it was revoked before", "Look again before you go on.")
    write_entry(clinic=tablet.clinic, about=tablet, became="revoked", by=by.username, at=at)
