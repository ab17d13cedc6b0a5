"""What every service of the shelf does to a row: refuse a name that is empty or taken, keep it, write its line."""

from datetime import datetime

from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person
from plasmawright.records.scoped import Row, ScopedManager
from plasmawright.records.services.ledger import write_entry

NAME_CHARACTERS_MAX = 60
WHY_CHARACTERS_MAX = 200


def words_of(text: str, *, field: str, remedy: str, characters_max: int = NAME_CHARACTERS_MAX) -> str:
    """Return ``text`` without blanks around it.

    Raises
    ------
    Refusal
        If nothing is left, or more than there is room for.
    """
    kept = text.strip()
    if not kept:
        raise Refusal(field, text, "it must not be empty", remedy)
    if len(kept) > characters_max:
        raise Refusal(field, kept, f"it must have at most {characters_max} characters", "Say it shorter.")
    return kept


def refuse_name(manager: ScopedManager[Row], clinic: Clinic, name: str, *, field: str) -> None:
    """Refuse a name that is empty, too long, or stands on the shelf already."""
    words_of(name, field=field, remedy="Give the name written on it.")
    if manager.of(clinic).filter(name=name).exists():
        raise Refusal(field, name, "it stands on the shelf already", "Choose another name.")


def added(row: Row, clinic: Clinic, *, by: Person, at: datetime, became: str = "added", words: str = "") -> Row:
    """Keep a new row with its line in the ledger."""
    with transaction.atomic():
        row.save(force_insert=True)
        write_entry(clinic=clinic, about=row, became=became, by=by.username, at=at, words=words)
    return row
