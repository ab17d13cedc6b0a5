"""Which rows the ledger answers for, and which of their fields."""

from collections.abc import Mapping, Sequence

from django.apps import apps
from django.db import models

from plasmawright.records.chain import state_text

THE_LEDGER_ITSELF = frozenset({"aside", "chainhead", "entry"})
WITHOUT_HISTORY = frozenset({"pintry"})  # forgotten once the PIN is right, like a mistyped password
UNATTESTED: Mapping[str, frozenset[str]] = {
    "run": frozenset({"step", "positions", "ended_at"}),  # told anew from the entries, each of which has its line
    "person": frozenset({"last_login", "password"}),  # signing in changes them, and leaves no line
}


def kind_of(model: type[models.Model] | models.Model) -> str:
    """Return the name under which rows of ``model`` stand in the ledger."""
    return str(model._meta.model_name)


def attested_models() -> dict[str, type[models.Model]]:
    """Return every kind of row that may not stand without a line in the ledger."""
    found = {kind_of(model): model for model in apps.get_app_config("records").get_models()}
    return {kind: model for kind, model in found.items() if kind not in THE_LEDGER_ITSELF | WITHOUT_HISTORY}


def attested_fields(model: type[models.Model]) -> tuple[str, ...]:
    """Return the columns of a row whose digest stands in its lines."""
    left_out = UNATTESTED.get(kind_of(model), frozenset())
    columns = (field.attname for field in model._meta.concrete_fields if not field.primary_key)
    return tuple(column for column in columns if column not in left_out)


def state_of(row: models.Model, fields: Sequence[str]) -> str:
    """Return the named columns of ``row`` as one text."""
    return state_text({name: getattr(row, name) for name in fields}, fields)


def kept_row(row: models.Model) -> models.Model:
    """Return ``row`` as the database holds it, which may differ in type and time zone from what was handed in."""
    return type(row)._base_manager.get(pk=row.pk)
