"""Every clinic, person and membership from before the ledger gets its first line, dated when it was made."""

import secrets
from collections.abc import Sequence
from datetime import UTC
from typing import Any

from django.apps.registry import Apps
from django.db import migrations, transaction
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from plasmawright.records.chain import Line, sealed, state_text, under_salt
from plasmawright.records.outside import keep_head, ledger_key, make_ledger_key

CLINIC = ("name", "opened_at", "opened_by")
PERSON = ("username", "display_name", "is_active", "added_at", "added_by")
MEMBERSHIP = ("clinic_id", "person_id", "role", "added_at", "added_by")
WORDS = "kept since before the ledger"

Row = tuple[Any, str, Sequence[str], Any, str]  # Any: a model as it was has no type of its own


def begin(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Write one line for each row, those of a person into the chain of the clinic they came to first."""
    names = ("Clinic", "Person", "Membership", "Entry", "Aside", "ChainHead")
    models: dict[str, Any] = {name: apps.get_model("records", name) for name in names}
    people_left = {person.pk: person for person in models["Person"].objects.order_by("pk")}
    for clinic in models["Clinic"].objects.order_by("pk"):
        memberships = list(models["Membership"].objects.filter(clinic=clinic).order_by("pk"))
        rows: list[Row] = [(clinic, "opened", CLINIC, clinic.opened_at, clinic.opened_by)]
        for membership in memberships:
            if person := people_left.pop(membership.person_id, None):
                rows.append((person, "added", PERSON, person.added_at, person.added_by))
            rows.append((membership, "given", MEMBERSHIP, membership.added_at, membership.added_by))
        chain(models, clinic, rows)


def chain(models: dict[str, Any], clinic: Any, rows: list[Row]) -> None:
    """Write the lines of one clinic and its head."""
    make_ledger_key()
    key, digest = ledger_key(), ""
    for seq, (row, became, fields, at, by) in enumerate(rows, start=1):
        salt = secrets.token_hex(16)
        line = Line(
            clinic_id=clinic.pk,
            seq=seq,
            previous=digest,
            at=at.astimezone(UTC).isoformat(),
            about_kind=row._meta.model_name,
            about_id=row.pk,
            became=became,
            by=under_salt(salt, by),
            words=under_salt(salt, WORDS),
            attested=tuple(fields),
            state=under_salt(salt, state_text({name: getattr(row, name) for name in fields}, fields)),
        )
        canonical = line.canonical()
        digest = sealed(key, canonical)
        entry = models["Entry"].objects.create(
            clinic=clinic, seq=seq, about_kind=line.about_kind, about_id=row.pk, canonical=canonical, digest=digest
        )
        models["Aside"].objects.create(clinic=clinic, entry=entry, salt=salt, by=by, words=WORDS)
    models["ChainHead"].objects.create(clinic=clinic, seq=len(rows), digest=digest)
    transaction.on_commit(lambda: keep_head(clinic_id=clinic.pk, seq=len(rows), digest=digest), robust=True)


class Migration(migrations.Migration):

    dependencies = [("records", "0002_visits_shelf_and_ledger")]

    operations = [migrations.RunPython(begin, migrations.RunPython.noop)]
