"""PINs set and checked; a PIN is never kept, repeated or logged as it was typed."""

import re
from datetime import datetime, timedelta
from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Pin, PinTry, Tablet
from plasmawright.records.permissions import Action, caller_name
from plasmawright.records.selectors.people import roles_of
from plasmawright.records.services.ledger import write_entry

DIGITS = 6
FREE_FAILURES = 2
FIRST_WAIT = timedelta(seconds=30)
LONGEST_WAIT = timedelta(minutes=15)
KEYPAD_LINES = ("123", "456", "789", "147", "258", "369", "159", "357")


def easily_guessed(pin: str) -> bool:
    """Return whether six digits are among the first that somebody would try.

    Two digits alone (and so one), equal steps up or down, a half that is repeated or mirrored, three doubled digits,
    and two straight lines of a keypad.
    """
    digits = [int(digit) for digit in pin]
    first, second = pin[: DIGITS // 2], pin[DIGITS // 2 :]
    steps = {(after - before) % 10 for before, after in pairwise(digits)}
    lines = {*KEYPAD_LINES, *(line[::-1] for line in KEYPAD_LINES)}
    return (
        len(set(digits)) < 3
        or len(steps) == 1
        or second in {first, first[::-1]}
        or digits[::2] == digits[1::2]
        or {first, second} <= lines
    )


def set_pin(*, person: Person, clinic: Clinic, pin: str, by: Person | str, at: datetime) -> Pin:
    """Set the PIN of ``person`` in ``clinic``; everyone may set their own, and whoever manages people anybody's.

    Waits that wrong PINs brought about end. ``by`` is text where the demo sets it, see ``caller_name``.

    Raises
    ------
    Refusal
        If ``by`` may not, ``person`` holds no role, or the PIN is not six digits, easily guessed or another's: one
        PIN for all would let one person sign twice.
    """
    own = isinstance(by, Person) and by.pk == person.pk
    name = caller_name(by=by, clinic=clinic, action=Action.READ if own else Action.MANAGE_PEOPLE)
    _refuse_without_role(person, clinic)
    _refuse_shape(pin)
    others = Pin.objects.of(clinic).exclude(person=person)
    if easily_guessed(pin) or any(check_password(pin, other.pin_hash) for other in others):
        limit = "it must not be a row, a repetition, a pattern of the keypad, or anything others here would guess"
        raise Refusal("pin", "too easily guessed", limit, "Choose another.")
    pin_hash = make_password(pin)
    with transaction.atomic():
        kept, is_new = Pin.objects.of(clinic).update_or_create(
            person=person,
            defaults={"pin_hash": pin_hash, "set_at": at, "set_by": name},
            create_defaults={"clinic": clinic, "pin_hash": pin_hash, "set_at": at, "set_by": name},
        )
        PinTry.objects.of(clinic).filter(person=person).delete()
        write_entry(clinic=clinic, about=kept, became="set" if is_new else "set anew", by=name, at=at)
    return kept


def check_pin(*, person: Person, tablet: Tablet, pin: str, at: datetime) -> None:
    """Let ``person`` go on if ``pin`` is theirs.

    Failures slow that person on that tablet only, and no account is ever locked. Call it outside a transaction: the
    refusal that ends one would take back the count of failures.

    Raises
    ------
    Refusal
        If the PIN is wrong or not set, the person waits on this tablet or holds no role, or the tablet was revoked.
    """
    clinic = tablet.clinic
    if not Tablet.objects.of(clinic).filter(pk=tablet.pk, revoked_at=None).exists():
        raise Refusal("tablet", tablet.name, "it is not enrolled here", "Ask a manager to enrol it on the People page.")
    _refuse_without_role(person, clinic)
    _refuse_shape(pin)
    kept = Pin.objects.of(clinic).filter(person=person).first()
    if kept is None:
        raise Refusal("pin", "not set", "it must be set before it can be used", "Set it on the People page.")
    failures = _counted(person, tablet, at)
    if not check_password(pin, kept.pin_hash):
        wait = _wait_after(failures)
        remedy = f"Try again in {wait.total_seconds():.0f} s, or at once on another tablet." if wait else "Try again."
        raise Refusal("pin", "not the right one", f"it must be the one {person.display_name} set", remedy)
    PinTry.objects.of(clinic).filter(tablet=tablet, person=person).update(failures=0, wait_until=None)


def _counted(person: Person, tablet: Tablet, at: datetime) -> int:
    """Return how many failures there are should this try fail.

    A try is counted before it is looked at, so that many at once are no way around the wait.
    """
    with transaction.atomic(durable=True):
        tries, _ = (
            PinTry.objects.of(tablet.clinic)
            .select_for_update()
            .get_or_create(tablet=tablet, person=person, defaults={"clinic": tablet.clinic})
        )
        # A clock that was set back may not stretch a wait.
        if tries.wait_until is not None and at < tries.wait_until <= at + LONGEST_WAIT:
            left_s = (tries.wait_until - at).total_seconds()
            limit = "on this tablet it was wrong too often to be tried at once"
            raise Refusal("pin", "not looked at", limit, f"Wait {left_s:.0f} s, or use another enrolled tablet.")
        tries.failures += 1
        wait = _wait_after(tries.failures)
        tries.wait_until = at + wait if wait else None
        tries.save(update_fields=["failures", "wait_until"])
    return tries.failures


def _wait_after(failures: int) -> timedelta:
    """Return the wait that so many failures in a row bring; it doubles with each."""
    if failures <= FREE_FAILURES:
        return timedelta()
    doublings = min(failures - FREE_FAILURES - 1, 10)  # far past the longest wait, and no number too large to multiply
    return min(FIRST_WAIT * (1 << doublings), LONGEST_WAIT)


def _refuse_shape(pin: str) -> None:
    if not re.fullmatch(r"[0-9]{6}", pin):
        raise Refusal("pin", "not six digits", f"it must be {DIGITS} digits", "Type six digits.")


def _refuse_without_role(person: Person, clinic: Clinic) -> None:
    if not person.is_active or not roles_of(person=person, clinic=clinic):
        limit = f"they must hold a role in {clinic.name}"
        raise Refusal("person", person.display_name, limit, "Ask a manager to give them one.")
